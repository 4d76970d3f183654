//! The desk: passes the screen's requests to the rig, and the rig's snapshots to the screen.

use crate::{ports, say};
use chaconne_engine::{Command, Followed, LeaderClock, Transport};
use chaconne_rig::{self as rig, Replace, Rig, Signals, Snapshot, WriteError};
use chaconne_song::U7;
use chaconne_tui::{
    Desk, DeskState, Direction, Disk, Kit, Kits, LevelStep, LiveKey, NewSong, OwnSave, PortLine,
    PortState, SoundLine, Timing,
};
use std::cell::RefCell;
use std::time::{Duration, Instant};

/// How long a port is shown as slow after it dropped something.
const SLOW: Duration = Duration::from_secs(3);
/// How long limiting stays on the screen: as long as the meters hold a peak.
const LIMITED: Duration = Duration::from_millis(1500);
/// The least limiting that is shown, in decibels; less is inaudible.
const LEAST: f32 = 0.1;

/// The rig as the screen drives it.
#[derive(Debug)]
pub struct RigDesk<'a> {
    rig: &'a Rig,
    signals: &'a Signals,
    kits: Kits,
    seen: RefCell<Seen>,
}

/// What earlier snapshots showed.
#[derive(Debug, Default)]
struct Seen {
    /// For each port, what it has dropped.
    drops: Vec<Drops>,
    /// The counts when the transport was last stopped.
    before: Timing,
    limited: Limited,
}

/// The most that the limiter has turned down recently, in decibels, and when.
#[derive(Debug, Clone, Copy, Default)]
struct Limited(Option<(f32, Instant)>);

impl Limited {
    /// Takes the current value in decibels; returns the value to show, if any.
    fn look(&mut self, limited: f32, now: Instant) -> Option<f32> {
        let fresh = |(_, at): &(f32, Instant)| now.duration_since(*at) < LIMITED;
        self.0 = self.0.filter(fresh);
        if limited >= LEAST && self.0.is_none_or(|(most, _)| limited >= most) {
            self.0 = Some((limited, now));
        }
        self.0.map(|(most, _)| most)
    }
}

/// What a port had dropped when it was last seen.
#[derive(Debug, Clone, Copy, Default)]
struct Drops {
    count: u64,
    /// When the count last rose while the port was connected.
    at: Option<Instant>,
    /// Whether the port was connected.
    connected: bool,
}

impl Drops {
    /// Takes a new report; returns whether the port is slow now. What it dropped while it was not
    /// connected, or before the first report, does not make it slow.
    fn look(&mut self, port: &rig::PortReport, now: Instant) -> bool {
        let connected = port.state == rig::PortState::Open;
        if port.dropped > self.count && connected && self.connected {
            self.at = Some(now);
        }
        (self.count, self.connected) = (port.dropped, connected);
        self.at.is_some_and(|at| now.duration_since(at) < SLOW)
    }
}

impl<'a> RigDesk<'a> {
    /// A desk for `rig`; the screen quits if a signal arrives.
    pub fn new(rig: &'a Rig, signals: &'a Signals) -> RigDesk<'a> {
        let kit = |(program, name): &(u8, String)| {
            Some(Kit { program: U7::new(*program)?, name: name.clone() })
        };
        let kits =
            rig.kits().map_or(Kits::Any, |kits| Kits::Font(kits.iter().filter_map(kit).collect()));
        RigDesk { rig, signals, kits, seen: RefCell::default() }
    }
}

impl Desk for RigDesk<'_> {
    fn command(&self, command: Command) {
        // A refusal is shown in the status.
        let _ = self.rig.command(command);
    }

    fn tap(&self, ago: Duration) {
        self.rig.tap(ago);
    }

    fn play(&self, key: LiveKey) {
        match key {
            LiveKey::Press { key, velocity } => self.rig.press(key, velocity),
            LiveKey::Lift { key } => self.rig.lift(key),
        }
    }

    fn save(&self, path: Option<&str>, replace: bool) {
        // The screen has already asked whether to replace the file.
        let replace = if replace { Replace::Confirmed } else { Replace::No };
        self.rig.save(path.map(Into::into), replace);
    }

    fn restore(&self) -> Result<(), String> {
        self.rig.restore().map_err(|error| say::plain(&error.to_string()))
    }

    fn remove_rescue(&self) {
        self.rig.remove_rescue();
    }

    fn new_song(&self, spec: NewSong) {
        // The form accepts only values that make a song.
        if let Ok(song) = spec.song() {
            self.rig.open(song, None);
        }
    }

    fn silence(&self) {
        self.rig.silence();
    }

    fn level(&self, step: LevelStep) {
        self.rig.change_level(step == LevelStep::Louder);
    }

    fn state(&self) -> DeskState {
        let state = self.seen.borrow_mut().state(self.rig.snapshot(), Instant::now());
        DeskState { kits: self.kits.clone(), ..state }
    }

    fn quit_requested(&self) -> bool {
        self.signals.asked().is_some()
    }
}

