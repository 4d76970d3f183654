//! The song's text, both ways. It is RON, laid out so that a musician can read it, and so that a
//! line-by-line comparison of two versions shows what changed in the music.
//!
//! In: a [`Song`], or any text. Out: text, or the song in it. Each note and each point of a lane
//! has its own line, in a stable order; positions are `bar.beat.tick`. `docs/song-file.md` is the
//! reference. Edits, commits and histories are written in the same grammar, but with positions in
//! ticks, so that they can be read without their song. Nothing here opens a file; callers add its
//! name to errors.

mod chord_keys;
mod control;
mod fault;
mod fields;
mod layout;
mod leaf;
mod length;
mod line;
mod read;
mod read_edit;
mod read_groove;
mod read_pass;
mod read_section;
mod replay;
mod scale;
mod write;
mod write_edit;
mod write_groove;

use crate::{Commit, Edit, History, Song};
use std::fmt;

/// An error in a text: where it is, what is wrong and what would be right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TextError {
    /// The line, from 1.
    pub line: usize,
    /// The character in the line, from 1.
    pub column: usize,
    /// What is wrong and what would be right: one sentence without its full stop.
    pub message: String,
}

impl fmt::Display for TextError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.message)
    }
}

impl std::error::Error for TextError {}

/// The most errors that are reported for one text; the rest are dropped.
pub const MOST_ERRORS: usize = 20;

/// The text of a song, ending in a line feed. The same song gives the same text.
pub fn write(song: &Song) -> String {
    write::song(song)
}

/// The song in `text`. A text from [`write()`] gives an equal song, and that song the same bytes.
///
/// Errors are in the order of their lines, at least one and at most [`MOST_ERRORS`].
pub fn read(text: &str) -> Result<Song, Vec<TextError>> {
    read::song(text)
}

/// The text of an edit: one line, without a line feed.
pub fn write_edit(edit: &Edit) -> String {
    write_edit::edit(edit)
}

/// The edit in `text`. A text from [`write_edit()`] gives an equal edit. Whether a song accepts the
/// edit is known only when it is applied.
pub fn read_edit(text: &str) -> Result<Edit, Vec<TextError>> {
    read_edit::edit(text)
}

/// The text of a commit: one line, without a line feed.
pub fn write_commit(commit: &Commit) -> String {
    write_edit::commit(commit)
}

/// The commit in `text`; see [`read_edit()`].
pub fn read_commit(text: &str) -> Result<Commit, Vec<TextError>> {
    read_edit::commit(text)
}

/// The text of a history: one step a line, ending in a line feed.
pub fn write_history(history: &History) -> String {
    write_edit::history(history)
}

/// The history in `text`. A run does not continue in it: the next commit makes a step of its own.
pub fn read_history(text: &str) -> Result<History, Vec<TextError>> {
    read_edit::history(text)
}
