//! Every change a song can undergo, each with its exact inverse.
//!
//! An edit is applied whole or refused whole. Applying it gives back the edit that undoes it:
//! applied in turn, the song is what it was, ids and order included. An edit refuses what the
//! song's text would refuse, so every song that edits can make can be saved and opened again.

use crate::{
    Feel, KeySignature, Letter, Note, NoteId, Pass, PassId, Section, Song, Stroke, Track, TrackId,
    U7, rules,
};
use chaconne_time::{MetreMap, TempoMap, Tick};
use std::sync::Arc;

/// A change to a song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Edit {
    /// Gives the song another title.
    Title(String),
    /// Sets or clears the key.
    Key(Option<KeySignature>),
    /// Sets the order of sections.
    Form(Vec<Letter>),
    /// Puts a track in at a place in the list of tracks.
    AddTrack {
        /// The index it gets.
        at: usize,
        /// The track.
        track: Arc<Track>,
    },
    /// Takes out a track, which must have no pass left.
    RemoveTrack(TrackId),
    /// Changes a track's settings; its id says which.
    SetTrack(Arc<Track>),
    /// Puts a section in at a place in the list of sections.
    AddSection {
        /// The index it gets.
        at: usize,
        /// The section, with its passes.
        section: Arc<Section>,
    },
    /// Takes out a section, which must not be the last one and not be in the form.
    RemoveSection(Letter),
    /// Sets a section's bars and metres.
    Metre(Letter, MetreMap),
    /// Sets a section's tempi.
    Tempo(Letter, TempoMap),
    /// Puts a pass in at a place in a section's list of passes; its notes, lanes and messages
    /// are put into their order.
    AddPass {
        /// The section.
        section: Letter,
        /// The index it gets; higher is nearer the top.
        at: usize,
        /// The pass.
        pass: Arc<Pass>,
    },
    /// Takes a pass off.
    RemovePass(PassId),
    /// Silences a pass or lets it sound.
    MutePass(PassId, bool),
    /// Gives a pass a feel of its own, or the track's.
    PassFeel(PassId, Option<Feel>),
    /// Adds a note to a pass.
    AddNote(PassId, Note),
    /// Takes a note out of a pass.
    RemoveNote(PassId, NoteId),
    /// Puts a note somewhere else, or back to where it was played.
    PlaceNote(PassId, NoteId, Option<Stroke>),
    /// Sets the length a note was held, once its release is known.
    Held {
        /// The pass.
        pass: PassId,
        /// The note.
        note: NoteId,
        /// How long it was held.
        length: Tick,
        /// How fast it was let go.
        release: U7,
    },
    /// Puts a pass in the place of the one with the same id; its notes, lanes and messages are
    /// put into their order.
    ReplacePass(Arc<Pass>),
    /// Several edits in order, as one.
    Several(Vec<Edit>),
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
    /// There is no such note.
    #[error("there is no note {1} in pass {0}")]
    NoNote(u32, u32),
    /// The id or letter is in use.
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
    /// A value is outside what a song can hold; the message tells the accepted range.
    #[error("{0}")]
    Unfit(String),
}

