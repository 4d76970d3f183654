//! The status: what a front end knows of the engine.

use crate::{ByHand, Click, KeyOf, Mode, Position, Rounds, When};
use chaconne_song::{Label, Letter, Levels, Pass, PassId, Song, TrackId, Transpose, U7};
use chaconne_time::{Metre, Place, Tempo, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::Arc;

/// What the transport is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Transport {
    /// It is stopped.
    #[default]
    Stopped,
    /// It plays the count-in, before the music begins.
    CountingIn,
    /// It plays.
    Rolling,
}

/// What the time waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Waits {
    /// The next beat given by hand.
    Beat,
    /// A tap, at the end of a fermata's beat.
    Fermata,
}

/// What undo would undo, or what redo would redo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Turn {
    /// A change of key that is still to come.
    KeyChange,
    /// The unfinished round, which is in no pass.
    UnfinishedRound,
    /// A step of the history, the track that all of it is about, if it is one, and the section, if it is
    /// one and the song has several.
    Step(Label, Option<TrackId>, Option<Letter>),
}

impl fmt::Display for Turn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Turn::KeyChange => f.pad("coming key change"),
            Turn::UnfinishedRound => f.pad("unfinished round"),
            Turn::Step(label, ..) => label.fmt(f),
        }
    }
}

/// A change of key that is still to come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyChange {
    /// Whether it waits for a seam, a bar or a beat.
    pub when: When,
    /// The transport tick at which it comes.
    pub at: Tick,
    /// The new transposition of the song, or of each section that gets one.
    pub to: BTreeMap<KeyOf, Transpose>,
}

/// The state of the clock that is followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum LeaderClock {
    /// No pulse has come from it yet.
    #[default]
    Absent,
    /// Pulses come, but no even line through them has been found yet.
    Locking,
    /// Pulses come, and the line through them is known.
    Locked,
    /// Its pulses have stopped coming.
    Lost,
}

/// The clock that is followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Followed {
    /// The name of its input.
    pub name: String,
    /// Its state.
    pub clock: LeaderClock,
    /// Its tempo, once known.
    pub tempo: Option<Tempo>,
    /// Whether it sets the tempo of the transport now.
    pub leads: bool,
    /// Whether recording begins with its next start.
    pub record_waits: bool,
}

/// The state of the engine at a moment. Cheap to copy: the song is shared.
#[derive(Debug, Clone)]
pub struct Status {
    /// The song, without the unfinished round.
    pub song: Arc<Song>,
    /// The number of changes of the song so far.
    pub revision: u64,
    /// What the transport is doing.
    pub transport: Transport,
    /// The transport tick: 0 at bar one of the first section, negative in a count-in that leads there. While
    /// stopped, the position that was kept.
    pub at: Tick,
    /// The section that plays; while stopped, the section shown.
    pub section: Letter,
    /// The section that comes after this round on the route, if it is known; the same one if another
    /// round of it follows. `None` in a loop without an end.
    pub next_section: Option<Letter>,
    /// Ticks since the top of the section. In the count-in, what is left of it lies before `begins`.
    pub in_section: Tick,
    /// The same position as bar, beat and tick. In the count-in the bars count up from 1.
    pub place: Place,
    /// Where the music begins, in ticks since the top of the section: in the count-in, the bar that it leads to;
    /// while stopped, where playing and recording would begin; 0 while rolling.
    pub begins: Tick,
    /// The section in which the last take began, and the tick of the bar since its top, to record again from
    /// there. `None` if nothing was recorded yet.
    pub again: Option<(Letter, Tick)>,
    /// The length of the count-in in bars, 0..=4.
    pub count_in: u8,
    /// The round since the section was entered, from 0.
    pub round: u64,
    /// The position along the route, with bars and rounds counted from the route's start. `None` in
    /// the count-in and while stopped.
    pub along: Option<Position>,
    /// The round of the route as it was asked for, from 1, and of how many, if the route has an end: the form
    /// has one, a loop has none. `None` while the run has left the route. While stopped, where it goes on.
    pub in_form: Option<(i64, i64)>,
    /// Whether the form was left live, so that [`Command::BackToForm`](crate::Command::BackToForm) goes on
    /// where it was left.
    pub form_left: bool,
    /// The ticks until the section that plays is left; `None` if that is not known yet, and while stopped.
    pub leaves_in: Option<Tick>,
    /// Whether a route with an end starts again at its end.
    pub repeat: bool,
    /// The change of key that is still to come, if there is one.
    pub key_change: Option<KeyChange>,
    /// How the time is led by hand, if it is.
    pub by_hand: Option<ByHand>,
    /// What the time waits for, if it waits.
    pub waits: Option<Waits>,
    /// The tempo in force.
    pub tempo: Tempo,
    /// The metre in force.
    pub metre: Metre,
    /// Whether a take is on, also during its count-in or while it waits for the leader's start.
    pub recording: bool,
    /// What a new pass does to the layers under it.
    pub mode: Mode,
    /// Which rounds of a take are kept.
    pub rounds: Rounds,
    /// The track that is played and recorded.
    pub armed: Option<TrackId>,
    /// The keys that were down at the latest press, lowest first, each once, as they sound.
    pub struck: Arc<[U7]>,
    /// Whether any key is down.
    pub holds: bool,
    /// The tracks that are soloed.
    pub solo_tracks: BTreeSet<TrackId>,
    /// The passes that are soloed.
    pub solo_passes: BTreeSet<PassId>,
    /// The levels in force now, of tracks that have them elsewhere than they set them: a pass or the
    /// player moves them. `None` for a level that is as the track sets it.
    pub moved_levels: BTreeMap<TrackId, Levels>,
    /// When the click is heard.
    pub click: Click,
    /// What has been assembled of the unfinished round.
    pub unfinished: Option<Arc<Pass>>,
    /// What undo would undo.
    pub undo: Option<Turn>,
    /// What redo would redo.
    pub redo: Option<Turn>,
    /// The last sentence for the user, and how many there have been.
    pub said: (u64, String),
    /// The clock that is followed, if any.
    pub followed: Option<Followed>,
    /// How many messages were heard but not recorded, for want of room.
    pub lost: u64,
}

impl Status {
    /// The number of the bar of the section where the music begins: in the count-in, the bar that it leads to.
    pub fn bar_to_begin(&self) -> i64 {
        let section = self.song.section(self.section);
        section.map_or(1, |section| section.metre.place(self.begins).bar)
    }
}
