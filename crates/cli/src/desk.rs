//! The desk: passes the screen's requests to the rig, and the rig's snapshots to the screen.

mod exports;
mod files;
mod health;
mod ports;

use crate::say;
use chaconne_engine::{Command, Transport};
use chaconne_rig::{Answer, FolderReport, Replace, Rig, Signals, Snapshot, WriteError};
use chaconne_song::U7;
use chaconne_tui::{
    Desk, DeskState, Direction, Disk, ExportSpec, FolderAnswer, Kit, Kits, LevelStep, LiveKey,
    NewSong, OwnSave, PortFacts, PortLine, SongRequest, SoundLine, Timing,
};
use health::Seconds;
use ports::{PortSeen, add_clock, fixed_facts, port_line};
use std::cell::RefCell;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long lateness is shown after the last late message.
const WELL: Duration = Duration::from_secs(10);
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
    /// What does not change about each port.
    fixed: Vec<PortFacts>,
    seen: RefCell<Seen>,
}

/// What earlier snapshots showed.
#[derive(Debug, Default)]
struct Seen {
    /// What was seen of each port.
    ports: Vec<PortSeen>,
    /// The counts when the transport was last stopped; of lateness, also when it was last well.
    before: Timing,
    /// The latest message since then, in nanoseconds.
    worst: u64,
    /// The last count of late messages, and when it last rose.
    late: (u64, Option<Instant>),
    seconds: Seconds,
    limited: Limited,
    /// The folder that was read last.
    folder: Option<Arc<FolderAnswer>>,
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

impl<'a> RigDesk<'a> {
    /// A desk for `rig`; the screen quits if a signal arrives.
    pub fn new(rig: &'a Rig, signals: &'a Signals) -> RigDesk<'a> {
        let kit = |(program, name): &(u8, String)| {
            Some(Kit { program: U7::new(*program)?, name: name.clone() })
        };
        let kits =
            rig.kits().map_or(Kits::Any, |kits| Kits::Font(kits.iter().filter_map(kit).collect()));
        RigDesk { rig, signals, kits, fixed: fixed_facts(rig), seen: RefCell::default() }
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

    fn browse(&self, number: u64, path: Option<&str>) {
        self.rig.browse(number, path.map(Into::into));
    }

    fn read(&self, number: u64, request: SongRequest) {
        self.rig.read(number, files::song_request(request));
    }

    fn export(&self, spec: ExportSpec) {
        self.rig.export(exports::order(&spec));
    }

    fn cancel_export(&self) {
        self.rig.cancel_export();
    }

    fn restart_timing(&self) {
        self.rig.restart_timing();
        self.seen.borrow_mut().restart();
    }

    fn state(&self) -> DeskState {
        let (snapshot, worst) = (self.rig.snapshot(), self.rig.take_worst());
        let mut seen = self.seen.borrow_mut();
        let state = seen.state(snapshot, worst.max(0) as u64, &self.fixed, Instant::now());
        DeskState { kits: self.kits.clone(), ..state }
    }

    fn quit_requested(&self) -> bool {
        self.signals.asked().is_some()
    }
}

impl Seen {
    /// The state, with the latest message since the last call in nanoseconds.
    fn state(
        &mut self,
        snapshot: Snapshot,
        worst: u64,
        fixed: &[PortFacts],
        now: Instant,
    ) -> DeskState {
        self.ports.resize_with(snapshot.ports.len(), PortSeen::default);
        let ports = snapshot.ports.iter().zip(&mut self.ports);
        let ports = ports.map(|(port, seen)| port_line(port, seen.look(port, now)));
        let mut ports: Vec<PortLine> = ports.collect();
        self.seconds.look(worst, snapshot.status.transport != Transport::Stopped, now);
        let facts = snapshot.ports.iter().zip(&self.ports).zip(fixed);
        let facts = facts.map(|((port, seen), fixed)| seen.facts(port, fixed, now)).collect();
        let export = exports::export(snapshot.export.clone());
        let folder = self.folder(snapshot.folder.as_deref());
        let read = snapshot.read.as_deref().map(|answer| Arc::new(files::song_answer(answer)));
        let health = health::health(&snapshot, facts, self.seconds.all());
        if let Some(followed) = &snapshot.status.followed {
            let is_followed = |port: &&mut PortLine| {
                port.direction == Direction::In && port.name == followed.name
            };
            ports.iter_mut().filter(is_followed).take(1).for_each(|port| add_clock(port, followed));
        }
        let timing = self.timing(&snapshot, worst, now);
        let (unsaved, exists) = (snapshot.is_unsaved(), snapshot.disk.exists());
        let disk = Disk {
            folder: snapshot.disk.path.as_deref().and_then(files::folder_name),
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
        DeskState {
            status,
            ports,
            sound,
            kits: Kits::Any,
            disk,
            export,
            folder,
            read,
            timing,
            health,
        }
    }
}

impl Seen {
    /// The folder that was read last, put into the screen's words once.
    fn folder(&mut self, report: Option<&Answer<FolderReport>>) -> Option<Arc<FolderAnswer>> {
        let report = report?;
        let known = self.folder.take().filter(|known| known.number == report.number);
        self.folder = known.or_else(|| Some(Arc::new(files::answer(report))));
        self.folder.clone()
    }

