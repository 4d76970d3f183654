//! `ports`: lists the ports that `--out` and `--in` can use.

use crate::args::Wires;
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{
    JackPorts, Out, PortList, PortReport, PortSpec, PortState, RigConfig, Spin, list_jack_ports,
    list_ports, raw_devices,
};
use std::path::PathBuf;

/// How to use a name from the list.
const USE: &str = "to use one: chaconne sketch SONG --out PORT --in PORT; without --out you hear the \
    built-in instrument, 'sound'; 'none' plays silently";

/// Lists the ports, and says when each kind sends its events. A missing MIDI service or JACK server
/// is a message, not an error: the other kinds of ports do not need it.
pub fn ports() -> Result<Ended, Failure> {
    let list = list_ports().unwrap_or_else(|error| {
        say::message(first_clause(&error.to_string()));
        PortList::default()
    });
    let jack = list_jack_ports();
    match &jack {
        Ok(jack) => say::message(&about_jack(jack)),
        Err(error) => say::message(first_clause(&error.to_string())),
    }
    say::message(USE);
    let jack = jack.map_or_else(|_| PortList::default(), |jack| jack.ports);
    say::answer(&table(&list, &jack, &raw_devices()))?;
    Ok(Ended::Ok)
}

/// The first clause of an error, which says what is missing. The rest says what to use instead; the
/// list shows that.
fn first_clause(sentence: &str) -> &str {
    sentence.split_once("; ").map_or(sentence, |(first, _)| first)
}

fn about_jack(jack: &JackPorts) -> String {
    format!(
        "jack: events go out at their exact frame, handed over {:.1} ms ahead ({} frames per \
         block, {} Hz); midi: and bytes: events go out when they are due",
        jack.ahead as f64 / 1e6,
        jack.block,
        jack.rate
    )
}

/// What is wrong with a port, in one clause; `None` if nothing is.
pub fn trouble(port: &PortReport) -> Option<String> {
    let is_sound = port.spec == PortSpec::Sound;
    let trouble = match port.state {
        _ if !port.failure.is_empty() => &port.failure,
        _ if !port.ambiguity.is_empty() => &port.ambiguity,
        PortState::Open => return None,
        PortState::Waiting | PortState::Silent if port.spec == PortSpec::None => return None,
        PortState::Waiting | PortState::Silent if is_sound => "no audio device yet",
        PortState::Waiting | PortState::Silent => "nothing is connected at the other end yet",
        PortState::Lost if is_sound => "audio device disconnected",
        PortState::Lost => "disconnected",
    };
    Some(say::plain(trouble))
}

/// Reports ports whose state has changed.
#[derive(Debug, Default)]
pub struct PortWatch {
    /// The trouble of each port as of the last call.
    reported: Vec<Option<String>>,
}

impl PortWatch {
    /// One sentence for each port that has changed since the last call. Does not repeat the notices
    /// that the rig gives at its start.
    pub fn look(&mut self, ports: &[PortReport]) -> Vec<String> {
        // A missing audio device is one of those notices.
        let at_start = |port: &PortReport| {
            trouble(port).filter(|_| port.spec == PortSpec::Sound && port.failure.is_empty())
        };
        self.reported.extend(ports.iter().skip(self.reported.len()).map(at_start));
        let mut news = Vec::new();
        for (port, reported) in ports.iter().zip(&mut self.reported) {
            let now = trouble(port).filter(|_| port.failure.is_empty());
            match (&*reported, &now) {
                (before, now) if before == now => {}
                (_, Some(trouble)) => news.push(format!("{}: {trouble}", port.name)),
                (_, None) => news.push(format!("{}: connected", port.name)),
            }
            *reported = now;
        }
        news
    }
}

fn table(list: &PortList, jack: &PortList, raw: &[PathBuf]) -> String {
    let mut text = String::new();
    let mut line = |way: &str, spec: String| text.push_str(&format!("{way:<8}{spec}\n"));
    list.inputs.iter().for_each(|name| line("in", format!("midi:{name}")));
    list.outputs.iter().for_each(|name| line("out", format!("midi:{name}")));
    jack.inputs.iter().for_each(|name| line("in", format!("jack:{name}")));
    jack.outputs.iter().for_each(|name| line("out", format!("jack:{name}")));
    raw.iter().for_each(|path| line("in out", format!("bytes:{}", path.display())));
    line("out", "sound".to_string());
    line("in out", "none".to_string());
    text
}

