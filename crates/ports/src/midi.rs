//! Ports of the system's MIDI service, by name.
//!
//! The service does not report when a port goes away, and an older client still lists ports that
//! are gone, so every look asks the service again with a new client.

use super::feed::Feed;
use super::names::{ambiguity, find_again, pick};
use super::quiet::quietly;
use super::{PortError, PortList, PortSpec};
use crate::monotonic::now;
use crate::urgency::{Role, raise_priority};
use chaconne_clock::Sent;
use midir::{Ignore, MidiIO, MidiInput, MidiInputConnection, MidiOutput, MidiOutputConnection};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Our client name in the service.
const CLIENT: &str = "chaconne";
/// How often a port is looked for: 400 ms.
const LOOK: Duration = Duration::from_millis(400);

/// The MIDI ports that the system offers now.
///
/// # Errors
/// If the system's MIDI service does not answer.
pub fn list_ports() -> Result<PortList, PortError> {
    quietly(|| {
        let input = MidiInput::new(CLIENT).map_err(|_| PortError::NoService)?;
        let output = MidiOutput::new(CLIENT).map_err(|_| PortError::NoService)?;
        let (inputs, outputs) = (names(&input).1, names(&output).1);
        drop((input, output));
        Ok(PortList { inputs, outputs })
    })
}

/// The same list, at most 200 ms old, so that several ports can share one.
fn list_recent() -> Result<PortList, PortError> {
    type Recent = Option<(Instant, Result<PortList, PortError>)>;
    static RECENT: Mutex<Recent> = Mutex::new(None);
    let mut recent = RECENT.lock().unwrap_or_else(PoisonError::into_inner);
    match &*recent {
        Some((when, list)) if when.elapsed() < LOOK / 2 => list.clone(),
        _ => recent.insert((Instant::now(), list_ports())).1.clone(),
    }
}

fn names<M: MidiIO>(midi: &M) -> (Vec<M::Port>, Vec<String>) {
    let named = |port: M::Port| midi.port_name(&port).ok().map(|name| (port, name));
    midi.ports().into_iter().filter_map(named).unzip()
}

fn refused(name: &str, why: impl fmt::Display) -> PortError {
    let spec = PortSpec::Midi(name.to_string()).to_string();
    PortError::Open { spec, why: format!("the MIDI service reports: {why}") }
}

/// The direction of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Direction {
    /// We receive from it.
    In,
    /// We send to it.
    Out,
}

impl Direction {
    fn kind(self) -> &'static str {
        match self {
            Direction::In => "MIDI input",
            Direction::Out => "MIDI output",
        }
    }

    fn of(self, list: PortList) -> Vec<String> {
        match self {
            Direction::In => list.inputs,
            Direction::Out => list.outputs,
        }
    }
}

/// A port we want: its name, and when to look for it.
#[derive(Debug)]
pub(crate) struct WantedPort {
    direction: Direction,
    /// The name that was asked for.
    name: String,
    /// The port's full name, once it has been found.
    full: Option<String>,
    /// When to look for it next.
    next: Instant,
    /// Why the port is not connected although some ports match its name; otherwise empty.
    ambiguity: String,
}

impl WantedPort {
    pub fn new(direction: Direction, name: &str) -> WantedPort {
        let (next, ambiguity) = (Instant::now(), String::new());
        WantedPort { direction, name: name.to_string(), full: None, next, ambiguity }
    }

    /// Why the port was not connected at the last look although some ports match its name, in one
    /// sentence; otherwise empty.
    pub fn ambiguity(&self) -> &str {
        &self.ambiguity
    }

    /// Whether the port exists, if it is time to look. An open port must still have the same
    /// number: a device that came back has to be opened again.
    pub fn look(&mut self, is_open: bool) -> Option<bool> {
        if Instant::now() < self.next {
            return None;
        }
        self.next = Instant::now() + LOOK;
        let names = list_recent().map_or(Vec::new(), |list| self.direction.of(list));
        Some(self.is_among(is_open, &names))
    }

    fn is_among(&mut self, is_open: bool, names: &[String]) -> bool {
        self.ambiguity.clear();
        if let Some(full) = self.full.as_ref().filter(|_| is_open) {
            return names.contains(full);
        }
        let found = self.find(names);
        self.ambiguity = found.as_ref().err().map_or(String::new(), ambiguity);
        found.is_ok()
    }

    fn find(&self, names: &[String]) -> Result<usize, PortError> {
        let again = self.full.as_deref().and_then(|full| find_again(full, names));
        again.map_or_else(|| pick(self.direction.kind(), &self.name, names), Ok)
    }

