//! Every change that can be made to a song, each with its exact inverse.
//!
//! An edit is applied whole or refused whole. Applying it returns the edit that undoes it, which
//! restores ids and order too. An edit changes one field or one list entry, so its cost does not
//! grow with the rest of the song. It refuses what the song's text would refuse, so every song that
//! edits can make can be saved and opened again.

mod groove;
mod layers;
mod notes;
mod pass;
mod section;
mod song;
mod track;

use crate::{
    Channel, ChordSymbol, Compass, Feel, Form, GivenGroove, Groove, GrooveId, Human, KeySignature,
    KeysPlay, Lane, LaneId, Lean, Letter, Note, NoteId, PassId, Point, Section, Shape, SharedPass,
    Song, Stack, StepAt, Swing, SysEx, Track, TrackId, Transpose, U7, U14,
};
use chaconne_time::{MetreMap, NoteValue, Span, TempoMap, Tick};
use std::sync::Arc;

/// A change to a song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// Sets the title.
    Title(String),
    /// Sets or clears the key.
    Key(Option<KeySignature>),
    /// Transposes all pitched tracks.
    Transpose(Transpose),
    /// Sets the order of sections.
    Form(Form),
    /// Adds a track to the list of tracks.
    AddTrack {
        /// The index it gets in the list.
        at: usize,
        /// The track.
        track: Arc<Track>,
    },
    /// Removes a track, which must have no passes.
    RemoveTrack(TrackId),
    /// Moves a track to another index in the list of tracks.
    MoveTrack(TrackId, usize),
    /// Changes a field of a track.
    Track(TrackId, TrackEdit),
    /// Adds a groove to the list of grooves.
    AddGroove {
        /// The index it gets in the list.
        at: usize,
        /// The groove.
        groove: Arc<Groove>,
    },
    /// Removes a groove, which must not be given to any track or pass.
    RemoveGroove(GrooveId),
    /// Changes a groove, for every track and pass that it is given to.
    Groove(GrooveId, GrooveEdit),
    /// Adds a section to the list of sections.
    AddSection {
        /// The index it gets in the list.
        at: usize,
        /// The section. Its layers contain the new passes and passes of the song, which it then
        /// shares.
        section: Arc<Section>,
        /// The new passes, each in one of its layers.
        passes: Vec<SharedPass>,
    },
    /// Removes a section, which must not be the only one or in the form. Passes that no other
    /// section contains are removed with it.
    RemoveSection(Letter),
    /// Moves a section to another index in the list of sections.
    MoveSection(Letter, usize),
    /// Changes a field of a section, or its layers.
    Section(Letter, SectionEdit),
    /// Changes a pass, in every section that contains it.
    Pass(PassId, PassEdit),
}

/// A change to a track: the new value of one field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TrackEdit {
    /// The name that musicians give it.
    Name(String),
    /// The port it plays on.
    Port(String),
    /// The channel it plays on.
    Channel(Option<Channel>),
    /// The bank, 0..=16383.
    Bank(Option<U14>),
    /// The program, 0..=127.
    Program(Option<U7>),
    /// Whether its keys are pitches rather than drums.
    Pitched(bool),
    /// The grid of its feel.
    Grid(Option<NoteValue>),
    /// How far notes are pulled to the grid, 0..=100 percent.
    Pull(u8),
    /// The swing of its feel.
    Swing(Swing),
    /// How near notes must be to be pulled, 0..=100 percent.
    Reach(u8),
    /// Whether rolls move together.
    Rolls(bool),
    /// The groove it is given.
    Groove(Option<GivenGroove>),
    /// Its human variation.
    Human(Human),
    /// Its volume; `None` leaves the instrument's.
    Volume(Option<U7>),
    /// Its pan; `None` leaves the instrument's.
    Pan(Option<U7>),
    /// Whether it is silent.
    Mute(bool),
    /// The length of a new pass; `None` for the section's.
    PassLength(Option<Tick>),
    /// The compass of its singer or player.
    Compass(Option<Compass>),
    /// What keys sound that are played on it.
    KeysPlay(KeysPlay),
    /// How many tones the chords of its keys have.
    ChordStack(Stack),
    /// The inversion of those chords, 0..=4.
    ChordInversion(u8),
    /// Whether they spread.
    ChordOpen(bool),
    /// Whether each moves as little as possible from the one before.
    ChordLeading(bool),
    /// The chord of a key; `None` for the one in the key.
    ChordKey(U7, Option<ChordSymbol>),
}

