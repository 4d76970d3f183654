//! What a front end can ask of the engine.

use crate::Route;
use chaconne_song::{Commit, Edit, Feel, Letter, PassId, SectionEdit, Song, TrackId, U7};
use chaconne_time::{NoteValue, Tempo, Tick};

/// How a new pass treats what lies under it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Mode {
    /// It is laid on top; what is under it goes on.
    #[default]
    Layer,
    /// From its first note in each bar, what is under it is silent to the end of that bar.
    Replace,
    /// From record on to record off, what is under it is silent.
    Punch,
}

impl Mode {
    /// The one after it, round and round.
    pub fn next(self) -> Mode {
        match self {
            Mode::Layer => Mode::Replace,
            Mode::Replace => Mode::Punch,
            Mode::Punch => Mode::Layer,
        }
    }
}

/// Which rounds of a take are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Rounds {
    /// Each round that has notes adds a pass.
    #[default]
    All,
    /// Each round that has notes silences the one before.
    Newest,
    /// The whole take is one pass, as many rounds long as it took.
    One,
}

impl Rounds {
    /// The one after it, round and round.
    pub fn next(self) -> Rounds {
        match self {
            Rounds::All => Rounds::Newest,
            Rounds::Newest => Rounds::One,
            Rounds::One => Rounds::All,
        }
    }
}

/// When the click is heard. The count-in always has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Click {
    /// In the count-in only.
    CountIn,
    /// While recording.
    #[default]
    Recording,
    /// Whenever the loop goes round.
    Always,
}

impl Click {
    /// The one after it, round and round.
    pub fn next(self) -> Click {
        match self {
            Click::CountIn => Click::Recording,
            Click::Recording => Click::Always,
            Click::Always => Click::CountIn,
        }
    }
}

/// A setting with a few values, which a request can move on to the next one. The engine reads what
/// it is now, so that two requests made in one moment move it on twice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Setting {
    /// How a new pass treats what lies under it.
    Mode,
    /// Which rounds of a take are kept.
    Rounds,
    /// When the click is heard.
    Click,
    /// Whether a track is muted.
    MuteTrack(TrackId),
    /// Whether a track is soloed.
    SoloTrack(TrackId),
    /// Whether a track is quantised: to this grid, where it is off now.
    Quantise(TrackId, NoteValue),
}