impl Edit {
    /// Applies the edit to `song` and returns its inverse. On an error the song is unchanged.
    pub fn apply(self, song: &mut Song) -> Result<Edit, EditError> {
        match self {
            Edit::Title(title) => Ok(Edit::Title(std::mem::replace(&mut song.title, title))),
            Edit::Key(key) => Ok(Edit::Key(std::mem::replace(&mut song.key, key))),
            Edit::Form(form) => set_form(song, form),
            Edit::AddTrack { at, track } => add_track(song, at, track),
            Edit::RemoveTrack(id) => remove_track(song, id),
            Edit::SetTrack(track) => set_track(song, track),
            Edit::AddSection { at, section } => add_section(song, at, section),
            Edit::RemoveSection(letter) => remove_section(song, letter),
            Edit::Metre(letter, metre) => set_metre(song, letter, metre),
            Edit::Tempo(letter, tempo) => set_tempo(song, letter, tempo),
            Edit::AddPass { section, at, pass } => add_pass(song, section, at, pass),
            Edit::RemovePass(id) => remove_pass(song, id),
            Edit::MutePass(id, mute) => {
                let pass = pass_mut(song, id)?;
                Ok(Edit::MutePass(id, std::mem::replace(&mut pass.mute, mute)))
            }
            Edit::PassFeel(id, feel) => {
                feel.as_ref().map_or(Ok(()), rules::feel).map_err(EditError::Unfit)?;
                let pass = pass_mut(song, id)?;
                Ok(Edit::PassFeel(id, std::mem::replace(&mut pass.feel, feel)))
            }
            Edit::AddNote(id, note) => add_note(song, id, note),
            Edit::RemoveNote(id, note) => remove_note(song, id, note),
            Edit::PlaceNote(id, note, placed) => {
                placed.map_or(Ok(()), |placed| stroke_fits(song, id, &placed))?;
                let note = note_mut(song, id, note)?;
                Ok(Edit::PlaceNote(id, note.id, std::mem::replace(&mut note.placed, placed)))
            }
            Edit::Held { pass, note, length, release } => {
                frame(song, pass)?.note_length(length).map_err(EditError::Unfit)?;
                let note = note_mut(song, pass, note)?;
                let length = std::mem::replace(&mut note.played.length, length);
                let release = std::mem::replace(&mut note.played.release, release);
                Ok(Edit::Held { pass, note: note.id, length, release })
            }
            Edit::ReplacePass(pass) => replace_pass(song, pass),
            Edit::Several(edits) => apply_all(song, edits),
        }
    }
}

/// Applies edits in order; where one is refused, those before it are undone again.
fn apply_all(song: &mut Song, edits: Vec<Edit>) -> Result<Edit, EditError> {
    let mut inverses = Vec::with_capacity(edits.len());
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
    Ok(Edit::Several(inverses))
}

fn section_mut(song: &mut Song, letter: Letter) -> Result<&mut Section, EditError> {
    song.section_mut(letter).ok_or(EditError::NoSection(letter))
}

fn pass_mut(song: &mut Song, id: PassId) -> Result<&mut Pass, EditError> {
    song.pass_mut(id).ok_or(EditError::NoPass(id.0))
}

fn note_mut(song: &mut Song, pass: PassId, id: NoteId) -> Result<&mut Note, EditError> {
    let missing = EditError::NoNote(pass.0, id.0);
    pass_mut(song, pass)?.notes.iter_mut().find(|note| note.id == id).ok_or(missing)
}

/// The room a pass gives to its notes.
fn frame(song: &Song, id: PassId) -> Result<rules::Frame<'_>, EditError> {
    let (section, pass) = song.pass(id).ok_or(EditError::NoPass(id.0))?;
    rules::Frame::new(&section.metre, pass.length).map_err(EditError::Unfit)
}

fn stroke_fits(song: &Song, id: PassId, stroke: &Stroke) -> Result<(), EditError> {
    frame(song, id)?.stroke(stroke).map_err(EditError::Unfit)
}

/// Whether a pass fits into a song with `metre` where it lies: its track is there, and all that
/// is in it has its place.
fn pass_fits(song: &Song, metre: &MetreMap, pass: &Pass) -> Result<(), EditError> {
    if song.track(pass.track).is_none() {
        return Err(EditError::NoTrack(pass.track.0));
    }
    let broken = |message| EditError::Unfit(format!("pass {}: {message}", pass.id.0));
    rules::pass(metre, pass).map_err(broken)
}

/// The ids of a pass and its notes.
fn ids_in(pass: &Pass) -> impl Iterator<Item = u32> + '_ {
    std::iter::once(pass.id.0).chain(pass.notes.iter().map(|note| note.id.0))
}