    /// Counts lateness afresh.
    fn restart(&mut self) {
        self.seconds = Seconds::default();
        (self.before.late, self.worst) = (self.late.0, 0);
    }

    /// Lateness and losses, counted from the last start. Lateness is forgotten once it is over.
    fn timing(&mut self, snapshot: &Snapshot, worst: u64, now: Instant) -> Timing {
        let ns = |late: i64| late.max(0) as u64;
        self.worst = self.worst.max(worst);
        if snapshot.stats.late > self.late.0 {
            self.late = (snapshot.stats.late, Some(now));
        }
        let is_well = self.late.1.is_none_or(|at| now.duration_since(at) >= WELL);
        let counted = Timing {
            p50_ns: ns(snapshot.stats.notes.p50),
            p99_ns: ns(snapshot.stats.notes.p99),
            worst_ns: 0,
            late: snapshot.stats.late,
            queue_full: snapshot.stats.dropped,
            waiting: snapshot.waiting as u64,
            unheard: snapshot.unheard,
        };
        if snapshot.status.transport == Transport::Stopped {
            self.before = counted;
        } else if is_well {
            self.before.late = counted.late;
        }
        if self.before.late == counted.late {
            self.worst = 0;
        }
        Timing {
            worst_ns: self.worst,
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

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_rig::RigConfig;
    use std::path::Path;

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
    fn losses_are_counted_since_the_last_start() {
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("test", 4, metre, tempo).unwrap();
        let rig = Rig::start(song, RigConfig::default()).unwrap();
        let (mut snapshot, mut seen) = (rig.snapshot(), Seen::default());
        let mut look = |transport, count: u64| {
            std::sync::Arc::make_mut(&mut snapshot.status).transport = transport;
            (snapshot.stats.late, snapshot.stats.dropped) = (count, count + 1);
            (snapshot.waiting, snapshot.unheard) = (count as usize, count + 2);
            let timing = seen.timing(&snapshot, 0, Instant::now());
            [timing.late, timing.queue_full, timing.unheard, timing.waiting]
        };
        assert_eq!(look(Transport::Stopped, 3), [0, 0, 0, 3]);
        assert_eq!(look(Transport::Rolling, 3), [0, 0, 0, 3]);
        assert_eq!(look(Transport::Rolling, 5), [2, 2, 2, 5]);
        assert_eq!(look(Transport::Stopped, 5), [0, 0, 0, 5]);
    }

    #[test]
    fn lateness_is_shown_until_all_is_well_again() {
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("test", 4, metre, tempo).unwrap();
        let rig = Rig::start(song, RigConfig::default()).unwrap();
        let (mut snapshot, mut seen, start) = (rig.snapshot(), Seen::default(), Instant::now());
        std::sync::Arc::make_mut(&mut snapshot.status).transport = Transport::Rolling;
        let mut look = |late, worst, seconds| {
            snapshot.stats.late = late;
            let timing = seen.timing(&snapshot, worst, start + Duration::from_secs(seconds));
            (timing.late, timing.worst_ns)
        };
        assert_eq!(look(0, 40, 0), (0, 0));
        assert_eq!(look(2, 9000, 1), (2, 9000));
        assert_eq!(look(2, 50, 10), (2, 9000));
        assert_eq!(look(2, 50, 11), (0, 0));
        assert_eq!(look(3, 7000, 12), (1, 7000));
    }

    #[test]
    fn a_folder_is_asked_for_and_shown_once_it_is_read() {
        let (metre, tempo) = (chaconne_time::Metre::common(), chaconne_time::Tempo::DEFAULT);
        let song = crate::files::empty_song("test", 4, metre, tempo).unwrap();
        let rig = Rig::start(song, RigConfig::default()).unwrap();
        let place = tempfile::tempdir().unwrap();
        std::fs::write(place.path().join("tide.ron"), "").unwrap();
        let mut seen = Seen::default();
        let mut answer = |number, path: &Path| {
            rig.browse(number, Some(path.into()));
            let start = Instant::now();
            while start.elapsed() < Duration::from_secs(20) {
                let answer = seen.folder(rig.snapshot().folder.as_deref());
                if let Some(answer) = answer.filter(|answer| answer.number == number) {
                    return answer;
                }
                std::thread::sleep(Duration::from_millis(1));
            }
            panic!("no answer");
        };
        let first = answer(1, place.path());
        let songs = first.folder.as_ref().unwrap().entries.iter();
        assert!(songs.map(|entry| entry.name.as_str()).any(|name| name == "tide.ron"));
        let gone = answer(2, &place.path().join("gone"));
        assert!(gone.folder.as_ref().unwrap_err().contains("cannot be read"), "{gone:?}");
        assert!(Arc::ptr_eq(&gone, &seen.folder(rig.snapshot().folder.as_deref()).unwrap()));
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
}
