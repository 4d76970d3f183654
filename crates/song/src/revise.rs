//! Operations on notes: what a musician asks for, as a commit.
//!
//! In: [`Picked`] notes of one pass or several, and an amount. Out: a [`Commit`] whose edits make the
//! change, with the label that undo shows, or a sentence that says why it cannot be made. Nothing is
//! changed here. How notes were played is kept: operations set where they are placed. Only copies and
//! drawn notes are new, and those that are deleted go.
//!
//! A pass goes round, so a note that is moved past its end goes on at its start.

mod chords;
mod copy;
mod curve;
mod layer;
mod length;
mod merge;
mod shape;

use crate::{
    Commit, Edit, Label, Note, NoteId, Pass, PassEdit, PassId, Placement, SharedPass, Song, U7,
};
use chaconne_time::Tick;
use std::collections::BTreeSet;

pub use chords::chords as replace_chords;
pub use copy::{Clip, Pasted};
pub use curve::{Curve, Ramp};
pub use layer::SplitOff;
pub use length::Cut;
pub use merge::merge_layers;
pub use shape::{Around, Mirror};

/// Identifies a note within a song.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteRef {
    /// Its pass.
    pub pass: PassId,
    /// The note within it.
    pub note: NoteId,
}

/// Why notes were left as they are. Each is one fragment of a sentence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ReviseError {
    /// No note was picked.
    #[error("there is no note here")]
    Nothing,
    /// A note would leave the keys at the top.
    #[error("a note would be above G9, the highest key")]
    TooHigh,
    /// A note would leave the keys at the bottom.
    #[error("a note would be below C-1, the lowest key")]
    TooLow,
    /// The loudest of the notes has the highest velocity.
    #[error("the loudest note is at velocity 127 already")]
    Loudest,
    /// The softest of the notes has the lowest velocity.
    #[error("the softest note is at velocity 1 already")]
    Softest,
    /// A note would have no length.
    #[error("the shortest note is too short for that")]
    TooShort,
    /// A note would be longer than its pass.
    #[error("the longest note is as long as its layer already")]
    TooLong,
    /// A note would begin outside its pass.
    #[error("a note would begin after the end of its layer")]
    Outside,
    /// No note sounds across the place of the cut.
    #[error("no note sounds across this place, so there is nothing to split")]
    NoCut,
    /// There is no note to join with.
    #[error("no other note of this pitch follows")]
    NoNext,
    /// The notes are as the operation would leave them.
    #[error("these notes are like that already")]
    Same,
    /// No point was picked.
    #[error("there is no point here")]
    NoPoint,
    /// A point has the highest value of its controller.
    #[error("the value is the highest already")]
    Highest,
    /// A point has the lowest value.
    #[error("the value is 0 already, the lowest")]
    Lowest,
    /// A ramp has no length.
    #[error("a ramp needs an end after its start")]
    NoTime,
    /// A point would be outside its pass.
    #[error("this place is outside the layer")]
    OutsideLayer,
    /// The notes are all those of their layers.
    #[error("these are all the notes of their layer already")]
    OwnLayer,
    /// The pass cannot hold more notes.
    #[error("the layer is full")]
    Full,
    /// There is no layer to merge with.
    #[error("this is the bottom layer, so there is none below to merge it with")]
    NoLower,
    /// One of two layers is muted.
    #[error("one of the two layers is muted and the other is not")]
    OneMuted,
    /// The upper of two layers silences the lower one.
    #[error("this layer replaces what is below it")]
    Covers,
    /// Two layers have different feels.
    #[error("the two layers have different feels")]
    Feels,
    /// Of two layers, the longer is not a whole number of times as long as the other.
    #[error("the shorter layer does not go into the longer one a whole number of times")]
    Lengths,
    /// Two layers of different lengths have a groove or human variation, which count from the start of each.
    #[error(
        "the layers differ in length and have a groove or human variation: take those off first"
    )]
    FeelLengths,
    /// Two layers of different lengths are quantised to a grid that does not divide the shorter one, or a bar.
    #[error(
        "the layers differ in length, and their grid does not fit the shorter one: turn the grid off first"
    )]
    GridLengths,
    /// Strokes of one drum in two layers are as close as those of a roll.
    #[error("strokes of the two layers would become a flam: turn rolls off in their feel first")]
    NewRoll,
    /// Two layers move one controller.
    #[error("both layers move the same controller")]
    SameController,
    /// The shorter of two layers has more than notes, which goes round with it.
    #[error("the shorter layer has controllers or replaces what is below it")]
    ShortGesture,
}

/// Notes to be changed, of one pass or several.
#[derive(Debug, Clone, Default)]
pub struct Picked {
    /// Each pass with the picked notes of it, in the pass's order; at least one of each.
    passes: Vec<(SharedPass, Vec<Note>)>,
}