/// Whether no two of `new` are alike, and none is in `used`.
fn ids_are_free(mut new: Vec<u32>, used: impl Iterator<Item = u32>) -> Result<(), EditError> {
    let taken = |id: u32| Err(EditError::Taken(format!("id {id}")));
    new.sort_unstable();
    if let Some(pair) = new.windows(2).find(|pair| pair[0] == pair[1]) {
        return taken(pair[0]);
    }
    // New ids mostly come after all others, so most of the used ones lie outside.
    let (first, last) = (new.first().copied().unwrap_or(1), new.last().copied().unwrap_or(0));
    let mut near = used.filter(|id| (first..=last).contains(id));
    near.find(|id| new.binary_search(id).is_ok()).map_or(Ok(()), taken)
}

/// A pass with its content in the order in which it is kept.
fn in_order(mut pass: Arc<Pass>) -> Arc<Pass> {
    if !pass.is_in_order() {
        Arc::make_mut(&mut pass).sort();
    }
    pass
}

fn set_form(song: &mut Song, form: Vec<Letter>) -> Result<Edit, EditError> {
    if let Some(&missing) = form.iter().find(|&&letter| song.section(letter).is_none()) {
        return Err(EditError::NoSection(missing));
    }
    if form.len() > Song::MAX_FORM {
        return Err(EditError::Full(format!("a form has at most {} entries", Song::MAX_FORM)));
    }
    Ok(Edit::Form(std::mem::replace(&mut song.form, form)))
}

fn add_track(song: &mut Song, at: usize, track: Arc<Track>) -> Result<Edit, EditError> {
    ids_are_free(vec![track.id.0], song.used_ids())?;
    if song.tracks.len() >= Song::MAX_TRACKS {
        return Err(EditError::Full(format!("a song has at most {} tracks", Song::MAX_TRACKS)));
    }
    rules::track(&track).map_err(EditError::Unfit)?;
    if at > song.tracks.len() {
        return Err(EditError::NoPlace(at));
    }
    let id = track.id;
    song.tracks.insert(at, track);
    Ok(Edit::RemoveTrack(id))
}

fn remove_track(song: &mut Song, id: TrackId) -> Result<Edit, EditError> {
    let at = song.tracks.iter().position(|track| track.id == id).ok_or(EditError::NoTrack(id.0))?;
    if song.sections.iter().any(|section| section.passes_of(id).next().is_some()) {
        let name = &song.tracks[at].name;
        return Err(EditError::InUse(format!("track '{name}' still has passes")));
    }
    let track = song.tracks.remove(at);
    Ok(Edit::AddTrack { at, track })
}

fn set_track(song: &mut Song, track: Arc<Track>) -> Result<Edit, EditError> {
    rules::track(&track).map_err(EditError::Unfit)?;
    let missing = EditError::NoTrack(track.id.0);
    let place = song.tracks.iter_mut().find(|known| known.id == track.id).ok_or(missing)?;
    Ok(Edit::SetTrack(std::mem::replace(place, track)))
}

/// Sets bars and metres; every pass must be a whole number of the new beats.
fn set_metre(song: &mut Song, letter: Letter, metre: MetreMap) -> Result<Edit, EditError> {
    let section = section_mut(song, letter)?;
    for pass in &section.passes {
        let broken = |message| EditError::Unfit(format!("pass {}: {message}", pass.id.0));
        rules::pass(&metre, pass).map_err(broken)?;
    }
    rules::tempo(&metre, &section.tempo).map_err(EditError::Unfit)?;
    Ok(Edit::Metre(letter, std::mem::replace(&mut section.metre, metre)))
}

fn set_tempo(song: &mut Song, letter: Letter, tempo: TempoMap) -> Result<Edit, EditError> {
    let section = section_mut(song, letter)?;
    rules::tempo(&section.metre, &tempo).map_err(EditError::Unfit)?;
    Ok(Edit::Tempo(letter, std::mem::replace(&mut section.tempo, tempo)))
}

