//! The ports as the screen shows them: their health, and what does not change about each.

use crate::ports;
use chaconne_engine::{Followed, LeaderClock};
use chaconne_rig::{self as rig, Rig};
use chaconne_tui::{Direction, PortFacts, PortLine, PortState};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long a port is shown as slow after it dropped something.
const SLOW: Duration = Duration::from_secs(3);
/// How long a slow port takes nothing until it counts as stalled.
const STALLED: Duration = Duration::from_secs(1);

/// How much an open port takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// Everything.
    Whole,
    /// Not everything.
    Slow,
    /// Nothing any more.
    Stalled,
}

/// What was seen of a port.
#[derive(Debug, Default)]
pub struct PortSeen {
    sent: u64,
    dropped: u64,
    /// When it last dropped something while it was connected.
    dropped_at: Option<Instant>,
    /// Since when it has dropped something and taken nothing.
    stuck: Option<Instant>,
    state: Option<rig::PortState>,
    /// When its state last changed; `None` if it has not.
    changed: Option<Instant>,
}

impl PortSeen {
    /// Takes a new report; returns how much the port takes. What it dropped while it was not
    /// connected, or before the first report, does not make it slow.
    pub fn look(&mut self, port: &rig::PortReport, now: Instant) -> Flow {
        let connected = port.state == rig::PortState::Open;
        let stayed = connected && self.state == Some(rig::PortState::Open);
        if port.sent > self.sent || !connected {
            self.stuck = None;
        }
        if port.dropped > self.dropped && stayed {
            self.dropped_at = Some(now);
            self.stuck = self.stuck.or(Some(now));
        }
        if self.state.is_some_and(|before| before != port.state) {
            self.changed = Some(now);
        }
        (self.sent, self.dropped, self.state) = (port.sent, port.dropped, Some(port.state));
        let within = |at: Option<Instant>, span| at.is_some_and(|at| now.duration_since(at) < span);
        let is_stuck = self.stuck.is_some() && !within(self.stuck, STALLED);
        match within(self.dropped_at, SLOW) {
            false => Flow::Whole,
            true if is_stuck && port.direction == rig::Direction::Out => Flow::Stalled,
            true => Flow::Slow,
        }
    }

    /// More about the port, with what does not change about it.
    pub fn facts(&self, port: &rig::PortReport, fixed: &PortFacts, now: Instant) -> PortFacts {
        let whole = |at| Duration::from_secs(now.duration_since(at).as_secs());
        PortFacts {
            sent: port.sent,
            // What nothing was connected for is not lost.
            lost: port.dropped.saturating_sub(port.to_nobody),
            late: port.late,
            since: self.changed.map(whole),
            ..fixed.clone()
        }
    }
}

/// What does not change about the ports, in the order of the reports.
pub fn fixed_facts(rig: &Rig) -> Vec<PortFacts> {
    let outs = rig.outs().iter().enumerate().map(|(place, out)| PortFacts {
        called: out.name.clone(),
        carries: out_words(out, place == 0),
        ..PortFacts::default()
    });
    let ins = rig.ins().map(|input| PortFacts { carries: in_words(input), ..PortFacts::default() });
    outs.chain(ins).collect()
}

/// What goes through an output besides tracks, and how. The first one gets the click.
fn out_words(out: &rig::Out, is_first: bool) -> Arc<[String]> {
    let ms = |ns: i64| format!("{}", ns.abs() as f64 / 1e6);
    let offset = match out.offset {
        0 => None,
        later @ 1.. => Some(format!("{} ms later", ms(later))),
        earlier => Some(format!("{} ms earlier", ms(earlier))),
    };
    let words = [
        is_first.then(|| "click".to_string()),
        (out.clock == Some(true)).then(|| "clock".to_string()),
        out.mtc.map(|rate| format!("time code {rate}")),
        out.mmc.then(|| "machine control".to_string()),
        out.serial.then(|| "serial cable".to_string()),
        offset,
    ];
    words.into_iter().flatten().collect()
}

