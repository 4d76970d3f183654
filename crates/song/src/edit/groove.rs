//! Edits of the song's grooves.

use super::layers::id_is_free;
use super::{Edit, EditError, GrooveEdit, swap};
use crate::{Feel, GivenGroove, Groove, GrooveId, Song, rules};
use std::sync::Arc;

/// Checks that the song has the groove that a feel names.
pub(super) fn feel_fits(song: &Song, feel: &Feel) -> Result<(), EditError> {
    is_known(song, feel.groove.as_ref())
}

/// Checks that the song has a groove that is given.
pub(super) fn is_known(song: &Song, given: Option<&GivenGroove>) -> Result<(), EditError> {
    match given.filter(|given| song.groove(given.groove).is_none()) {
        None => Ok(()),
        Some(given) => Err(EditError::NoGroove(given.groove.0)),
    }
}

pub(super) fn add(song: &mut Song, at: usize, groove: Arc<Groove>) -> Result<Edit, EditError> {
    let id = groove.id;
    id_is_free(song, id.0)?;
    if song.grooves.len() >= Song::MAX_GROOVES {
        return Err(EditError::Full(format!("a song has at most {} grooves", Song::MAX_GROOVES)));
    }
    rules::groove(&groove).map_err(EditError::Unfit)?;
    if at > song.grooves.len() {
        return Err(EditError::NoPlace(at));
    }
    song.grooves.insert(at, groove);
    Ok(Edit::RemoveGroove(id))
}

pub(super) fn remove(song: &mut Song, id: GrooveId) -> Result<Edit, EditError> {
    let at = song.grooves.iter().position(|groove| groove.id == id);
    let at = at.ok_or(EditError::NoGroove(id.0))?;
    if let Some(user) = song.given(id).next() {
        let (name, track) = (&song.grooves[at].name, &user.track.name);
        let user = if user.pass.is_some() { "a layer of track" } else { "track" };
        let why =
            format!("groove '{name}' is still given to {user} '{track}': take it off there first");
        return Err(EditError::InUse(why));
    }
    let groove = song.grooves.remove(at);
    Ok(Edit::AddGroove { at, groove })
}

pub(super) fn apply(song: &mut Song, id: GrooveId, edit: GrooveEdit) -> Result<Edit, EditError> {
    let groove = song.groove_mut(id).ok_or(EditError::NoGroove(id.0))?;
    let inverse = match edit {
        GrooveEdit::Name(name) => GrooveEdit::Name(swap(&mut groove.name, name)),
        GrooveEdit::Step(at, lean) => {
            rules::step_at(groove, at).map_err(EditError::Unfit)?;
            lean.as_ref()
                .map_or(Ok(()), |lean| rules::step(groove, lean))
                .map_err(EditError::Unfit)?;
            let before = match lean {
                Some(lean) => groove.steps.insert(at, lean),
                None => groove.steps.remove(&at),
            };
            GrooveEdit::Step(at, before)
        }
    };
    Ok(Edit::Groove(id, inverse))
}
