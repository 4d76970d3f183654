//! `ports`: what `--out` and `--in` can name.

use crate::args::Wires;
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{
    Out, PortList, PortReport, PortState, RigConfig, Spin, list_ports, raw_devices,
};
use std::path::PathBuf;

/// Lists the ports there are. That the system has no MIDI service is a message: raw devices, byte
/// streams and `none` are there all the same.
pub fn ports() -> Result<Ended, Failure> {
    let list = match list_ports() {
        Ok(list) => list,
        Err(error) => {
            say::message(&error.to_string());
            PortList::default()
        }
    };
    say::answer(&table(&list, &raw_devices()))?;
    Ok(Ended::Ok)
}

/// What there is to say about a port's state, in one clause; nothing where it is as it should be.
pub fn trouble(port: &PortReport) -> Option<String> {
    match port.state {
        _ if !port.failure.is_empty() => Some(port.failure.clone()),
        PortState::Open | PortState::Silent => None,
        PortState::Waiting => Some("nobody is at the other end yet".to_string()),
        PortState::Lost => Some("it is gone".to_string()),
    }
}

/// Tells of ports whose state has changed since the last look.
#[derive(Debug, Default)]
pub struct PortWatch {
    told: Vec<Option<String>>,
}

impl PortWatch {
    /// The sentences there are to say now. What the notices at the start said is not said again.
    pub fn look(&mut self, ports: &[PortReport]) -> Vec<String> {
        self.told.resize(ports.len(), None);
        let mut news = Vec::new();
        for (port, told) in ports.iter().zip(&mut self.told) {
            let now = trouble(port).filter(|_| port.failure.is_empty());
            match (&*told, &now) {
                (before, now) if before == now => {}
                (_, Some(trouble)) => news.push(format!("{}: {trouble}", port.name)),
                (_, None) => news.push(format!("{}: it is there", port.name)),
            }
            *told = now;
        }
        news
    }
}

fn table(list: &PortList, raw: &[PathBuf]) -> String {
    let mut text = String::new();
    let mut line = |way: &str, spec: String| text.push_str(&format!("{way:<8}{spec}\n"));
    list.inputs.iter().for_each(|name| line("in", format!("midi:{name}")));
    list.outputs.iter().for_each(|name| line("out", format!("midi:{name}")));
    raw.iter().for_each(|path| line("in out", format!("bytes:{}", path.display())));
    line("in out", "none".to_string());
    text
}

/// What the rig is started with.
pub fn rig_config(wires: Wires, path: Option<PathBuf>) -> RigConfig {
    let clock = |out: &Out| Some(out.clock.unwrap_or(wires.clock));
    let outs = wires.out.into_iter().map(|out| Out { clock: clock(&out), ..out }).collect();
    let spin = if wires.no_spin { Spin::NEVER } else { Spin::default() };
    RigConfig { outs, ins: wires.inputs, path, spin, ..RigConfig::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_goes_and_comes_is_told_once_each_time() {
        let mut port = PortReport {
            name: "bytes:wire".to_string(),
            direction: chaconne_rig::Direction::Out,
            state: PortState::Waiting,
            sent: 0,
            dropped: 0,
            failure: String::new(),
        };
        let mut watch = PortWatch::default();
        let mut look = |state| {
            port.state = state;
            watch.look(std::slice::from_ref(&port)).join("; ")
        };
        assert_eq!(look(PortState::Waiting), "bytes:wire: nobody is at the other end yet");
        assert_eq!(look(PortState::Waiting), "");
        assert_eq!(look(PortState::Open), "bytes:wire: it is there");
        assert_eq!(look(PortState::Lost), "bytes:wire: it is gone");
        assert_eq!(look(PortState::Lost), "");
    }

    #[test]
    fn what_is_listed_can_be_given_back_as_it_stands() {
        let list = PortList { inputs: vec!["Keys".into()], outputs: vec!["Desk: one".into()] };
        let text = table(&list, &[PathBuf::from("/dev/snd/midiC1D0")]);
        assert_eq!(
            text,
            "in      midi:Keys\nout     midi:Desk: one\nin out  bytes:/dev/snd/midiC1D0\nin out  none\n"
        );
        for line in text.lines() {
            assert!(line[8..].parse::<Out>().is_ok(), "{line}");
        }
    }
}