/// A request about the music. All of them take effect at once unless they say otherwise.
#[derive(Debug, Clone)]
pub enum Command {
    /// Rolls from the top, after the count-in when recording; nothing where it rolls already.
    Play,
    /// Rolls along a route from its start, and stops at its end.
    PlayRoute(Route),
    /// The same from a tick of the route on, brought down to a sixteenth, without a count-in:
    /// other gear is told the position and to continue. Refused for a tick that the route does
    /// not have, and where another's clock is followed.
    PlayFrom(Route, Tick),
    /// Stops, releases all that sounds, and keeps the position, down to the sixteenth.
    Stop,
    /// Rolls on from the position that is kept, without a count-in; nothing where it rolls.
    Continue,
    /// While stopped, takes a position in the section shown: a tick from its top, brought down to
    /// a sixteenth and into the section. Refused while it rolls.
    Locate(Tick),
    /// While stopped, goes so many bars on, or back where it is negative: to the start of a bar of
    /// the section shown. From inside a bar the first step back is to its own start. Refused while
    /// it rolls.
    LocateBars(i32),
    /// How many bars are counted in, 0..=4.
    CountIn(u8),
    /// When the click is heard.
    Click(Click),
    /// Starts or ends a take. Rolls, after the count-in, where the transport is stopped.
    Record(bool),
    /// How a new pass treats what lies under it.
    Mode(Mode),
    /// Which rounds of a take are kept.
    Rounds(Rounds),
    /// Makes a pass of what was played without recording.
    Keep,
    /// Undoes the unfinished round, else the last change.
    Undo,
    /// Redoes what was undone last.
    Redo,
    /// Removes the armed track's top pass in the current section.
    RemoveTop,
    /// Sends what is played to a track, and records onto it.
    Arm(TrackId),
    /// Silences a track; part of the song.
    MuteTrack(TrackId, bool),
    /// Silences a pass in a section, whichever plays; part of the song.
    MutePass(Letter, PassId, bool),
    /// Lets only the tracks that are soloed sound; not part of the song.
    SoloTrack(TrackId, bool),
    /// Lets only the passes that are soloed sound on their track; not part of the song.
    SoloPass(PassId, bool),
    /// How a track is corrected.
    Feel(TrackId, Feel),
    /// The program a track's instrument is set to; `None` gives it up, and its channel goes back to
    /// program 1, which an instrument of General MIDI starts with.
    Program(TrackId, Option<U7>),
    /// Lets a track be heard with another program for now; not part of the song. `None` ends that:
    /// it is heard as the song has it.
    Audition(TrackId, Option<U7>),
    /// The tempo of the current section where it now is; its other tempi move in proportion.
    Tempo(Tempo),
    /// The same by so many whole beats per minute, in the note value that the metre counts; slower
    /// where it is negative.
    StepTempo(i32),
    /// Moves a setting on to its next value.
    Next(Setting),
    /// A tap; the second and later ones in time set the tempo.
    Tap,
    /// Goes to another section at the next seam, or from the seam just past within a beat of it.
    Jump(Letter),
    /// Any other change of the song, a step of undo.
    Edit(Commit),
    /// The same as one of a run: it is undone together with those just before it that set the
    /// same things under the same label, as while a key is held that moves a note.
    EditOn(Commit),
    /// Adds a track at the end, arms it, and gives it what it needs.
    AddTrack {
        /// What musicians call it.
        name: String,
        /// Whether it is a drum track.
        drums: bool,
        /// The program its instrument is set to, if any.
        program: Option<U7>,
    },
    /// Puts another song in this one's place; undo starts anew.
    Open(Box<Song>),
    /// Releases everything that sounds, through-played keys too.
    Panic,
}

impl Command {
    /// Whether it needs the rounds that are over to be passes: it is about passes, about what is
    /// recorded and how, or about where the transport is. Any other leaves a round open until
    /// what was played in it and comes late has come too.
    pub(crate) fn is_about_passes(&self) -> bool {
        match self {
            Command::Play | Command::PlayRoute(_) | Command::Stop | Command::Continue => true,
            Command::PlayFrom(..) => true,
            Command::Locate(_) | Command::LocateBars(_) | Command::Jump(_) | Command::Open(_) => {
                true
            }
            Command::Record(_) | Command::Mode(_) | Command::Rounds(_) | Command::Keep => true,
            Command::Undo | Command::Redo | Command::RemoveTop => true,
            Command::Arm(_) | Command::AddTrack { .. } => true,
            Command::MutePass(..) | Command::SoloPass(..) => true,
            Command::Edit(commit) | Command::EditOn(commit) => {
                commit.edits.iter().any(is_about_passes)
            }
            Command::Next(Setting::Mode | Setting::Rounds) => true,
            Command::Next(_) => false,
            Command::CountIn(_) | Command::Click(_) | Command::Tap => false,
            Command::Tempo(_) | Command::StepTempo(_) => false,
            Command::MuteTrack(..) | Command::SoloTrack(..) | Command::Feel(..) => false,
            Command::Program(..) | Command::Audition(..) => false,
            Command::Panic => false,
        }
    }
}

/// Whether an edit needs the rounds that are over to be passes.
fn is_about_passes(edit: &Edit) -> bool {
    use SectionEdit as S;
    !matches!(
        edit,
        Edit::Title(_)
            | Edit::Key(_)
            | Edit::Track(..)
            | Edit::Section(_, S::Name(_) | S::Key(_) | S::Tempo(_) | S::Chord(..))
    )
}
