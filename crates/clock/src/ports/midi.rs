//! Ports of the system's MIDI service, by name.

use super::feed::Feed;
use super::quiet::quietly;
use super::{PortError, PortList, PortSpec};
use crate::machine::Sent;
use crate::monotonic::now;
use crate::urgency::{Role, hurry};
use midir::{Ignore, MidiIO, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use std::sync::{Arc, Mutex, PoisonError};

/// What the service shows us as.
const CLIENT: &str = "chaconne";

/// The MIDI ports that the system offers now. An error where its MIDI service does not answer.
pub fn list_ports() -> Result<PortList, PortError> {
    quietly(|| {
        let input = MidiInput::new(CLIENT).map_err(|_| PortError::NoService)?;
        let output = MidiOutput::new(CLIENT).map_err(|_| PortError::NoService)?;
        let (inputs, outputs) = (names(&input).1, names(&output).1);
        drop((input, output));
        Ok(PortList { inputs, outputs })
    })
}

fn names<M: MidiIO>(midi: &M) -> (Vec<M::Port>, Vec<String>) {
    let named = |port: M::Port| midi.port_name(&port).ok().map(|name| (port, name));
    midi.ports().into_iter().filter_map(named).unzip()
}

/// The port of that name, else the only one that has it in its name.
fn pick(side: &'static str, name: &str, names: &[String]) -> Result<usize, PortError> {
    if let Some(exact) = names.iter().position(|have| have == name) {
        return Ok(exact);
    }
    let fits: Vec<usize> = (0..names.len()).filter(|&index| names[index].contains(name)).collect();
    let list = |indexes: &[usize]| {
        let quoted: Vec<String> = indexes.iter().map(|&i| format!("'{}'", names[i])).collect();
        if quoted.is_empty() { "none at all".to_string() } else { quoted.join(", ") }
    };
    let name = name.to_string();
    match fits.as_slice() {
        [only] => Ok(*only),
        [] => {
            let all: Vec<usize> = (0..names.len()).collect();
            Err(PortError::Unknown { side, name, have: list(&all) })
        }
        _ => Err(PortError::Ambiguous { side, name, fits: list(&fits) }),
    }
}

fn refused(name: &str, why: impl std::fmt::Display) -> PortError {
    let spec = PortSpec::Midi(name.to_string()).to_string();
    PortError::Open { spec, why: format!("the MIDI service says: {why}") }
}

/// An output of the service.
pub(crate) struct MidiOut(Option<MidiOutputConnection>);

impl MidiOut {
    pub fn open(name: &str) -> Result<MidiOut, PortError> {
        quietly(|| {
            let midi = MidiOutput::new(CLIENT).map_err(|_| PortError::NoService)?;
            let (ports, names) = names(&midi);
            let index = pick("output", name, &names)?;
            let connection = midi.connect(&ports[index], "out");
            connection
                .map(|connection| MidiOut(Some(connection)))
                .map_err(|error| refused(name, error.kind()))
        })
    }

    pub fn send(&mut self, bytes: &[u8]) -> Sent {
        match self.0.as_mut().map(|connection| connection.send(bytes)) {
            Some(Ok(())) => Sent::Done,
            _ => Sent::Lost,
        }
    }
}

impl Drop for MidiOut {
    fn drop(&mut self) {
        let connection = self.0.take();
        quietly(|| drop(connection));
    }
}

/// An input of the service. What it feeds is shared with whoever looks after active sensing.
pub(crate) struct MidiIn(Option<MidiInputConnection<Arc<Mutex<Feed>>>>);

impl MidiIn {
    pub fn open(name: &str, feed: Arc<Mutex<Feed>>) -> Result<MidiIn, PortError> {
        quietly(|| {
            let mut midi = MidiInput::new(CLIENT).map_err(|_| PortError::NoService)?;
            midi.ignore(Ignore::None);
            let (ports, names) = names(&midi);
            let index = pick("input", name, &names)?;
            let mut hurried = false;
            let heard = move |_: u64, bytes: &[u8], feed: &mut Arc<Mutex<Feed>>| {
                let stamp = now();
                if !std::mem::replace(&mut hurried, true) {
                    // The thread is the service's own.
                    hurry(Role::Input);
                }
                feed.lock().unwrap_or_else(PoisonError::into_inner).bytes(stamp, bytes);
            };
            let connection = midi.connect(&ports[index], "in", heard, feed);
            connection
                .map(|connection| MidiIn(Some(connection)))
                .map_err(|error| refused(name, error.kind()))
        })
    }
}

impl Drop for MidiIn {
    fn drop(&mut self) {
        let connection = self.0.take();
        quietly(|| drop(connection));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pick_of(name: &str, names: &[&str]) -> Result<usize, String> {
        let names: Vec<String> = names.iter().map(|name| name.to_string()).collect();
        pick("output", name, &names).map_err(|error| error.to_string())
    }

    #[test]
    fn a_port_is_found_by_its_name_or_by_a_part_only_it_has() {
        let names = ["Pads 1", "Pads 10", "Desk"];
        assert_eq!(pick_of("Pads 1", &names), Ok(0));
        assert_eq!(pick_of("10", &names), Ok(1));
        assert_eq!(pick_of("esk", &names), Ok(2));
    }

    #[test]
    fn a_name_that_fits_none_or_several_is_told_what_there_is() {
        assert_eq!(
            pick_of("Pads", &["Pads 1", "Pads 10", "Desk"]).unwrap_err(),
            "more than one MIDI output has 'Pads' in its name: 'Pads 1', 'Pads 10'; \
             give more of the name"
        );
        assert_eq!(
            pick_of("Organ", &["Desk"]).unwrap_err(),
            "there is no MIDI output called 'Organ'; there is 'Desk'"
        );
        assert_eq!(
            pick_of("Organ", &[]).unwrap_err(),
            "there is no MIDI output called 'Organ'; there is none at all"
        );
    }
}
