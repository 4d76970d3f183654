//! `ports`: what `--out` and `--in` can name.

use crate::args::Wires;
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{Out, PortList, RigConfig, list_ports, raw_devices};
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
    let outs = wires.out.into_iter().map(|out| Out { clock: wires.clock, ..out }).collect();
    RigConfig { outs, ins: wires.inputs, path, ..RigConfig::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

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
