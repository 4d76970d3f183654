//! Every change a song can undergo, each with its exact inverse.
//!
//! An edit is applied whole or refused whole. Applying it returns the edit that undoes it:
//! applied in turn, the song is what it was, ids and order included. An edit changes one field
//! and costs what that field costs, however long the song is. It refuses what the song's text
//! would refuse, so every song that edits can make can be saved and opened again.

mod layers;
mod notes;
mod pass;
mod section;
mod song;
mod track;

use crate::{
    Channel, ChordSymbol, Feel, Form, KeySignature, Lane, LaneId, Letter, Note, NoteId, PassId,
    Point, Section, Shape, SharedPass, Song, Swing, SysEx, Track, TrackId, Transpose, U7, U14,
};
use chaconne_time::{MetreMap, NoteValue, Span, TempoMap, Tick};
use std::sync::Arc;

/// A change to a song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// Gives the song another title.
    Title(String),
    /// Sets or clears the key.
    Key(Option<KeySignature>),
    /// Transposes all pitched tracks.
    Transpose(Transpose),
    /// Sets the order of sections.
    Form(Form),
    /// Adds a track at a place in the list of tracks.
    AddTrack {
        /// The index it gets.
        at: usize,
        /// The track.
        track: Arc<Track>,
    },
    /// Removes a track, which must have no pass left.
    RemoveTrack(TrackId),
    /// Changes a field of a track.
    Track(TrackId, TrackEdit),
    /// Adds a section at a place in the list of sections.
    AddSection {
        /// The index it gets.
        at: usize,
        /// The section. Its layers are of passes of the song, which it then shares, and of the
        /// new ones.
        section: Arc<Section>,
        /// The passes that are new, each in a layer.
        passes: Vec<SharedPass>,
    },
    /// Removes a section, which must not be the last one and not be in the form. Passes that
    /// no other section has are removed with it.
    RemoveSection(Letter),
    /// Changes a field of a section, or its layers.
    Section(Letter, SectionEdit),
    /// Changes a pass, in every section that has it.
    Pass(PassId, PassEdit),
}

/// A change to a track.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TrackEdit {
    /// What musicians call it.
    Name(String),
    /// The port it plays on.
    Port(String),
    /// The channel it plays on.
    Channel(Option<Channel>),
    /// The bank, 0..=16383.
    Bank(Option<U14>),
    /// The program, 0..=127.
    Program(Option<U7>),
    /// Whether its keys are pitches.
    Pitched(bool),
    /// The grid of its feel.
    Grid(Option<NoteValue>),
    /// How far notes are pulled, 0..=100 percent.
    Pull(u8),
    /// The swing of its feel.
    Swing(Swing),
    /// How near notes must be to be pulled, 0..=100 percent.
    Reach(u8),
    /// Whether rolls move together.
    Rolls(bool),
    /// Its volume.
    Volume(Option<U7>),
    /// Its pan.
    Pan(Option<U7>),
    /// Whether it is silent.
    Mute(bool),
    /// The length of a new pass, in ticks.
    PassLength(Option<Tick>),
}

/// A change to a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SectionEdit {
    /// Another letter, in the form too.
    Letter(Letter),
    /// What it is.
    Name(String),
    /// Its key.
    Key(Option<KeySignature>),
    /// How far its pitched tracks are transposed.
    Transpose(Transpose),
    /// Its bars and metres.
    Metre(MetreMap),
    /// Its tempi.
    Tempo(TempoMap),
    /// The chord that begins at a tick: set, replaced or, with nothing, removed.
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
    /// Removes the layer of a pass, and the pass too if no other section has it.
    Remove(PassId),
    /// Moves the layer of a pass to another place in the stack.
    Move(PassId, usize),
    /// Mutes or unmutes the layer of a pass.
    Mute(PassId, bool),
    /// Puts another pass into the layer of one: a copy makes the layer its section's own.
    Replace(PassId, Laid),
}

/// The pass of a layer that is laid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Laid {
    /// One that is new; its content is put into order.
    New(SharedPass),
    /// A pass of another section: it is shared from then on.
    Shared(PassId),
    /// A copy of one, under an id of its own.
    Copy {
        /// The pass that is copied.
        of: PassId,
        /// The id of the copy.
        id: PassId,
    },
}

