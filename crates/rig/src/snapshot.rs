//! Snapshots: the state of everything, for the screen or any other front end; and the closing
//! summary.

use crate::PortReport;
use crate::exports::ExportReport;
use crate::fingerprint::Fingerprint;
use crate::folders::FolderReport;
use crate::newest::Answer;
use crate::replace::{Guard, WriteError};
use crate::rescue::{RescueCopy, rescue_copy};
use crate::songs::SongRead;
use chaconne_engine::Status;
use chaconne_ports::Stats;
use chaconne_song::Song;
use chaconne_sound::{Desk, Meters};
use chaconne_time::Ns;
use std::path::PathBuf;
use std::sync::Arc;

/// The state of everything at one moment.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// The engine's state.
    pub status: Arc<Status>,
    /// The ports: the outputs in the order of the configuration, then the inputs.
    pub ports: Vec<PortReport>,
    /// The built-in instrument's level and meters; `None` if it is not among the outputs.
    pub sound: Option<SoundReport>,
    /// The song's file.
    pub disk: Disk,
    /// What the scheduler counted.
    pub stats: Stats,
    /// Orders that wait for room in the scheduler's queue.
    pub waiting: usize,
    /// Messages that found the queue to the engine full: heard, but not recorded.
    pub unheard: u64,
    /// How long the lateness of pulses, notes and through-played messages has been counted, in
    /// nanoseconds.
    pub counted: Ns,
    /// How exports are going.
    pub export: ExportReport,
    /// The answer to a request for a folder, the latest that there is.
    pub folder: Option<Arc<Answer<FolderReport>>>,
    /// The answer to a request for a song, the latest that there is.
    pub read: Option<Arc<Answer<SongRead>>>,
}

impl Snapshot {
    /// Whether there are unsaved changes.
    pub fn is_unsaved(&self) -> bool {
        self.disk.differs(&self.status)
    }
}

/// How loud the built-in instrument is, in decibels relative to full scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoundReport {
    /// The overall level, 0 at most; `None` when off.
    pub level: Option<f32>,
    /// Left and right: the falling peak, -120 at least.
    pub peak: [f32; 2],
    /// Left and right: the recent peak, -120 at least.
    pub held: [f32; 2],
    /// By how many decibels the limiter turns the mix down; 0 when it does nothing.
    pub limited: f32,
}

impl SoundReport {
    /// The report of a desk.
    pub(crate) fn of(desk: &Desk) -> SoundReport {
        let (level, meters) = (desk.level(), desk.meters());
        SoundReport {
            level: (!level.is_off()).then(|| level.db()),
            peak: meters.peak.map(Meters::db),
            held: meters.held.map(Meters::db),
            limited: 0.0 - Meters::db(meters.gain),
        }
    }
}

/// The state of the song's file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Disk {
    /// The song's file, which may not exist yet; `None` if the song has none.
    pub path: Option<PathBuf>,
    /// The revision in the file; for a song without a file, the one it began with.
    pub saved: u64,
    /// The revision of the song when it was opened.
    pub opened: u64,
    /// Why the last save failed; `None` after one that succeeded.
    pub error: Option<WriteError>,
    /// Why the last save to the song's own file failed. A failed save to another file does not
    /// change it.
    pub own_error: Option<WriteError>,
    /// The song of that revision, if it is known: undo can lead back to it.
    pub(crate) song: Option<Arc<Song>>,
    /// Goes up by one after each save, successful or not.
    pub attempts: u64,
    /// The newest rescue copy of the song, left by an interrupted session, for the screen to offer.
    /// `None` once it is restored or removed, or a save has made it older than the song.
    pub rescue: Option<RescueCopy>,
    /// The rescue copy that the song was restored from; the next successful save removes it.
    pub restored: Option<PathBuf>,
    /// What the song's file held when it was read or written last.
    pub(crate) held: Option<Fingerprint>,
}

impl Disk {
    /// Whether the song has a file that exists, as far as is known.
    pub fn exists(&self) -> bool {
        self.path.is_some() && self.saved != Disk::NEVER
    }

    /// The revision of a song whose file does not exist yet; no song ever has it.
    pub const NEVER: u64 = u64::MAX;

