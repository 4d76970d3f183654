//! Ports by name: what was asked for, what could be opened, and how it is doing.
//!
//! In: the ports asked for. Out: open ports, a sentence for each that is silent instead, and
//! reports. A port that cannot be opened keeps its place and its name: tracks that name it are
//! silent, the others play.

use chaconne_clock::{Output, PortError, PortSpec, PortState, open_output};
use chaconne_engine::PortIx;
use std::path::PathBuf;
use std::str::FromStr;

/// An output, as it was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Out {
    /// The name by which tracks name it; empty for the one that serves tracks naming none.
    pub name: String,
    /// Which port it is.
    pub spec: PortSpec,
    /// Whether clock pulses, start and stop go to it.
    pub clock: bool,
}

impl FromStr for Out {
    type Err = PortError;

    /// Reads `[NAME=]SPEC`.
    fn from_str(text: &str) -> Result<Out, PortError> {
        let plain = |spec| Out { name: String::new(), spec, clock: false };
        match text.split_once('=') {
            Some((name, spec)) if !name.contains(':') && !name.is_empty() => {
                Ok(Out { name: name.to_string(), ..plain(spec.parse()?) })
            }
            _ => Ok(plain(text.parse()?)),
        }
    }
}

/// The raw MIDI devices of this machine, which `bytes:` can name, in order of name.
pub fn raw_devices() -> Vec<PathBuf> {
    let Ok(folder) = std::fs::read_dir("/dev/snd") else { return Vec::new() };
    let paths = folder.filter_map(|entry| Some(entry.ok()?.path()));
    let is_midi = |path: &PathBuf| {
        path.file_name().is_some_and(|name| name.to_string_lossy().starts_with("midiC"))
    };
    let mut devices: Vec<PathBuf> = paths.filter(is_midi).collect();
    devices.sort();
    devices
}

/// Which way a port goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// What is played comes in here.
    In,
    /// What is to sound goes out here.
    Out,
}

/// How a port is doing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortReport {
    /// What it is called: its name where it has one, else its spec.
    pub name: String,
    /// Which way it goes.
    pub direction: Direction,
    /// Whether it is there. [`PortState::Silent`] where none was asked for, too.
    pub state: PortState,
    /// Messages sent; 0 for an input.
    pub sent: u64,
    /// Messages dropped because it was full or gone; for an input, bytes that made no message.
    pub dropped: u64,
    /// Why it could not be opened, in one sentence; else empty.
    pub failure: String,
}

/// The outputs of a run: what was asked for, and the sentences about it.
#[derive(Debug, Clone)]
pub(crate) struct Outs {
    /// In the order of [`PortIx`]; never empty.
    pub outs: Vec<Out>,
    /// Why one could not be opened; empty where it could.
    pub failures: Vec<String>,
    pub notices: Vec<String>,
}

impl Outs {
    /// Opens the outputs. Two that bear one name, or too many, are refused.
    pub fn open(outs: &[Out]) -> Result<(Outs, Vec<Output>), String> {
        let mut outs = named(outs)?;
        let mut notices = Vec::new();
        if outs.is_empty() {
            outs.push(Out { name: String::new(), spec: PortSpec::None, clock: false });
            notices.push(
                "no output port chosen: playing silently; 'chaconne ports' lists what there is"
                    .to_string(),
            );
        }
        let (mut failures, mut open) = (Vec::new(), Vec::new());
        for out in &outs {
            let (output, failure) = match open_output(&out.spec) {
                Ok(output) => (output, String::new()),
                Err(error) => (open_output(&PortSpec::None).map_err(text)?, error.to_string()),
            };
            if !failure.is_empty() {
                notices.push(format!("{failure}; playing silently there"));
            }
            open.push(output);
            failures.push(failure);
        }
        Ok((Outs { outs, failures, notices }, open))
    }

    /// The names by which tracks find them.
    pub fn names(&self) -> Vec<String> {
        self.outs.iter().map(|out| out.name.clone()).collect()
    }

    /// The ones that get clock pulses.
    pub fn clocked(&self) -> Vec<PortIx> {
        let all = self.outs.iter().enumerate();
        all.filter(|(_, out)| out.clock).map(|(index, _)| PortIx(index as u8)).collect()
    }
}

fn text(error: PortError) -> String {
    error.to_string()
}

/// Gives the nameless ones but the first a name: their spec.
fn named(outs: &[Out]) -> Result<Vec<Out>, String> {
    if outs.len() > PortIx::MOST {
        return Err(format!(
            "{} outputs are more than the {} there can be",
            outs.len(),
            PortIx::MOST
        ));
    }
    let mut all: Vec<Out> = Vec::new();
    for out in outs {
        let mut out = out.clone();
        if out.name.is_empty() && !all.is_empty() {
            out.name = out.spec.to_string();
        }
        if all.iter().any(|other| other.name == out.name) {
            return Err(format!(
                "two outputs are called '{}': give each a name of its own",
                out.name
            ));
        }
        all.push(out);
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn out(text: &str) -> Out {
        text.parse().unwrap()
    }

    #[test]
    fn an_output_is_read_with_and_without_a_name() {
        assert_eq!(out("keys=midi:Desk synth").name, "keys");
        assert_eq!(out("keys=midi:Desk synth").spec, PortSpec::Midi("Desk synth".into()));
        // An equals sign inside a path or a port's own name makes no name.
        assert_eq!(out("bytes:pipes/a=b").spec, PortSpec::Bytes("pipes/a=b".into()));
        assert_eq!(out("midi:A=B").name, "");
        assert_eq!(out("none").spec, PortSpec::None);
        for wrong in ["", "keys", "keys=", "=midi:x", "keys=x"] {
            assert!(wrong.parse::<Out>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn the_first_serves_the_nameless_and_the_others_can_be_named() {
        let (outs, open) = Outs::open(&[out("none"), out("none"), out("b=none")]).unwrap();
        assert_eq!(outs.names(), ["", "none", "b"]);
        assert_eq!(open.len(), 3);
        assert!(outs.notices.is_empty());
        let error = Outs::open(&[out("a=none"), out("a=none")]).unwrap_err();
        assert_eq!(error, "two outputs are called 'a': give each a name of its own");
        assert!(Outs::open(&vec![out("none"); 33]).is_err());
    }

    #[test]
    fn without_a_port_it_plays_silently_and_says_so_once() {
        let (outs, open) = Outs::open(&[]).unwrap();
        assert_eq!((open.len(), outs.notices.len()), (1, 1));
        assert!(outs.notices[0].contains("playing silently"));
        let (outs, open) = Outs::open(&[out("x=bytes:/dev/no such device"), out("none")]).unwrap();
        assert_eq!((open.len(), outs.notices.len()), (2, 1));
        assert!(outs.notices[0].contains("/dev/no such device"), "{}", outs.notices[0]);
        assert!(!outs.failures[0].is_empty() && outs.failures[1].is_empty());
    }
}