fn add_section(song: &mut Song, at: usize, mut section: Arc<Section>) -> Result<Edit, EditError> {
    if song.section(section.letter).is_some() {
        return Err(EditError::Taken(format!("section {}", section.letter)));
    }
    if at > song.sections.len() {
        return Err(EditError::NoPlace(at));
    }
    rules::tempo(&section.metre, &section.tempo).map_err(EditError::Unfit)?;
    section.passes.iter().try_for_each(|pass| pass_fits(song, &section.metre, pass))?;
    let ids = section.passes.iter().flat_map(|pass| ids_in(pass)).collect();
    ids_are_free(ids, song.used_ids())?;
    if !section.passes.iter().all(|pass| pass.is_in_order()) {
        let passes = &mut Arc::make_mut(&mut section).passes;
        passes.iter_mut().for_each(|pass| Arc::make_mut(pass).sort());
    }
    let letter = section.letter;
    song.sections.insert(at, section);
    Ok(Edit::RemoveSection(letter))
}

fn remove_section(song: &mut Song, letter: Letter) -> Result<Edit, EditError> {
    let found = song.sections.iter().position(|section| section.letter == letter);
    let at = found.ok_or(EditError::NoSection(letter))?;
    if song.sections.len() == 1 {
        return Err(EditError::InUse(format!("section {letter} is the only one")));
    }
    if song.form.contains(&letter) {
        return Err(EditError::InUse(format!("section {letter} is in the form")));
    }
    let section = song.sections.remove(at);
    Ok(Edit::AddSection { at, section })
}

fn add_pass(
    song: &mut Song,
    letter: Letter,
    at: usize,
    pass: Arc<Pass>,
) -> Result<Edit, EditError> {
    let section = song.section(letter).ok_or(EditError::NoSection(letter))?;
    pass_fits(song, &section.metre, &pass)?;
    ids_are_free(ids_in(&pass).collect(), song.used_ids())?;
    let section = section_mut(song, letter)?;
    if at > section.passes.len() {
        return Err(EditError::NoPlace(at));
    }
    let id = pass.id;
    section.passes.insert(at, in_order(pass));
    Ok(Edit::RemovePass(id))
}

fn remove_pass(song: &mut Song, id: PassId) -> Result<Edit, EditError> {
    let letter = song.pass(id).map(|found| found.0.letter).ok_or(EditError::NoPass(id.0))?;
    let section = section_mut(song, letter)?;
    let found = section.passes.iter().position(|pass| pass.id == id);
    let at = found.ok_or(EditError::NoPass(id.0))?;
    let pass = section.passes.remove(at);
    Ok(Edit::AddPass { section: letter, at, pass })
}

fn replace_pass(song: &mut Song, pass: Arc<Pass>) -> Result<Edit, EditError> {
    let (section, known) = song.pass(pass.id).ok_or(EditError::NoPass(pass.id.0))?;
    pass_fits(song, &section.metre, &pass)?;
    let (letter, own) = (section.letter, known.id);
    let others = song.all_passes().filter(|known| known.id != own);
    let used = song.tracks.iter().map(|track| track.id.0);
    let used = used.chain(others.flat_map(|known| ids_in(known)));
    ids_are_free(ids_in(&pass).collect(), used)?;
    let section = section_mut(song, letter)?;
    let missing = EditError::NoPass(pass.id.0);
    let place = section.passes.iter_mut().find(|known| known.id == own).ok_or(missing)?;
    Ok(Edit::ReplacePass(std::mem::replace(place, in_order(pass))))
}

fn add_note(song: &mut Song, id: PassId, note: Note) -> Result<Edit, EditError> {
    frame(song, id)?.note(&note).map_err(EditError::Unfit)?;
    ids_are_free(vec![note.id.0], song.used_ids())?;
    let pass = pass_mut(song, id)?;
    let at = pass.notes.partition_point(|known| known.order() < note.order());
    pass.notes.insert(at, note);
    Ok(Edit::RemoveNote(id, note.id))
}

fn remove_note(song: &mut Song, id: PassId, note: NoteId) -> Result<Edit, EditError> {
    let pass = pass_mut(song, id)?;
    let found = pass.notes.iter().position(|known| known.id == note);
    let at = found.ok_or(EditError::NoNote(id.0, note.0))?;
    let note = pass.notes.remove(at);
    Ok(Edit::AddNote(id, note))
}