    /// Opens it for sending; returns [`PortError::Unknown`] if it does not exist.
    pub fn open_out(&mut self) -> Result<MidiOut, PortError> {
        quietly(|| {
            let midi = MidiOutput::new(CLIENT).map_err(|_| PortError::NoService)?;
            let (ports, names) = names(&midi);
            let index = self.find(&names)?;
            let connection = midi.connect(&ports[index], "out");
            let connection = connection.map_err(|error| refused(&self.name, error.kind()))?;
            self.full = Some(names[index].clone());
            Ok(MidiOut(Some(connection)))
        })
    }

    /// Opens it for receiving; returns [`PortError::Unknown`] if it does not exist.
    pub fn open_in(&mut self, feed: Arc<Mutex<Feed>>) -> Result<MidiIn, PortError> {
        quietly(|| {
            let mut midi = MidiInput::new(CLIENT).map_err(|_| PortError::NoService)?;
            midi.ignore(Ignore::None);
            let (ports, names) = names(&midi);
            let index = self.find(&names)?;
            let mut has_priority = false;
            let heard = move |_: u64, bytes: &[u8], feed: &mut Arc<Mutex<Feed>>| {
                let stamp = now();
                if !std::mem::replace(&mut has_priority, true) {
                    // The MIDI service starts this thread, so its priority is raised from inside.
                    raise_priority(Role::Input);
                }
                feed.lock().unwrap_or_else(PoisonError::into_inner).bytes(stamp, bytes);
            };
            let connection = midi.connect(&ports[index], "in", heard, feed);
            let connection = connection.map_err(|error| refused(&self.name, error.kind()))?;
            self.full = Some(names[index].clone());
            Ok(MidiIn(Some(connection)))
        })
    }
}

/// An output of the service.
pub(crate) struct MidiOut(Option<MidiOutputConnection>);

impl MidiOut {
    pub fn send(&mut self, bytes: &[u8]) -> Sent {
        match self.0.as_mut().map(|connection| connection.send(bytes)) {
            Some(Ok(())) => Sent::Done,
            _ => Sent::Lost,
        }
    }
}

impl fmt::Debug for MidiOut {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("MidiOut").finish_non_exhaustive()
    }
}

impl Drop for MidiOut {
    fn drop(&mut self) {
        let connection = self.0.take();
        quietly(|| drop(connection));
    }
}

/// An input of the service. Its feed is shared with the thread that checks active sensing.
pub(crate) struct MidiIn(Option<MidiInputConnection<Arc<Mutex<Feed>>>>);

impl Drop for MidiIn {
    fn drop(&mut self) {
        let connection = self.0.take();
        quietly(|| drop(connection));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_is_found_while_it_is_listed_and_again_under_another_number() {
        let list = |names: &[&str]| names.iter().map(|name| name.to_string()).collect::<Vec<_>>();
        let mut wanted = WantedPort::new(Direction::Out, "Desk");
        assert!(!wanted.is_among(false, &list(&["Pads:Pads 20:0"])));
        assert!(wanted.is_among(false, &list(&["Pads:Pads 20:0", "Desk:Desk 24:0"])));
        wanted.full = Some("Desk:Desk 24:0".to_string());
        let back = list(&["Pads:Pads 20:0", "Desk:Desk 28:0"]);
        // The device was unplugged and plugged in again between two looks: the old connection is dead.
        assert!(!wanted.is_among(true, &back));
        assert!(wanted.is_among(false, &back));
        assert_eq!(wanted.find(&back), Ok(1));
        assert!(!wanted.is_among(false, &list(&["Pads:Pads 20:0"])));
    }

    #[test]
    fn a_name_that_later_matches_several_ports_lists_them() {
        let list = |names: &[&str]| names.iter().map(|name| name.to_string()).collect::<Vec<_>>();
        let mut wanted = WantedPort::new(Direction::Out, "Desk");
        assert!(!wanted.is_among(false, &list(&["Pads:Pads 20:0"])));
        assert_eq!(wanted.ambiguity(), "", "no port matches yet");
        let twins = ["Desk:Desk 1 24:0", "Desk:Desk 2 24:1"];
        assert!(!wanted.is_among(false, &list(&twins)));
        assert_eq!(
            wanted.ambiguity(),
            "more than one MIDI output has 'Desk' in its name: 'Desk:Desk 1 24:0', \
             'Desk:Desk 2 24:1'; type more of the name"
        );
        assert!(wanted.is_among(false, &list(&twins[..1])));
        assert_eq!(wanted.ambiguity(), "");
        // An open port stays the right one, whatever other ports appear.
        wanted.full = Some(twins[0].to_string());
        assert!(wanted.is_among(true, &list(&twins)));
        assert_eq!(wanted.ambiguity(), "");
    }
}
