//! Layers that a section shares with others, made its own.

use super::length::Part;
use super::{ArrangeError, commit, found, refused};
use crate::{Commit, Edit, Label, Laid, Letter, SectionEdit, Song};

/// Makes layers of a section its own: from then on a change to them is heard only there. Those that no other
/// section shares stay as they are.
///
/// # Errors
/// If no other section shares any of them: the reason.
pub fn own_layers(song: &Song, letter: Letter, part: Part) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let meant: Vec<_> =
        song.passes_in(section).into_iter().filter(|pass| part.includes(pass)).collect();
    if meant.is_empty() {
        return refused(format!("there is no such layer in section {letter}"));
    }
    let mut ids = song.ids();
    let shared = meant.iter().filter(|pass| song.is_shared(pass.id));
    let edits: Vec<Edit> = shared
        .map(|pass| SectionEdit::Replace(pass.id, Laid::Copy { of: pass.id, id: ids.pass() }))
        .map(|edit| Edit::Section(letter, edit))
        .collect();
    match (edits.is_empty(), meant.len()) {
        (true, 1) => refused("no other section shares this layer"),
        (true, _) => refused("no other section shares these layers"),
        (false, _) => commit(song, Label::OwnPass, edits),
    }
}
