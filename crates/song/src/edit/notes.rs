//! Edits of the notes of a pass. One edit changes any number of notes, which it finds by id.

use super::pass::{pass, pass_mut, with_frame};
use super::{EditError, PassEdit, Placement, Release, swap};
use crate::rules::Frame;
use crate::{Note, NoteId, PassId, Song};
use std::collections::BTreeMap;

/// The indices of notes in a pass, in the order in which they are wanted. Each note must be in the
/// pass, and may be wanted only once.
fn places(
    song: &Song,
    id: PassId,
    wanted: impl ExactSizeIterator<Item = NoteId> + Clone,
) -> Result<Vec<usize>, EditError> {
    let missing = |note: NoteId| EditError::NoNote(id.0, note.0);
    let mut order: BTreeMap<NoteId, Option<usize>> = BTreeMap::new();
    for note in wanted.clone() {
        if order.insert(note, None).is_some() {
            return Err(EditError::Unfit(format!("note {} is named twice in one edit", note.0)));
        }
    }
    for (index, note) in pass(song, id)?.notes().iter().enumerate() {
        if let Some(place) = order.get_mut(&note.id) {
            *place = Some(index);
        }
    }
    let place = |note: NoteId| order.get(&note).copied().flatten().ok_or_else(|| missing(note));
    wanted.map(place).collect()
}

pub(super) fn add(song: &mut Song, id: PassId, notes: Vec<Note>) -> Result<PassEdit, EditError> {
    with_frame(song, id, |frame, _| notes.iter().try_for_each(|note| frame.note(note)))?;
    let mut ids: Vec<NoteId> = notes.iter().map(|note| note.id).collect();
    let inverse = PassEdit::RemoveNotes(ids.clone());
    let taken = |note: NoteId| EditError::Taken(format!("note {}", note.0));
    ids.sort_unstable();
    if let Some(pair) = ids.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(taken(pair[0]));
    }
    let known = pass(song, id)?.notes();
    if let Some(same) = known.iter().find(|note| ids.binary_search(&note.id).is_ok()) {
        return Err(taken(same.id));
    }
    let all = &mut pass_mut(song, id)?.notes_mut().notes;
    match <[Note; 1]>::try_from(notes) {
        Ok([note]) => {
            let at = all.partition_point(|known| known.order() < note.order());
            all.insert(at, note);
        }
        Err(notes) => {
            all.extend(notes);
            all.sort_by_key(Note::order);
        }
    }
    Ok(inverse)
}

pub(super) fn remove(
    song: &mut Song,
    id: PassId,
    unwanted: Vec<NoteId>,
) -> Result<PassEdit, EditError> {
    let places = places(song, id, unwanted.iter().copied())?;
    let all = &mut pass_mut(song, id)?.notes_mut().notes;
    let removed = places.iter().map(|&place| all[place]).collect();
    let mut keep = vec![true; all.len()];
    places.iter().for_each(|&place| keep[place] = false);
    let mut keep = keep.into_iter();
    all.retain(|_| keep.next().unwrap_or(true));
    Ok(PassEdit::AddNotes(removed))
}

pub(super) fn played(
    song: &mut Song,
    id: PassId,
    mut releases: Vec<Release>,
) -> Result<PassEdit, EditError> {
    with_frame(song, id, |frame, _| {
        releases.iter().try_for_each(|release| frame.note_length(release.length))
    })?;
    let places = places(song, id, releases.iter().map(|release| release.note))?;
    let all = &mut pass_mut(song, id)?.notes_mut().notes;
    for (release, place) in releases.iter_mut().zip(places) {
        let played = &mut all[place].played;
        release.length = swap(&mut played.length, release.length);
        release.release = swap(&mut played.release, release.release);
    }
    Ok(PassEdit::Played(releases))
}

pub(super) fn place(
    song: &mut Song,
    id: PassId,
    mut placements: Vec<(NoteId, Placement)>,
) -> Result<PassEdit, EditError> {
    with_frame(song, id, |frame, _| {
        placements.iter().try_for_each(|(_, placement)| placement.check(frame))
    })?;
    let places = places(song, id, placements.iter().map(|(note, _)| *note))?;
    let all = &mut pass_mut(song, id)?.notes_mut().notes;
    for ((_, placement), place) in placements.iter_mut().zip(places) {
        *placement = placement.set(&mut all[place]);
    }
    Ok(PassEdit::Place(placements))
}

impl Placement {
    fn check(&self, frame: Frame<'_>) -> Result<(), String> {
        match *self {
            Placement::Start(Some(start)) => frame.start("a note", start),
            Placement::Length(Some(length)) => frame.note_length(length),
            Placement::Velocity(Some(velocity)) => frame.velocity(velocity),
            _ => Ok(()),
        }
    }

    /// Sets the field of a note and returns the placement that sets it back.
    fn set(self, note: &mut Note) -> Placement {
        let placed = &mut note.placed;
        match self {
            Placement::Start(start) => Placement::Start(swap(&mut placed.start, start)),
            Placement::Length(length) => Placement::Length(swap(&mut placed.length, length)),
            Placement::Key(key) => Placement::Key(swap(&mut placed.key, key)),
            Placement::Velocity(to) => Placement::Velocity(swap(&mut placed.velocity, to)),
            Placement::Release(to) => Placement::Release(swap(&mut placed.release, to)),
        }
    }
}