impl Seen {
    fn state(&mut self, snapshot: Snapshot, now: Instant) -> DeskState {
        self.drops.resize(snapshot.ports.len(), Drops::default());
        let ports = snapshot.ports.iter().zip(&mut self.drops);
        let ports = ports.map(|(port, drops)| port_line(port, drops.look(port, now)));
        let mut ports: Vec<PortLine> = ports.collect();
        if let Some(followed) = &snapshot.status.followed {
            let is_followed = |port: &&mut PortLine| {
                port.direction == Direction::In && port.name == followed.name
            };
            ports.iter_mut().filter(is_followed).take(1).for_each(|port| add_clock(port, followed));
        }
        let timing = self.timing(&snapshot);
        let (unsaved, exists) = (snapshot.is_unsaved(), snapshot.disk.exists());
        let disk = Disk {
            path: snapshot.disk.path.map(|path| path.display().to_string()),
            unsaved,
            in_the_way: snapshot.disk.error.as_ref().and_then(in_the_way),
            error: snapshot.disk.error.map(|error| say::plain(&error.to_string())),
            own: own_save(snapshot.disk.own_error.as_ref()),
            exists,
            rescue: snapshot.disk.rescue.map(|copy| copy.to_string()),
            attempts: snapshot.disk.attempts,
        };
        let sound = snapshot.sound.map(|sound| SoundLine {
            level: sound.level,
            peak: sound.peak,
            held: sound.held,
            limited: self.limited.look(sound.limited, now),
        });
        let status = (*snapshot.status).clone();
        DeskState { status, ports, sound, kits: Kits::Any, disk, timing }
    }
}

impl Seen {
    /// Lateness and losses; the losses are counted from the last start.
    fn timing(&mut self, snapshot: &Snapshot) -> Timing {
        let ns = |late: i64| late.max(0) as u64;
        let counted = Timing {
            p50_ns: ns(snapshot.stats.notes.p50),
            p99_ns: ns(snapshot.stats.notes.p99),
            worst_ns: ns(snapshot.stats.worst),
            late: snapshot.stats.late,
            queue_full: snapshot.stats.dropped,
            waiting: snapshot.waiting as u64,
            unheard: snapshot.unheard,
        };
        if snapshot.status.transport == Transport::Stopped {
            self.before = counted;
        }
        Timing {
            late: counted.late.saturating_sub(self.before.late),
            queue_full: counted.queue_full.saturating_sub(self.before.queue_full),
            unheard: counted.unheard.saturating_sub(self.before.unheard),
            ..counted
        }
    }
}

/// What a save would replace, if the user may confirm it.
fn in_the_way(error: &WriteError) -> Option<String> {
    match error {
        WriteError::Refused(refusal) => refusal.can_be_confirmed().then(|| refusal.to_string()),
        WriteError::Failed(_) => None,
    }
}

/// How the last save to the song's own file went.
fn own_save(error: Option<&WriteError>) -> OwnSave {
    match error {
        None => OwnSave::Fine,
        Some(error) if in_the_way(error).is_some() => OwnSave::Waits,
        Some(_) => OwnSave::Failed,
    }
}