/// What comes through an input besides notes, and how.
fn in_words(input: &rig::In) -> Arc<[String]> {
    let on_loss = input.follow.map(|on_loss| match on_loss {
        rig::OnLoss::Keep => "its clock is followed".to_string(),
        rig::OnLoss::Stop => "its clock is followed; stops without it".to_string(),
    });
    let latency = (input.latency > 0).then(|| format!("latency {} ms", input.latency as f64 / 1e6));
    on_loss.into_iter().chain(latency).collect()
}

/// Adds how the clock from this port is doing, unless there is something wrong with the port
/// itself.
pub fn add_clock(port: &mut PortLine, followed: &Followed) {
    if !port.detail.is_empty() {
        return;
    }
    port.detail = match (followed.clock, followed.tempo) {
        (LeaderClock::Lost, _) => "clock lost".to_string(),
        (LeaderClock::Absent, _) => "no clock yet".to_string(),
        (LeaderClock::Locking, _) | (_, None) => "locking to clock".to_string(),
        (LeaderClock::Locked, Some(tempo)) => {
            let tenths = (tempo.milli_bpm() + 50) / 100;
            format!("clock {}.{}", tenths / 10, tenths % 10)
        }
    };
}

/// A port as the screen shows it.
pub fn port_line(port: &rig::PortReport, flow: Flow) -> PortLine {
    let state = match port.state {
        _ if !port.failure.is_empty() => PortState::Lost,
        rig::PortState::Open => match flow {
            Flow::Whole => PortState::Ok,
            Flow::Slow => PortState::Slow,
            Flow::Stalled => PortState::Stalled,
        },
        rig::PortState::Waiting | rig::PortState::Silent if port.spec == rig::PortSpec::None => {
            PortState::None
        }
        rig::PortState::Waiting | rig::PortState::Silent => PortState::Waiting,
        rig::PortState::Lost => PortState::Lost,
    };
    let detail = match ports::trouble(port) {
        None if matches!(state, PortState::Slow | PortState::Stalled) => {
            format!("{} dropped", port.dropped)
        }
        trouble => trouble.unwrap_or_default(),
    };
    let direction = match port.direction {
        rig::Direction::In => Direction::In,
        rig::Direction::Out => Direction::Out,
    };
    PortLine { name: port.name.clone(), direction, state, detail }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(state: rig::PortState, dropped: u64, failure: &str) -> rig::PortReport {
        let (name, direction) = ("keys".to_string(), rig::Direction::Out);
        let spec = rig::PortSpec::Midi("keys".into());
        let (failure, ambiguity) = (failure.into(), String::new());
        let (sent, to_nobody, late) = (0, 0, 0);
        rig::PortReport {
            name,
            spec,
            direction,
            state,
            sent,
            dropped,
            to_nobody,
            late,
            failure,
            ambiguity,
        }
    }

    #[test]
    fn a_port_that_drops_is_slow_for_a_while_and_stalled_if_it_takes_nothing() {
        let (mut seen, start) = (PortSeen::default(), Instant::now());
        let mut look = |sent, dropped, ms| {
            let report = rig::PortReport { sent, ..report(rig::PortState::Open, dropped, "") };
            let line = port_line(&report, seen.look(&report, start + Duration::from_millis(ms)));
            (line.state, line.detail)
        };
        assert_eq!(look(5, 0, 0), (PortState::Ok, String::new()));
        assert_eq!(look(5, 2, 1000), (PortState::Slow, "2 dropped".into()));
        assert_eq!(look(5, 3, 1999), (PortState::Slow, "3 dropped".into()));
        assert_eq!(look(5, 4, 2000), (PortState::Stalled, "4 dropped".into()));
        assert_eq!(look(6, 4, 2100), (PortState::Slow, "4 dropped".into()));
        assert_eq!(look(6, 4, 5000), (PortState::Ok, String::new()));
    }

    #[test]
    fn a_port_shows_how_long_it_has_been_lost() {
        let (mut seen, start) = (PortSeen::default(), Instant::now());
        let mut since = |state, seconds| {
            let (report, now) = (report(state, 9, ""), start + Duration::from_secs(seconds));
            seen.look(&report, now);
            let fixed = PortFacts { called: "bells".into(), ..PortFacts::default() };
            let report = rig::PortReport { to_nobody: 7, ..report };
            let facts = seen.facts(&report, &fixed, now);
            assert_eq!((facts.lost, facts.called.as_str()), (2, "bells"));
            facts.since.map(|since| since.as_secs())
        };
        assert_eq!(since(rig::PortState::Open, 0), None);
        assert_eq!(since(rig::PortState::Open, 5), None);
        assert_eq!(since(rig::PortState::Lost, 6), Some(0));
        assert_eq!(since(rig::PortState::Lost, 18), Some(12));
        assert_eq!(since(rig::PortState::Open, 20), Some(0));
    }

    #[test]
    fn options_are_facts_in_words() {
        let words = |text: &str| out_words(&text.parse().unwrap(), false).join("; ");
        assert_eq!(words("none"), "");
        assert_eq!(
            words("none,clock,mtc=29.97,mmc,serial,offset=-2.5"),
            "clock; time code 29.97; machine control; serial cable; 2.5 ms earlier"
        );
        assert_eq!(&*out_words(&"none,offset=3".parse().unwrap(), true), ["click", "3 ms later"]);
        let words = |text: &str| in_words(&text.parse().unwrap()).join("; ");
        assert_eq!(words("none,follow,latency=4"), "its clock is followed; latency 4 ms");
        assert_eq!(words("none,follow=stop"), "its clock is followed; stops without it");
    }

    #[test]
    fn drops_while_disconnected_do_not_make_a_port_slow() {
        let (mut seen, now) = (PortSeen::default(), Instant::now());
        let mut is_slow = |state, count| seen.look(&report(state, count, ""), now) != Flow::Whole;
        assert!(!is_slow(rig::PortState::Waiting, 0));
        assert!(!is_slow(rig::PortState::Waiting, 11));
        assert!(!is_slow(rig::PortState::Open, 12));
        assert!(is_slow(rig::PortState::Open, 13));
    }

    #[test]
    fn every_state_of_a_port_is_shown() {
        let word = |state, failure| port_line(&report(state, 0, failure), Flow::Whole).state;
        assert_eq!(word(rig::PortState::Waiting, ""), PortState::Waiting);
        assert_eq!(word(rig::PortState::Silent, ""), PortState::Waiting);
        let spec = rig::PortSpec::None;
        let nowhere = rig::PortReport { spec, ..report(rig::PortState::Silent, 0, "") };
        assert_eq!(port_line(&nowhere, Flow::Whole).state, PortState::None);
        assert_eq!(word(rig::PortState::Lost, ""), PortState::Lost);
        assert_eq!(word(rig::PortState::Silent, "it cannot be opened"), PortState::Lost);
    }

    #[test]
    fn the_clock_that_is_followed_is_shown_at_its_port() {
        let tempo = Some(chaconne_time::Tempo::parse_bpm("93.74").unwrap());
        let detail = |clock, tempo| {
            let mut port = port_line(&report(rig::PortState::Open, 0, ""), Flow::Whole);
            let name = "keys".to_string();
            let followed = Followed { name, clock, tempo, leads: true, record_waits: false };
            add_clock(&mut port, &followed);
            port.detail
        };
        assert_eq!(detail(LeaderClock::Locked, tempo), "clock 93.7");
        assert_eq!(detail(LeaderClock::Lost, tempo), "clock lost");
        assert_eq!(detail(LeaderClock::Locking, tempo), "locking to clock");
        assert_eq!(detail(LeaderClock::Absent, None), "no clock yet");
    }
}
