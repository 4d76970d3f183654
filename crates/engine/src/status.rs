//! What a front end is told.

use crate::{Click, Mode, Position, Rounds};
use chaconne_song::{Label, Letter, Pass, PassId, Song, TrackId};
use chaconne_time::{Metre, Place, Tempo, Tick};
use std::collections::BTreeSet;
use std::fmt;
use std::sync::Arc;

/// What the transport does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Transport {
    /// Nothing moves.
    #[default]
    Stopped,
    /// The count-in before bar one.
    CountingIn,
    /// The loop goes round.
    Rolling,
}

/// What undo would undo, or redo redo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Turn {
    /// The unfinished round, which is in no pass.
    UnfinishedRound,
    /// A step of the history.
    Step(Label),
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Turn::UnfinishedRound => f.pad("unfinished round"),
            Turn::Step(label) => label.fmt(f),
        }
    }
}

/// How the clock that is followed is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum MasterClock {
    /// Nothing has come from it yet.
    #[default]
    Absent,
    /// Pulses come, and the line through them is being looked for.
    Locking,
    /// The line is found.
    Locked,
    /// No pulse comes any more.
    Lost,
}

/// The clock that is followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Followed {
    /// What it is called.
    pub name: String,
    /// How it is doing.
    pub clock: MasterClock,
    /// Its tempo, where that is known.
    pub tempo: Option<Tempo>,
    /// Whether the transport goes by it now.
    pub leads: bool,
    /// Whether recording begins with its next start.
    pub record_waits: bool,
}

/// The state of the engine at a moment. Cheap to copy: the song is shared.
#[derive(Debug, Clone)]
pub struct Status {
    /// The song as it stands, without the unfinished round.
    pub song: Arc<Song>,
    /// Goes up by one at each change of the song.
    pub revision: u64,
    /// What the transport does.
    pub transport: Transport,
    /// The transport tick: 0 at bar one of the first section, negative in the count-in. While
    /// stopped, the position that is kept.
    pub at: Tick,
    /// The section now playing, or shown while stopped.
    pub section: Letter,
    /// The section that follows at the next seam, where a jump is waiting.
    pub next_section: Option<Letter>,
    /// Ticks since the top of the section; in the count-in, negative.
    pub in_section: Tick,
    /// The same as bar, beat and tick. In the count-in the bar counts from 1 upwards.
    pub place: Place,
    /// How many bars the count-in has.
    pub count_in: u8,
    /// The round since the section was entered, from 0.
    pub round: u64,
    /// Where it is along the route it takes, its bars and rounds counted from the route's start.
    /// `None` in the count-in and while stopped.
    pub along: Option<Position>,
    /// The tempo in force.
    pub tempo: Tempo,
    /// The metre in force.
    pub metre: Metre,
    /// Whether a take is on (also while it is being counted in, or waits for another's start).
    pub recording: bool,
    /// How a new pass treats what lies under it.
    pub mode: Mode,
    /// Which rounds of a take are kept.
    pub rounds: Rounds,
    /// The track that is played and recorded.
    pub armed: Option<TrackId>,
    /// The tracks that are soloed.
    pub solo_tracks: BTreeSet<TrackId>,
    /// The passes that are soloed.
    pub solo_passes: BTreeSet<PassId>,
    /// When the click is heard.
    pub click: Click,
    /// The unfinished round as it stands, on the armed track.
    pub unfinished: Option<Arc<Pass>>,
    /// What undo would undo.
    pub undo: Option<Turn>,
    /// What redo would redo.
    pub redo: Option<Turn>,
    /// What was last said to the user, and how many such sentences there were.
    pub said: (u64, String),
    /// The clock that is followed, where there is one.
    pub followed: Option<Followed>,
    /// Messages that recording had no room for; they were heard.
    pub lost: u64,
}
