//! Edits of the song's form, and of its lists of tracks and sections.

use super::layers::{self, pass_fits, pass_is_sound};
use super::{Edit, EditError, groove, swap};
use crate::{Form, Letter, PassId, Section, SharedPass, Song, Track, TrackId, rules};
use std::collections::BTreeSet;
use std::sync::Arc;

pub(super) fn set_form(song: &mut Song, form: Form) -> Result<Edit, EditError> {
    form.check().map_err(|error| EditError::Unfit(error.to_string()))?;
    let missing = form.letters().into_iter().find(|&letter| song.section(letter).is_none());
    match missing {
        Some(letter) => Err(EditError::NoSection(letter)),
        None => Ok(Edit::Form(swap(&mut song.form, form))),
    }
}

pub(super) fn add_track(song: &mut Song, at: usize, track: Arc<Track>) -> Result<Edit, EditError> {
    let id = track.id;
    layers::id_is_free(song, id.0)?;
    if song.tracks.len() >= Song::MAX_TRACKS {
        return Err(EditError::Full(format!("a song has at most {} tracks", Song::MAX_TRACKS)));
    }
    rules::track(&track).map_err(EditError::Unfit)?;
    groove::feel_fits(song, &track.feel)?;
    if at > song.tracks.len() {
        return Err(EditError::NoPlace(at));
    }
    song.tracks.insert(at, track);
    Ok(Edit::RemoveTrack(id))
}

pub(super) fn remove_track(song: &mut Song, id: TrackId) -> Result<Edit, EditError> {
    let at = song.tracks.iter().position(|track| track.id == id).ok_or(EditError::NoTrack(id.0))?;
    if song.passes.values().any(|pass| pass.track == id) {
        let name = &song.tracks[at].name;
        return Err(EditError::InUse(format!("track '{name}' still has passes")));
    }
    let track = song.tracks.remove(at);
    Ok(Edit::AddTrack { at, track })
}

pub(super) fn move_track(song: &mut Song, id: TrackId, to: usize) -> Result<Edit, EditError> {
    let at = song.tracks.iter().position(|track| track.id == id).ok_or(EditError::NoTrack(id.0))?;
    if to >= song.tracks.len() {
        return Err(EditError::NoPlace(to));
    }
    let track = song.tracks.remove(at);
    song.tracks.insert(to, track);
    Ok(Edit::MoveTrack(id, at))
}

pub(super) fn add_section(
    song: &mut Song,
    at: usize,
    section: Arc<Section>,
    passes: Vec<SharedPass>,
) -> Result<Edit, EditError> {
    if song.section(section.letter).is_some() {
        return Err(EditError::Taken(format!("section {}", section.letter)));
    }
    if at > song.sections.len() {
        return Err(EditError::NoPlace(at));
    }
    rules::tempo(&section.metre, &section.tempo).map_err(EditError::Unfit)?;
    rules::fermatas(&section.metre, &section.fermatas).map_err(EditError::Unfit)?;
    rules::chords(&section.metre, &section.chords).map_err(EditError::Unfit)?;
    check_layers(song, &section, &passes)?;
    let letter = section.letter;
    song.sections.insert(at, section);
    song.passes.extend(passes.into_iter().map(|pass| (pass.id, super::in_order(pass))));
    Ok(Edit::RemoveSection(letter))
}

/// Checks the layers of a new section and its new passes: each layer has a pass of the song or a
/// new one, each new pass has a layer, none is there twice, and all fit the section.
fn check_layers(song: &Song, section: &Section, passes: &[SharedPass]) -> Result<(), EditError> {
    let mut new = BTreeSet::new();
    for pass in passes {
        layers::id_is_free(song, pass.id.0)?;
        if !new.insert(pass.id) {
            return Err(EditError::Taken(format!("id {}", pass.id.0)));
        }
        if section.layer(pass.id).is_none() {
            return Err(EditError::NoLayer(section.letter, pass.id.0));
        }
        pass_is_sound(song, &section.metre, pass)?;
    }
    let mut laid = BTreeSet::new();
    for layer in &section.layers {
        if !laid.insert(layer.pass) {
            return Err(layers::laid_twice(section.letter, layer.pass));
        }
        if !new.contains(&layer.pass) {
            let pass = song.pass(layer.pass).ok_or(EditError::NoPass(layer.pass.0))?;
            pass_fits(&section.metre, pass)?;
        }
    }
    Ok(())
}

pub(super) fn remove_section(song: &mut Song, letter: Letter) -> Result<Edit, EditError> {
    let at = place(song, letter)?;
    if song.sections.len() == 1 {
        return Err(EditError::InUse(format!("section {letter} is the only one")));
    }
    if song.form.contains(letter) {
        let why = format!("section {letter} is in the form: remove it from there first");
        return Err(EditError::InUse(why));
    }
    let section = song.sections.remove(at);
    let ids: Vec<PassId> = section.layers.iter().map(|layer| layer.pass).collect();
    let passes = ids.into_iter().filter_map(|id| layers::drop_unused(song, id)).collect();
    Ok(Edit::AddSection { at, section, passes })
}

pub(super) fn move_section(song: &mut Song, letter: Letter, to: usize) -> Result<Edit, EditError> {
    let at = place(song, letter)?;
    if to >= song.sections.len() {
        return Err(EditError::NoPlace(to));
    }
    let section = song.sections.remove(at);
    song.sections.insert(to, section);
    Ok(Edit::MoveSection(letter, at))
}

/// The index of a section in the list.
fn place(song: &Song, letter: Letter) -> Result<usize, EditError> {
    let found = song.sections.iter().position(|section| section.letter == letter);
    found.ok_or(EditError::NoSection(letter))
}