/// The rig's settings, from the arguments.
pub fn rig_config(wires: Wires, path: Option<PathBuf>) -> RigConfig {
    let clock = |out: &Out| Some(out.clock.unwrap_or(wires.clock));
    let outs: Vec<Out> =
        wires.out.into_iter().map(|out| Out { clock: clock(&out), ..out }).collect();
    // Without any output, the built-in instrument plays.
    let outs = if outs.is_empty() { vec![Out::plain("", PortSpec::Sound)] } else { outs };
    let spin = if wires.no_spin { Spin::NEVER } else { Spin::default() };
    let (font, level, click_level) = (wires.font, wires.level, wires.click_level);
    RigConfig {
        outs,
        ins: wires.inputs,
        font,
        level,
        click_level,
        path,
        spin,
        ..RigConfig::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_comes_and_goes_is_reported_once_each_time() {
        let mut port = PortReport {
            name: "bytes:wire".to_string(),
            spec: PortSpec::Bytes("wire".into()),
            direction: chaconne_rig::Direction::Out,
            state: PortState::Waiting,
            sent: 0,
            dropped: 0,
            to_nobody: 0,
            late: 0,
            failure: String::new(),
            ambiguity: String::new(),
        };
        let mut watch = PortWatch::default();
        let mut look = |state| {
            port.state = state;
            watch.look(std::slice::from_ref(&port)).join("; ")
        };
        assert_eq!(
            look(PortState::Waiting),
            "bytes:wire: nothing is connected at the other end yet"
        );
        assert_eq!(look(PortState::Waiting), "");
        // It no longer waits for a connection, but is not connected either.
        assert_eq!(look(PortState::Silent), "");
        assert_eq!(look(PortState::Open), "bytes:wire: connected");
        assert_eq!(look(PortState::Lost), "bytes:wire: disconnected");
        assert_eq!(look(PortState::Lost), "");
        port.ambiguity = "more than one has that in its name".to_string();
        let mut look = || watch.look(std::slice::from_ref(&port)).join("; ");
        assert_eq!(look(), "bytes:wire: more than one has that in its name");
        assert_eq!(look(), "");
    }

    #[test]
    fn a_missing_audio_device_has_its_own_message_and_the_port_none_has_no_trouble() {
        let mut port = PortReport {
            name: "sound".to_string(),
            spec: PortSpec::Sound,
            direction: chaconne_rig::Direction::Out,
            state: PortState::Silent,
            sent: 0,
            dropped: 0,
            to_nobody: 0,
            late: 0,
            failure: String::new(),
            ambiguity: String::new(),
        };
        assert_eq!(trouble(&port).as_deref(), Some("no audio device yet"));
        port.state = PortState::Lost;
        assert_eq!(trouble(&port).as_deref(), Some("audio device disconnected"));
        (port.spec, port.state) = (PortSpec::None, PortState::Silent);
        assert_eq!(trouble(&port), None);
    }

    #[test]
    fn the_timing_of_jack_ports_is_explained() {
        let ports = PortList::default();
        let jack = JackPorts { ports, block: 64, rate: 48_000, ahead: 4_000_000 };
        assert_eq!(
            about_jack(&jack),
            "jack: events go out at their exact frame, handed over 4.0 ms ahead (64 frames per \
             block, 48000 Hz); midi: and bytes: events go out when they are due"
        );
    }

    #[test]
    fn every_listed_port_can_be_used_as_an_argument() {
        let list = PortList { inputs: vec!["Keys".into()], outputs: vec!["Desk: one".into()] };
        let jack = PortList { inputs: vec!["pads:out".into()], outputs: vec!["desk:in 1".into()] };
        let text = table(&list, &jack, &[PathBuf::from("/dev/snd/midiC1D0")]);
        assert_eq!(
            text,
            "in      midi:Keys\nout     midi:Desk: one\nin      jack:pads:out\n\
             out     jack:desk:in 1\nin out  bytes:/dev/snd/midiC1D0\nout     sound\nin out  none\n"
        );
        for line in text.lines() {
            assert!(line[8..].parse::<Out>().is_ok(), "{line}");
        }
    }
}