/// A change to a groove.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GrooveEdit {
    /// The name that musicians give it.
    Name(String),
    /// How a step leans; `None` if nothing was played on it.
    Step(StepAt, Option<Lean>),
}

/// A change to a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SectionEdit {
    /// Its letter, which changes in the form too.
    Letter(Letter),
    /// Its name.
    Name(String),
    /// Its key; `None` for the song's.
    Key(Option<KeySignature>),
    /// How far its pitched tracks are transposed.
    Transpose(Transpose),
    /// Its bars and metres.
    Metre(MetreMap),
    /// Its tempi.
    Tempo(TempoMap),
    /// Whether a fermata stands at a tick.
    Fermata(Tick, bool),
    /// The chord that begins at a tick; `None` removes it.
    Chord(Tick, Option<ChordSymbol>),
    /// Lays a pass into its stack.
    Lay {
        /// The index it gets; higher is nearer the top.
        at: usize,
        /// The pass.
        pass: Laid,
        /// Whether it is silent there.
        mute: bool,
    },
    /// Removes the layer of a pass, and the pass too if no other section contains it.
    Remove(PassId),
    /// Moves the layer of a pass to another index in the stack.
    Move(PassId, usize),
    /// Mutes or unmutes the layer of a pass.
    Mute(PassId, bool),
    /// Replaces the pass of a layer. Replacing a shared pass by a copy makes it the section's own.
    Replace(PassId, Laid),
}

/// The pass to put into a layer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Laid {
    /// A new pass; its content is sorted.
    New(SharedPass),
    /// A pass of another section, which is shared from then on.
    Shared(PassId),
    /// A copy of a pass.
    Copy {
        /// The pass to copy.
        of: PassId,
        /// The id of the copy.
        id: PassId,
    },
}

impl Laid {
    /// The id of the pass that it adds to the song; `None` if the pass is already in the song.
    pub fn new_id(&self) -> Option<PassId> {
        match self {
            Laid::New(pass) => Some(pass.id),
            Laid::Copy { id, .. } => Some(*id),
            Laid::Shared(_) => None,
        }
    }
}

/// A change to a pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PassEdit {
    /// Sets its name; empty for none.
    Name(String),
    /// Sets its feel; `None` for the track's.
    Feel(Option<Feel>),
    /// Sets its length.
    Length(Tick),
    /// Sets where it silences the passes of its track below it.
    Covers(Vec<Span>),
    /// Adds notes.
    AddNotes(Vec<Note>),
    /// Removes notes.
    RemoveNotes(Vec<NoteId>),
    /// Sets how long notes were held, once their releases are known.
    Played(Vec<Release>),
    /// Changes a field of notes, or sets it back to what was played.
    Place(Vec<(NoteId, Placement)>),
    /// Adds a lane.
    AddLane(Lane),
    /// Removes a lane.
    RemoveLane(LaneId),
    /// Sets where a lane owns its controller. All its points must be inside.
    LaneSpan(LaneId, Span),
    /// Adds a point to a lane.
    AddPoint(PointId, Point),
    /// Removes a point, which must not be the only one of its lane.
    RemovePoint(PointId),
    /// Sets the value of a point.
    PointValue(PointId, U14),
    /// Sets how a controller moves from a point to the next.
    PointShape(PointId, Shape),
    /// Adds a system-exclusive message. The number is its index among the messages at its tick.
    AddSysEx(usize, SysEx),
    /// Removes a system-exclusive message, by its index among the messages at its tick.
    RemoveSysEx(usize, Tick),
}

/// How long a note was held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Release {
    /// The note.
    pub note: NoteId,
    /// How long it was held, in ticks.
    pub length: Tick,
    /// The release velocity.
    pub release: U7,
}

/// The new value of one field of a note; `None` sets it back to what was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Placement {
    /// The start, from the pass's start.
    Start(Option<Tick>),
    /// The length in ticks.
    Length(Option<Tick>),
    /// The key.
    Key(Option<U7>),
    /// The velocity, 1..=127.
    Velocity(Option<U7>),
    /// The release velocity.
    Release(Option<U7>),
}

/// Identifies a point within its pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PointId {
    /// The lane it is in.
    pub lane: LaneId,
    /// Its position, from the pass's start.
    pub at: Tick,
    /// Its index among the points of the lane at the same tick.
    pub nth: usize,
}