/// The earliest that a note moved to the left still counts as an early note of the same cycle: half a
/// sixteenth, as in the recorder.
const EARLY: Tick = Tick(120);

impl Picked {
    /// The notes of `passes` that `wanted` names; those that do not exist are left out.
    pub fn new<'a>(
        passes: impl IntoIterator<Item = &'a SharedPass>,
        wanted: &BTreeSet<NoteRef>,
    ) -> Picked {
        let of = |pass: &SharedPass| {
            let is_wanted =
                |note: &&Note| wanted.contains(&NoteRef { pass: pass.id, note: note.id });
            let notes: Vec<Note> = pass.notes().iter().filter(is_wanted).copied().collect();
            (!notes.is_empty()).then(|| (pass.clone(), notes))
        };
        Picked { passes: passes.into_iter().filter_map(of).collect() }
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.passes.iter().map(|(_, notes)| notes.len()).sum()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.passes.is_empty()
    }

    /// The first of them in time.
    pub fn first(&self) -> Option<NoteRef> {
        let (pass, note) = *self.in_time().first()?;
        Some(NoteRef { pass: pass.id, note: note.id })
    }

    fn notes(&self) -> impl Iterator<Item = &Note> + Clone {
        self.passes.iter().flat_map(|(_, notes)| notes)
    }

    /// The notes with their passes, in order of time.
    fn in_time(&self) -> Vec<(&SharedPass, &Note)> {
        let mut all: Vec<(&SharedPass, &Note)> = self
            .passes
            .iter()
            .flat_map(|(pass, notes)| notes.iter().map(move |note| (pass, note)))
            .collect();
        all.sort_by_key(|(pass, note)| {
            let stroke = note.stroke();
            (stroke.start, stroke.key, pass.id, note.id)
        });
        all
    }

    /// Moves them in time, round their passes.
    ///
    /// # Errors
    /// If there are none.
    pub fn shift(&self, by: Tick) -> Result<Commit, ReviseError> {
        self.place(Label::MoveNotes, |pass, note| {
            start(note, round(note.stroke().start, by, pass.length))
        })
    }

    /// Moves them by semitones.
    ///
    /// # Errors
    /// If one would leave the keys 0..=127.
    pub fn transpose(&self, semitones: i32) -> Result<Commit, ReviseError> {
        let keys = || self.notes().map(|note| i32::from(note.stroke().key.get()) + semitones);
        if keys().any(|key| key > 127) {
            return Err(ReviseError::TooHigh);
        }
        if keys().any(|key| key < 0) {
            return Err(ReviseError::TooLow);
        }
        self.place(Label::NoteKey, |_, note| {
            key(note, i32::from(note.stroke().key.get()) + semitones)
        })
    }

    /// Makes them harder or softer by as much, or by as much less as the loudest and the softest allow,
    /// so that their shading stays.
    ///
    /// # Errors
    /// If the loudest is at 127 already, or the softest at 1.
    pub fn louder(&self, by: i32) -> Result<Commit, ReviseError> {
        let of = |note: &Note| i32::from(note.stroke().velocity.get());
        let loudest = self.notes().map(of).max().ok_or(ReviseError::Nothing)?;
        let softest = self.notes().map(of).min().ok_or(ReviseError::Nothing)?;
        let by = by.clamp(1 - softest, 127 - loudest);
        match by {
            0 if loudest == 127 => Err(ReviseError::Loudest),
            0 => Err(ReviseError::Softest),
            _ => self.place(Label::Velocity, |_, note| velocity(note, of(note) + by)),
        }
    }

    /// Gives each the velocity that a ramp has where the note starts. `starts` says where that is; a note
    /// that it does not know keeps its velocity.
    ///
    /// # Errors
    /// If there are none.
    pub fn ramp(
        &self,
        ramp: &Ramp,
        starts: impl Fn(NoteRef) -> Option<Tick>,
    ) -> Result<Commit, ReviseError> {
        self.place(Label::VelocityRamp, |pass, note| {
            let at = starts(NoteRef { pass: pass.id, note: note.id });
            let to = at.map_or(note.stroke().velocity.get().into(), |at| ramp.value_at(at).get());
            velocity(note, i32::from(to.clamp(1, 127)))
        })
    }

    /// Puts them back where they were played, in every respect.
    ///
    /// # Errors
    /// If they are there already.
    pub fn as_played(&self) -> Result<Commit, ReviseError> {
        if self.notes().all(|note| note.placed.is_unchanged()) {
            return Err(self.nothing_or(ReviseError::Same));
        }
        let fields = [
            Placement::Start(None),
            Placement::Length(None),
            Placement::Key(None),
            Placement::Velocity(None),
            Placement::Release(None),
        ];
        let edits = self.passes.iter().flat_map(|(pass, notes)| {
            let moved = |note: &&Note| !note.placed.is_unchanged();
            let ids: Vec<NoteId> = notes.iter().filter(moved).map(|note| note.id).collect();
            let set = move |field: Placement| {
                let places = ids.iter().map(|&id| (id, field)).collect();
                Edit::Pass(pass.id, PassEdit::Place(places))
            };
            fields.map(set)
        });
        let edits = edits.filter(|edit| !is_empty(edit)).collect();
        Ok(Commit::new(Label::AsPlayed, edits))
    }

    /// Deletes them.
    ///
    /// # Errors
    /// If there are none.
    pub fn remove(&self) -> Result<Commit, ReviseError> {
        let edits = self.passes.iter().map(|(pass, notes)| removal(pass, notes.iter())).collect();
        self.commit(Label::RemoveNotes, edits)
    }

    /// Deletes every `nth` of them, counted in time; at least every second.
    ///
    /// # Errors
    /// If there are fewer than `nth`.
    pub fn thin(&self, nth: usize) -> Result<Commit, ReviseError> {
        let nth = nth.max(2);
        let all = self.in_time();
        let gone: BTreeSet<NoteRef> = all
            .iter()
            .skip(nth - 1)
            .step_by(nth)
            .map(|(pass, note)| NoteRef { pass: pass.id, note: note.id })
            .collect();
        let gone = Picked::new(self.passes.iter().map(|(pass, _)| pass), &gone);
        let thinner = gone.remove().map_err(|_| self.nothing_or(ReviseError::Same))?;
        Ok(thinner.called(Label::ThinNotes))
    }

    /// Sets one field of each.
    fn place(
        &self,
        label: Label,
        field: impl Fn(&SharedPass, &Note) -> Placement,
    ) -> Result<Commit, ReviseError> {
        let edits = self.passes.iter().map(|(pass, notes)| {
            let places = notes.iter().map(|note| (note.id, field(pass, note))).collect();
            Edit::Pass(pass.id, PassEdit::Place(places))
        });
        self.commit(label, edits.collect())
    }

    fn commit(&self, label: Label, edits: Vec<Edit>) -> Result<Commit, ReviseError> {
        match edits.is_empty() {
            true => Err(ReviseError::Nothing),
            false => Ok(Commit::new(label, edits)),
        }
    }

    fn nothing_or(&self, error: ReviseError) -> ReviseError {
        if self.is_empty() { ReviseError::Nothing } else { error }
    }
}