    /// The state for a song that was just opened from `path`, or is new and has no file.
    pub(crate) fn opened(path: Option<PathBuf>, revision: u64, guard: &Guard) -> Disk {
        let rescue = path.as_deref().and_then(|path| rescue_copy(Some(path)));
        let (saved, opened, held) = (revision, revision, guard.held());
        Disk { path, saved, opened, rescue, held, ..Disk::default() }
    }

    /// Whether ending the program now would lose changes. An untouched empty song is no loss,
    /// although no file holds it.
    pub(crate) fn would_lose(&self, status: &Status) -> bool {
        let is_touched = status.revision != self.opened || self.restored.is_some();
        is_touched && self.differs(status)
    }

    /// Whether the song is another than the saved one; undo can lead back to that.
    fn differs(&self, status: &Status) -> bool {
        status.revision != self.saved && self.song.as_ref() != Some(&status.song)
    }
}

/// The figures of a run, once everything is released and the scheduler has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Summary {
    /// Messages sent, on all ports together.
    pub sent: u64,
    /// Messages sent more than a millisecond late.
    pub late: u64,
    /// The worst lateness of a message, in nanoseconds.
    pub worst: Ns,
    /// Notes still sounding: 0, unless a port did not take its note-offs.
    pub sounding: usize,
    /// Messages and orders that found a port or a queue full.
    pub dropped: u64,
    /// Messages for ports with nothing connected at the other end.
    pub to_nobody: u64,
}

impl Summary {
    /// The summary of these statistics.
    pub fn of(stats: &Stats) -> Summary {
        let at_ports: u64 = stats.ports.iter().map(|port| port.dropped).sum();
        let to_nobody: u64 = stats.ports.iter().map(|port| port.to_nobody).sum();
        Summary {
            sent: stats.sent,
            late: stats.late,
            worst: stats.worst,
            sounding: stats.sounding,
            dropped: stats.dropped + at_ports.saturating_sub(to_nobody),
            to_nobody,
        }
    }
}

impl std::fmt::Display for Summary {
    /// One line: `events sent 120, late 0, worst 0.12 ms late, notes left sounding: 0`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Summary { sent, late, worst, sounding, dropped, to_nobody } = self;
        let (whole, part) = (worst / 1_000_000, worst / 10_000 % 100);
        write!(f, "events sent {sent}, late {late}, worst {whole}.{part:02} ms late, ")?;
        if *dropped > 0 {
            write!(f, "dropped {dropped}, ")?;
        }
        if *to_nobody > 0 {
            write!(f, "{to_nobody} to a port with nothing connected, ")?;
        }
        write!(f, "notes left sounding: {sounding}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_sound::{Decibels, Font, Mix};

    #[test]
    fn the_instrument_is_reported_in_decibels() {
        let mut mix = Mix::new(&Font::standard(), 48_000).unwrap();
        let desk = mix.desk();
        let still = SoundReport::of(&desk);
        let least = [-120.0; 2];
        assert_eq!((still.level, still.peak, still.held), (Some(-12.0), least, least));
        assert_eq!(still.limited, 0.0);
        desk.set_level(Decibels::new(-60.0));
        assert_eq!(SoundReport::of(&desk).level, None);
        desk.set_level(Decibels::new(0.0));
        // Ten loud keys at once are more than full scale.
        for key in 48..58 {
            mix.message(&[0x90, key, 127]);
        }
        let (mut left, mut right) = ([0.0; 4800], [0.0; 4800]);
        mix.render(&mut left, &mut right);
        let loud = SoundReport::of(&desk);
        assert!(loud.limited > 0.1, "{loud:?}");
        for side in 0..2 {
            assert!((-6.0..=-1.0).contains(&loud.held[side]), "{loud:?}");
            assert!(loud.peak[side] <= loud.held[side], "{loud:?}");
        }
    }

    #[test]
    fn the_summary_is_one_line() {
        let mut summary = Summary { sent: 120, worst: 1_234_567, ..Summary::default() };
        assert_eq!(
            summary.to_string(),
            "events sent 120, late 0, worst 1.23 ms late, notes left sounding: 0"
        );
        (summary.dropped, summary.sounding) = (3, 1);
        assert!(summary.to_string().ends_with("dropped 3, notes left sounding: 1"));
        (summary.dropped, summary.to_nobody) = (0, 30);
        let end = "late, 30 to a port with nothing connected, notes left sounding: 1";
        assert!(summary.to_string().ends_with(end));
    }
}