/// Adds how the clock from this port is doing, unless there is something wrong with the port
/// itself.
fn add_clock(port: &mut PortLine, followed: &Followed) {
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
fn port_line(port: &rig::PortReport, slow: bool) -> PortLine {
    let state = match port.state {
        _ if !port.failure.is_empty() => PortState::Lost,
        rig::PortState::Open if slow => PortState::Slow,
        rig::PortState::Open => PortState::Ok,
        rig::PortState::Waiting | rig::PortState::Silent => PortState::None,
        rig::PortState::Lost => PortState::Lost,
    };
    let detail = match ports::trouble(port) {
        None if state == PortState::Slow => format!("{} dropped", port.dropped),
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
    use chaconne_rig::{PortReport, RigConfig};

    fn report(state: rig::PortState, dropped: u64, failure: &str) -> PortReport {
        let (name, direction) = ("keys".to_string(), rig::Direction::Out);
        let spec = rig::PortSpec::Midi("keys".into());
        let (failure, ambiguity) = (failure.into(), String::new());
        PortReport { name, spec, direction, state, sent: 0, dropped, failure, ambiguity }
    }

    #[test]
    fn a_port_that_drops_is_slow_for_a_while() {
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("test", 4, metre, tempo).unwrap();
        let rig = Rig::start(song, RigConfig::default()).unwrap();
        let mut snapshot = rig.snapshot();
        let (mut seen, start) = (Seen::default(), Instant::now());
        let mut look = |dropped, seconds| {
            snapshot.ports = vec![report(rig::PortState::Open, dropped, "")];
            let state = seen.state(snapshot.clone(), start + Duration::from_secs(seconds));
            (state.ports[0].state, state.ports[0].detail.clone())
        };
        assert_eq!(look(0, 0), (PortState::Ok, String::new()));
        assert_eq!(look(2, 1), (PortState::Slow, "2 dropped".into()));
        assert_eq!(look(2, 3), (PortState::Slow, "2 dropped".into()));
        assert_eq!(look(2, 5), (PortState::Ok, String::new()));
    }

    #[test]
    fn only_a_file_in_the_way_waits_for_an_answer() {
        use chaconne_rig::{Kind, Refusal};
        let changed = WriteError::Refused(Refusal::Changed("ebb.ron".into()));
        let other = WriteError::Refused(Refusal::OtherKind("ebb.mid".into(), Kind::Song));
        let full = WriteError::Failed("the disk is full".into());
        let found = [None, Some(&changed), Some(&other), Some(&full)].map(own_save);
        let expected = [OwnSave::Fine, OwnSave::Waits, OwnSave::Failed, OwnSave::Failed];
        assert_eq!(found, expected);
    }

    #[test]
    fn drops_while_disconnected_do_not_make_a_port_slow() {
        let (mut drops, now) = (Drops::default(), Instant::now());
        assert!(!drops.look(&report(rig::PortState::Waiting, 0, ""), now));
        assert!(!drops.look(&report(rig::PortState::Waiting, 11, ""), now));
        assert!(!drops.look(&report(rig::PortState::Open, 12, ""), now));
        assert!(drops.look(&report(rig::PortState::Open, 13, ""), now));
    }

    #[test]
    fn losses_are_counted_since_the_last_start() {
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("test", 4, metre, tempo).unwrap();
        let rig = Rig::start(song, RigConfig::default()).unwrap();
        let (mut snapshot, mut seen) = (rig.snapshot(), Seen::default());
        let mut look = |transport, count: u64| {
            std::sync::Arc::make_mut(&mut snapshot.status).transport = transport;
            (snapshot.stats.late, snapshot.stats.dropped) = (count, count + 1);
            (snapshot.waiting, snapshot.unheard) = (count as usize, count + 2);
            let timing = seen.timing(&snapshot);
            [timing.late, timing.queue_full, timing.unheard, timing.waiting]
        };
        assert_eq!(look(Transport::Stopped, 3), [0, 0, 0, 3]);
        assert_eq!(look(Transport::Rolling, 3), [0, 0, 0, 3]);
        assert_eq!(look(Transport::Rolling, 5), [2, 2, 2, 5]);
        assert_eq!(look(Transport::Stopped, 5), [0, 0, 0, 5]);
    }

    #[test]
    fn limiting_is_shown_for_a_moment() {
        let (mut limited, start) = (Limited::default(), Instant::now());
        let mut look = |db, ms| limited.look(db, start + Duration::from_millis(ms));
        assert_eq!(look(0.0, 0), None);
        assert_eq!(look(0.05, 10), None);
        assert_eq!(look(3.0, 100), Some(3.0));
        assert_eq!(look(2.0, 200), Some(3.0));
        assert_eq!(look(0.0, 1599), Some(3.0));
        assert_eq!(look(2.0, 1600), Some(2.0));
        assert_eq!(look(4.0, 1700), Some(4.0));
        assert_eq!(look(f32::NAN, 3200), None);
    }

    #[test]
    fn every_state_of_a_port_is_shown() {
        let word = |state, failure| port_line(&report(state, 0, failure), false).state;
        assert_eq!(word(rig::PortState::Waiting, ""), PortState::None);
        assert_eq!(word(rig::PortState::Silent, ""), PortState::None);
        assert_eq!(word(rig::PortState::Lost, ""), PortState::Lost);
        assert_eq!(word(rig::PortState::Silent, "it cannot be opened"), PortState::Lost);
    }

    #[test]
    fn the_clock_that_is_followed_is_shown_at_its_port() {
        let tempo = Some(chaconne_time::Tempo::parse_bpm("93.74").unwrap());
        let detail = |clock, tempo| {
            let mut port = port_line(&report(rig::PortState::Open, 0, ""), false);
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
