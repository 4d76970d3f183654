//! The desk: all that the screen knows of what it drives.
//!
//! In: nothing. Out: the trait that whoever starts the screen implements, and the plain values
//! that cross it. What the desk does with a request, on which thread and when, is up to the desk;
//! the screen sees the outcome in the next [`DeskState`].

mod export;
mod files;
mod health;

use crate::start::Start;
use chaconne_engine::{Command, Status, Transport};
use chaconne_song::{Letter, Section, Song, U7};
use chaconne_time::{Metre, MetreMap, Tempo, TimeError};
use std::sync::Arc;
use std::time::Duration;

pub use export::{Export, ExportKind, ExportOutcome, ExportRun, ExportSpec};
pub use files::{EntryKind, FileEntry, Folder, FolderAnswer, SongAnswer, SongRead, SongRequest};
pub use health::{Health, Lateness, PortFacts};

/// What the screen drives. Every call but [`Desk::silence`] returns at once.
///
/// The screen calls from one thread only, and asks for a [`DeskState`] up to sixty times a second.
pub trait Desk {
    /// Asks for something about the music.
    fn command(&self, command: Command);

    /// Taps the tempo; the tap was made so long ago.
    fn tap(&self, ago: Duration);

    /// Presses or lifts a key of the computer keyboard, as if it had come in on a port. The screen
    /// lifts every key it pressed, also when it leaves piano mode and when it ends.
    fn play(&self, key: LiveKey);

    /// Asks for the song to be saved to `path`; with `None`, to the file it was saved to last.
    /// Without `replace` it overwrites only what this program wrote itself. The outcome is in
    /// [`DeskState::disk`].
    fn save(&self, path: Option<&str>, replace: bool);

    /// Asks for the rescue copy to be removed.
    fn remove_rescue(&self);

    /// Asks for a new song in the place of the one at hand. The screen has asked about unsaved
    /// work before.
    fn new_song(&self, spec: NewSong);

    /// Asks for the songs and folders in a folder, by its path in full; with `None`, in that of the
    /// song. The answer is in [`DeskState::folder`], with the same number, once the disk gives it. A
    /// later request takes the place of one that has no answer yet.
    fn browse(&self, number: u64, path: Option<&str>);

    /// Asks for a song to be read, and to be opened, restored or compared. The answer is in
    /// [`DeskState::read`], with the same number, once the disk gives it. A later request takes the
    /// place of one that has no answer yet.
    fn read(&self, number: u64, request: SongRequest);

    /// Asks for an export of the song as it is now. How it goes is in [`DeskState::export`].
    fn export(&self, spec: ExportSpec);

    /// Asks for the export that runs to be cancelled.
    fn cancel_export(&self);

    /// Releases everything that sounds, and returns when that is sent (or cannot be). Called before
    /// the program is suspended.
    fn silence(&self);

    /// Turns the built-in sound a step up or down, as far as it goes; does nothing if there is
    /// none. The desk decides how far a step goes.
    fn level(&self, step: LevelStep);

    /// Counts how late messages are afresh: [`DeskState::health`] starts at nothing.
    fn restart_timing(&self);

    /// The state. Cheap: it copies a few words and shares the rest.
    fn state(&self) -> DeskState;

    /// Whether the screen has been asked to end, by a signal for instance.
    fn quit_requested(&self) -> bool;
}

/// A key of the computer keyboard played as a note. The armed track gives port and channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LiveKey {
    /// A key goes down.
    Press {
        /// The key; 60 is middle C.
        key: U7,
        /// How hard, 1..=127.
        velocity: U7,
    },
    /// A key goes up.
    Lift {
        /// The key.
        key: U7,
    },
}

/// A step of the sound's level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LevelStep {
    /// Down.
    Softer,
    /// Up.
    Louder,
}

/// What a new song starts from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewSong {
    /// What it is called.
    pub title: String,
    /// Its tempo.
    pub tempo: Tempo,
    /// Its metre.
    pub metre: Metre,
    /// How many bars its first section has, 1..=999.
    pub bars: u32,
    /// Which tracks it has.
    pub start: Start,
}

impl NewSong {
    /// The song: one section A, and the tracks that it starts from.
    ///
    /// # Errors
    /// If `bars` is outside 1..=999.
    pub fn song(&self) -> Result<Song, TimeError> {
        let metre = MetreMap::new(self.bars, self.metre.clone())?;
        let mut song = Song::new(&self.title, Section::new(Letter::A, metre, self.tempo));
        self.start.add_tracks(&mut song);
        Ok(song)
    }
}

/// The state of everything at a moment.
#[derive(Debug, Clone)]
pub struct DeskState {
    /// The engine.
    pub status: Status,
    /// The ports in use.
    pub ports: Vec<PortLine>,
    /// The built-in sound; `None` if nothing plays on it.
    pub sound: Option<SoundLine>,
    /// The drum kits to choose from.
    pub kits: Kits,
    /// The song's file.
    pub disk: Disk,
    /// How exports are going.
    pub export: Export,
    /// The latest answer to a request for a folder.
    pub folder: Option<Arc<FolderAnswer>>,
    /// The latest answer to a request for a song.
    pub read: Option<Arc<SongAnswer>>,
    /// How well the output keeps time, in short.
    pub timing: Timing,
    /// The same at length, and more about the ports.
    pub health: Health,
}

impl DeskState {
    /// Whether the transport goes along the song.
    pub fn is_playing(&self) -> bool {
        self.status.transport == Transport::Rolling
    }

