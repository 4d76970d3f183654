//! The written key and the transposition, of the song or of a section.

use super::{ArrangeError, commit, found};
use crate::{Commit, Edit, KeySignature, Label, Letter, SectionEdit, Song, Transpose};

/// Sets the written key of the song, or of a section; `None` for none, or for the song's. What is played
/// stays.
///
/// # Errors
/// If there is no such section, or nothing would change: the reason.
pub fn set_key(
    song: &Song,
    section: Option<Letter>,
    key: Option<KeySignature>,
) -> Result<Commit, ArrangeError> {
    let (now, edit, label) = match section {
        None => (song.key, Edit::Key(key), Label::Key),
        Some(letter) => {
            let edit = Edit::Section(letter, SectionEdit::Key(key));
            (found(song, letter)?.key, edit, Label::SectionKey)
        }
    };
    commit(song, label, (now != key).then_some(edit).into_iter().collect())
}

/// Sets how far the pitched tracks of the song, or of a section on top of that, are transposed.
///
/// # Errors
/// If there is no such section, or nothing would change: the reason.
pub fn set_transpose(
    song: &Song,
    section: Option<Letter>,
    by: Transpose,
) -> Result<Commit, ArrangeError> {
    let (now, edit, label) = match section {
        None => (song.transpose, Edit::Transpose(by), Label::Transpose),
        Some(letter) => {
            let edit = Edit::Section(letter, SectionEdit::Transpose(by));
            (found(song, letter)?.transpose, edit, Label::SectionTranspose)
        }
    };
    commit(song, label, (now != by).then_some(edit).into_iter().collect())
}