/// Why an edit was refused; the song is unchanged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// There is no such track.
    #[error("there is no track {0}")]
    NoTrack(u32),
    /// There is no such groove.
    #[error("there is no groove {0}")]
    NoGroove(u32),
    /// There is no such section.
    #[error("there is no section {0}")]
    NoSection(Letter),
    /// There is no such pass.
    #[error("there is no pass {0}")]
    NoPass(u32),
    /// The section does not have the pass.
    #[error("pass {1} is not in section {0}")]
    NoLayer(Letter, u32),
    /// There is no such note.
    #[error("there is no note {1} in pass {0}")]
    NoNote(u32, u32),
    /// There is no such lane, point or message.
    #[error("{0}")]
    NotFound(String),
    /// The id, section letter or lane is already used.
    #[error("{0} is already in the song")]
    Taken(String),
    /// The index is past the end of the list.
    #[error("place {0} is past the end of the list")]
    NoPlace(usize),
    /// The song still needs what the edit would remove, or already has what it would add.
    #[error("{0}")]
    InUse(String),
    /// The song has as many as it can hold.
    #[error("{0}")]
    Full(String),
    /// A value is out of range; the message states the range.
    #[error("{0}")]
    Unfit(String),
}

impl Edit {
    /// Applies the edit to `song` and returns its inverse. On an error the song is unchanged.
    pub fn apply(self, song: &mut Song) -> Result<Edit, EditError> {
        match self {
            Edit::Title(title) => Ok(Edit::Title(std::mem::replace(&mut song.title, title))),
            Edit::Key(key) => Ok(Edit::Key(std::mem::replace(&mut song.key, key))),
            Edit::Transpose(to) => Ok(Edit::Transpose(std::mem::replace(&mut song.transpose, to))),
            Edit::Form(form) => song::set_form(song, form),
            Edit::AddTrack { at, track } => song::add_track(song, at, track),
            Edit::RemoveTrack(id) => song::remove_track(song, id),
            Edit::MoveTrack(id, to) => song::move_track(song, id, to),
            Edit::Track(id, edit) => track::apply(song, id, edit),
            Edit::AddGroove { at, groove } => groove::add(song, at, groove),
            Edit::RemoveGroove(id) => groove::remove(song, id),
            Edit::Groove(id, edit) => groove::apply(song, id, edit),
            Edit::AddSection { at, section, passes } => {
                song::add_section(song, at, section, passes)
            }
            Edit::RemoveSection(letter) => song::remove_section(song, letter),
            Edit::MoveSection(letter, to) => song::move_section(song, letter, to),
            Edit::Section(letter, edit) => section::apply(song, letter, edit),
            Edit::Pass(id, edit) => pass::apply(song, id, edit),
        }
    }

    /// Applies edits in order and returns the edits that undo them, in the order in which to apply
    /// them. If one is refused, those before it are undone.
    pub fn apply_all(
        edits: impl IntoIterator<Item = Edit>,
        song: &mut Song,
    ) -> Result<Vec<Edit>, EditError> {
        let mut inverses = Vec::new();
        for edit in edits {
            match edit.apply(song) {
                Ok(inverse) => inverses.push(inverse),
                Err(error) => {
                    for inverse in inverses.into_iter().rev() {
                        inverse.apply(song)?;
                    }
                    return Err(error);
                }
            }
        }
        inverses.reverse();
        Ok(inverses)
    }

    /// The ids of the tracks, grooves and passes that the edit adds to the song.
    pub fn new_ids(&self) -> Vec<u32> {
        use SectionEdit as S;
        match self {
            Edit::AddTrack { track, .. } => vec![track.id.0],
            Edit::AddGroove { groove, .. } => vec![groove.id.0],
            Edit::AddSection { passes, .. } => passes.iter().map(|pass| pass.id.0).collect(),
            Edit::Section(_, S::Lay { pass, .. } | S::Replace(_, pass)) => {
                pass.new_id().map(|id| id.0).into_iter().collect()
            }
            _ => Vec::new(),
        }
    }

    /// The edit that lays a new pass into a section's stack, at an index.
    pub fn lay(section: Letter, at: usize, pass: impl Into<SharedPass>) -> Edit {
        let pass = Laid::New(pass.into());
        Edit::Section(section, SectionEdit::Lay { at, pass, mute: false })
    }
}

/// Replaces a value and returns the old one.
fn swap<T>(field: &mut T, value: T) -> T {
    std::mem::replace(field, value)
}

/// The error for a pass that breaks a rule.
fn in_pass(id: PassId, broken: String) -> EditError {
    EditError::Unfit(format!("pass {}: {broken}", id.0))
}

/// The pass with its content sorted.
fn in_order(mut pass: SharedPass) -> SharedPass {
    if !pass.is_in_order() {
        Arc::make_mut(&mut pass).sort();
    }
    pass
}

#[cfg(test)]
mod tests;
