//! Edits of a section's stack: laying passes, sharing them, making them the section's own.
//!
//! A pass stays in the song as long as a section has a layer with it. Removing its last layer
//! removes the pass, and the inverse brings it back.

use super::section::section_mut;
use super::{EditError, Laid, SectionEdit, groove, in_order, in_pass, swap};
use crate::{Layer, Letter, Pass, PassId, Section, SharedPass, Song, rules};
use chaconne_time::MetreMap;
use std::sync::Arc;

/// Checks that no track, groove or pass has this id.
pub(super) fn id_is_free(song: &Song, id: u32) -> Result<(), EditError> {
    if song.uses_id(id) { Err(EditError::Taken(format!("id {id}"))) } else { Ok(()) }
}

/// The error for a pass that would be in a section twice.
pub(super) fn laid_twice(letter: Letter, pass: PassId) -> EditError {
    EditError::InUse(format!("pass {} is already in section {letter}", pass.0))
}

/// Checks that a pass of the song fits a section of this metre.
pub(super) fn pass_fits(metre: &MetreMap, pass: &Pass) -> Result<(), EditError> {
    rules::Frame::new(metre, pass.length).map(|_| ()).map_err(|broken| in_pass(pass.id, broken))
}

/// Checks that a new pass can be added to a section of this metre: the song has its track and
/// its groove, and everything in it is in range.
pub(super) fn pass_is_sound(song: &Song, metre: &MetreMap, pass: &Pass) -> Result<(), EditError> {
    if song.track(pass.track).is_none() {
        return Err(EditError::NoTrack(pass.track.0));
    }
    pass.feel.iter().try_for_each(|feel| groove::feel_fits(song, feel))?;
    rules::pass(metre, pass).map_err(|broken| in_pass(pass.id, broken))
}

/// Removes a pass from the song if no section contains it any more, and returns it.
pub(super) fn drop_unused(song: &mut Song, id: PassId) -> Option<SharedPass> {
    let unused = song.sections_with(id).next().is_none();
    if unused { song.passes.remove(&id) } else { None }
}

fn section(song: &Song, letter: Letter) -> Result<&Section, EditError> {
    song.section(letter).map(|section| &**section).ok_or(EditError::NoSection(letter))
}

fn place(song: &Song, letter: Letter, pass: PassId) -> Result<usize, EditError> {
    let found = section(song, letter)?.layers.iter().position(|layer| layer.pass == pass);
    found.ok_or(EditError::NoLayer(letter, pass.0))
}

/// Checks the pass of a new layer. Returns its id, and the pass itself if it has to be added to the
/// song.
fn admit(
    song: &Song,
    letter: Letter,
    laid: Laid,
) -> Result<(PassId, Option<SharedPass>), EditError> {
    let metre = &section(song, letter)?.metre;
    let known = |id: PassId| song.pass(id).ok_or(EditError::NoPass(id.0));
    match laid {
        Laid::New(pass) => {
            id_is_free(song, pass.id.0)?;
            pass_is_sound(song, metre, &pass)?;
            Ok((pass.id, Some(in_order(pass))))
        }
        Laid::Shared(id) => {
            pass_fits(metre, known(id)?)?;
            if section(song, letter)?.layer(id).is_some() {
                return Err(laid_twice(letter, id));
            }
            Ok((id, None))
        }
        Laid::Copy { of, id } => {
            let pass = known(of)?;
            rules::id(id.0).map_err(EditError::Unfit)?;
            id_is_free(song, id.0)?;
            pass_fits(metre, pass)?;
            Ok((id, Some(Arc::new(Pass { id, ..Pass::clone(pass) }))))
        }
    }
}

pub(super) fn lay(
    song: &mut Song,
    letter: Letter,
    at: usize,
    laid: Laid,
    mute: bool,
) -> Result<SectionEdit, EditError> {
    let (pass, new) = admit(song, letter, laid)?;
    let section = section_mut(song, letter)?;
    if at > section.layers.len() {
        return Err(EditError::NoPlace(at));
    }
    section.layers.insert(at, Layer { pass, mute });
    song.passes.extend(new.map(|new| (pass, new)));
    Ok(SectionEdit::Remove(pass))
}

/// Removes the pass of a layer that has just been removed, unless another section shares it.
/// Returns what puts the pass back.
fn unlay(song: &mut Song, pass: PassId) -> Laid {
    drop_unused(song, pass).map_or(Laid::Shared(pass), Laid::New)
}

pub(super) fn remove(
    song: &mut Song,
    letter: Letter,
    pass: PassId,
) -> Result<SectionEdit, EditError> {
    let at = place(song, letter, pass)?;
    let layer = section_mut(song, letter)?.layers.remove(at);
    let pass = unlay(song, pass);
    Ok(SectionEdit::Lay { at, pass, mute: layer.mute })
}

pub(super) fn shift(
    song: &mut Song,
    letter: Letter,
    pass: PassId,
    to: usize,
) -> Result<SectionEdit, EditError> {
    let at = place(song, letter, pass)?;
    let layers = &mut section_mut(song, letter)?.layers;
    if to >= layers.len() {
        return Err(EditError::NoPlace(to));
    }
    let layer = layers.remove(at);
    layers.insert(to, layer);
    Ok(SectionEdit::Move(pass, at))
}

pub(super) fn mute(
    song: &mut Song,
    letter: Letter,
    pass: PassId,
    mute: bool,
) -> Result<SectionEdit, EditError> {
    let at = place(song, letter, pass)?;
    let layer = &mut section_mut(song, letter)?.layers[at];
    Ok(SectionEdit::Mute(pass, swap(&mut layer.mute, mute)))
}

pub(super) fn replace(
    song: &mut Song,
    letter: Letter,
    pass: PassId,
    by: Laid,
) -> Result<SectionEdit, EditError> {
    let at = place(song, letter, pass)?;
    let (id, new) = admit(song, letter, by)?;
    section_mut(song, letter)?.layers[at].pass = id;
    song.passes.extend(new.map(|new| (id, new)));
    let before = unlay(song, pass);
    Ok(SectionEdit::Replace(id, before))
}