    /// Whether anything that is sent can be heard.
    pub fn has_output(&self) -> bool {
        let is_out = |port: &PortLine| port.direction == Direction::Out && port.state.is_open();
        self.ports.iter().any(is_out)
    }
}

/// One port and its health.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortLine {
    /// Its name, as the musician chose it.
    pub name: String,
    /// Which way it goes.
    pub direction: Direction,
    /// Its health.
    pub state: PortState,
    /// More, if there is more to say; else empty.
    pub detail: String,
}

/// Which way a port goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Direction {
    /// What is played comes in.
    In,
    /// What sounds goes out.
    Out,
}

/// The health of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PortState {
    /// Open and working.
    Ok,
    /// Open, but it takes or gives less than it should.
    Slow,
    /// Open, but it takes nothing any more.
    Stalled,
    /// Nothing is at the other end yet; it is used as soon as something is.
    Waiting,
    /// It was connected and is gone, or it could not be opened.
    Lost,
    /// There is none: nothing is heard.
    None,
}

impl PortState {
    /// Whether what is sent there can be heard.
    pub fn is_open(self) -> bool {
        matches!(self, PortState::Ok | PortState::Slow | PortState::Stalled)
    }

    /// The word on the screen.
    pub fn word(self) -> &'static str {
        match self {
            PortState::Ok => "ok",
            PortState::Slow => "slow",
            PortState::Stalled => "stalled",
            PortState::Waiting => "waiting",
            PortState::Lost => "lost",
            PortState::None => "silent",
        }
    }
}

/// The built-in sound: its level and its meters, in decibels under full scale.
///
/// Any value may come: below the range of the meters, or not a number, it is shown as silence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoundLine {
    /// The level of the whole, 0 at the most; `None` if it is off.
    pub level: Option<f32>,
    /// Left and right: the peak, falling.
    pub peak: [f32; 2],
    /// Left and right: the highest peak, held for a moment.
    pub held: [f32; 2],
    /// By how many decibels the limiter turned down just now; `None` if it had nothing to do.
    pub limited: Option<f32>,
}

/// The drum kits to choose from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum Kits {
    /// Not known: other gear plays the drums, and any number may be right.
    #[default]
    Any,
    /// Those in the font of the built-in instrument, the lowest program first.
    Font(Arc<[Kit]>),
}

/// A drum kit of a font.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kit {
    /// The program that chooses it on a drum channel.
    pub program: U7,
    /// What the font calls it.
    pub name: String,
}

/// The song's file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Disk {
    /// Where it is saved; `None` if it never was.
    pub path: Option<String>,
    /// The name of the folder that it is in, if that is known.
    pub folder: Option<String>,
    /// Whether there are unsaved changes.
    pub unsaved: bool,
    /// What went wrong at the last save, in one sentence; `None` once one went well.
    pub error: Option<String>,
    /// Why the last save needs permission to replace a file, in one sentence; then there is an
    /// [`error`](Self::error), too.
    pub in_the_way: Option<String>,
    /// How the last save to the song's own file went. A save to another file that fails or is called
    /// off does not change it.
    pub own: OwnSave,
    /// Whether the song's file exists, as far as is known: a song can have a name for one only.
    pub exists: bool,
    /// The rescue copy of this song, from a session that did not end as it should: its file, and how
    /// old it is. `None` if there is none, once it is restored or removed, and after a save.
    pub rescue: Option<String>,
    /// Goes up by one whenever a save has ended, well or not.
    pub attempts: u64,
}

/// How the last save to a song's own file went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum OwnSave {
    /// Well, or there was none yet.
    #[default]
    Fine,
    /// It needs permission to replace what another program wrote there.
    Waits,
    /// It failed.
    Failed,
}

/// How well the output keeps time since that is counted, and what was late or lost since the
/// transport last started. Once nothing has been late for a while, what was is forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Timing {
    /// Half of all notes were sent at most so many nanoseconds after they were due; 0 before the
    /// first.
    pub p50_ns: u64,
    /// The same of 99 notes in 100.
    pub p99_ns: u64,
    /// The latest message of any kind among those since the transport started, in nanoseconds after
    /// it was due.
    pub worst_ns: u64,
    /// Messages late enough for that to be heard.
    pub late: u64,
    /// Messages for the clock that found its queue full, and are lost.
    pub queue_full: u64,
    /// Messages for the clock that wait for room in its queue now.
    pub waiting: u64,
    /// Messages that were played and heard, but came too fast to be recorded.
    pub unheard: u64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Bench, four_parts};

    #[test]
    fn the_lead_before_the_first_beat_shows_bar_one() {
        for (command, transport) in
            [(Command::Play, Transport::Rolling), (Command::Record(true), Transport::CountingIn)]
        {
            let mut bench = Bench::new(four_parts());
            bench.command(command);
            let settled = bench.state().status;
            assert_eq!((settled.transport, settled.place.bar), (transport, 1));
            assert_eq!(settled.place.beat, 1);
        }
    }

    #[test]
    fn a_new_song_is_one_empty_section() {
        let spec = NewSong {
            title: "plain".into(),
            tempo: Tempo::DEFAULT,
            metre: Metre::common(),
            bars: 4,
            start: Start::Empty,
        };
        let song = spec.song().unwrap();
        assert_eq!((song.sections.len(), song.tracks.len()), (1, 0));
        assert_eq!(song.sections[0].metre.bars(), 4);
        assert!(NewSong { bars: 1000, ..spec }.song().is_err());
    }
}