impl Laid {
    /// The id of the pass that it adds to the song; none where the pass is there already.
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
    /// Gives it a feel of its own, or the track's.
    Feel(Option<Feel>),
    /// Sets its length.
    Length(Tick),
    /// Sets where it silences the passes under it.
    Covers(Vec<Span>),
    /// Adds notes.
    AddNotes(Vec<Note>),
    /// Removes notes.
    RemoveNotes(Vec<NoteId>),
    /// Sets how long notes were held, once their releases are known.
    Played(Vec<Release>),
    /// Places notes somewhere else, or back to where they were played.
    Place(Vec<(NoteId, Placement)>),
    /// Adds a lane.
    AddLane(Lane),
    /// Removes a lane.
    RemoveLane(LaneId),
    /// Sets where a lane owns its controller. Its points must lie inside.
    LaneSpan(LaneId, Span),
    /// Adds a point to a lane.
    AddPoint(PointId, Point),
    /// Removes a point, which must not be the only one of its lane.
    RemovePoint(PointId),
    /// Sets the value of a point.
    PointValue(PointId, U14),
    /// Sets how a controller gets from a point to the next.
    PointShape(PointId, Shape),
    /// Adds a system-exclusive message, as the `nth` of those at its tick, from 0.
    AddSysEx(usize, SysEx),
    /// Removes the `nth` system-exclusive message at a tick, from 0.
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

/// A field of a note that an edit places; `None` puts it back to what was played.
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

/// Names a point of a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PointId {
    /// The lane it is in.
    pub lane: LaneId,
    /// When it is.
    pub at: Tick,
    /// Which it is of those at the same tick, from 0.
    pub nth: usize,
}

/// Why an edit was refused; the song is unchanged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// There is no such track.
    #[error("there is no track {0}")]
    NoTrack(u32),
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
    Nothing(String),
    /// The id, letter or place is in use.
    #[error("{0} is already in the song")]
    Taken(String),
    /// The place in the list does not exist.
    #[error("place {0} is past the end of the list")]
    NoPlace(usize),
    /// The song must keep what was to be taken out.
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
            Edit::Track(id, edit) => track::apply(song, id, edit),
            Edit::AddSection { at, section, passes } => {
                song::add_section(song, at, section, passes)
            }
            Edit::RemoveSection(letter) => song::remove_section(song, letter),
            Edit::Section(letter, edit) => section::apply(song, letter, edit),
            Edit::Pass(id, edit) => pass::apply(song, id, edit),
        }
    }

    /// Applies edits in order and returns the edits that undo them, in the order to apply them.
    /// Where one is refused, those before it are undone again.
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

    /// The ids of the tracks and passes that the edit adds to the song.
    pub fn new_ids(&self) -> Vec<u32> {
        use SectionEdit as S;
        match self {
            Edit::AddTrack { track, .. } => vec![track.id.0],
            Edit::AddSection { passes, .. } => passes.iter().map(|pass| pass.id.0).collect(),
            Edit::Section(_, S::Lay { pass, .. } | S::Replace(_, pass)) => {
                pass.new_id().map(|id| id.0).into_iter().collect()
            }
            _ => Vec::new(),
        }
    }

    /// Lays a new pass on a section's stack, at an index.
    pub fn lay(section: Letter, at: usize, pass: impl Into<SharedPass>) -> Edit {
        let pass = Laid::New(pass.into());
        Edit::Section(section, SectionEdit::Lay { at, pass, mute: false })
    }
}

/// Replaces a value and returns the old one.
fn swap<T>(field: &mut T, value: T) -> T {
    std::mem::replace(field, value)
}

/// Says which pass a rule was broken in.
fn in_pass(id: PassId, broken: String) -> EditError {
    EditError::Unfit(format!("pass {}: {broken}", id.0))
}

/// A pass with its content in the order in which it is kept.
fn in_order(mut pass: SharedPass) -> SharedPass {
    if !pass.is_in_order() {
        Arc::make_mut(&mut pass).sort();
    }
    pass
}