/// Whether an edit has nothing to place.
fn is_empty(edit: &Edit) -> bool {
    matches!(edit, Edit::Pass(_, PassEdit::Place(places)) if places.is_empty())
}

fn removal<'a>(pass: &SharedPass, notes: impl Iterator<Item = &'a Note>) -> Edit {
    Edit::Pass(pass.id, PassEdit::RemoveNotes(notes.map(|note| note.id).collect()))
}

/// A start moved round a pass. A note may stay a little early, as when it was played.
fn round(from: Tick, by: Tick, pass: Tick) -> Tick {
    let early = EARLY.0.min(pass.0 / 2);
    let to = from.0 + by.0;
    let stays = to >= 0 || (by.0 >= 0 && to > -pass.0);
    match stays && to < pass.0 {
        true => Tick(to),
        false => Tick((to + early).rem_euclid(pass.0.max(1)) - early),
    }
}

/// The placement that puts a note there; a note placed where it was played is as it was played.
fn start(note: &Note, to: Tick) -> Placement {
    Placement::Start((to != note.played.start).then_some(to))
}

fn length(note: &Note, to: Tick) -> Placement {
    Placement::Length((to != note.played.length).then_some(to))
}

/// `to` is 0..=127.
fn key(note: &Note, to: i32) -> Placement {
    let to = u8::try_from(to).ok().and_then(U7::new).unwrap_or(note.played.key);
    Placement::Key((to != note.played.key).then_some(to))
}

/// `to` is 1..=127.
fn velocity(note: &Note, to: i32) -> Placement {
    let to = u8::try_from(to).ok().and_then(U7::new).unwrap_or(note.played.velocity);
    Placement::Velocity((to != note.played.velocity).then_some(to))
}

/// Ids that no note of the pass has.
pub(crate) fn free_ids(pass: &Pass, count: usize) -> Result<Vec<NoteId>, ReviseError> {
    let first = pass.free_note_id().0;
    let used: BTreeSet<u32> = pass.notes().iter().map(|note| note.id.0).collect();
    // From the highest on, then in the gaps below it.
    let all = (first..=Song::LAST_ID).chain(1..first);
    let free = all.filter(|id| !used.contains(id)).take(count);
    let free: Vec<NoteId> = free.map(NoteId).collect();
    if free.len() == count { Ok(free) } else { Err(ReviseError::Full) }
}

#[cfg(test)]
mod tests;
