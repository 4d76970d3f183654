//! The song's text, both ways: RON that a musician can read, and whose differences read as music.
//!
//! In: a [`Song`], or text from anywhere. Out: text, or the song in it. Each note or control
//! point has its own line, in a stable order; positions are `bar.beat.tick`. The file
//! reference is `docs/song-file.md`. Edits, commits and a history have a text in the same grammar,
//! with positions in plain ticks, so that each can be read without its song. Nothing here opens a file: callers add its name to errors.

mod control;
mod fault;
mod fields;
mod layout;
mod leaf;
mod length;
mod line;
mod read;
mod read_edit;
mod read_pass;
mod read_section;
mod replay;
mod scale;
mod write;
mod write_edit;

use crate::{Commit, Edit, History, Song};
use std::fmt;

/// What is wrong with a song's text, where, and what would be right.
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

/// The most errors that are reported for one text.
pub const MOST_ERRORS: usize = 20;

/// The text of a song, ending in a line feed. The same song gives the same text.
pub fn write(song: &Song) -> String {
    write::song(song)
}

/// The song in `text`. What [`write()`] has written comes back equal, and is then written
/// as the same bytes.
///
/// Errors come in order of place, at least one and at most [`MOST_ERRORS`].
pub fn read(text: &str) -> Result<Song, Vec<TextError>> {
    read::song(text)
}

/// The text of an edit: one line, without a line feed.
pub fn write_edit(edit: &Edit) -> String {
    write_edit::edit(edit)
}

/// The edit in `text`. What [`write_edit()`] has written comes back equal. Whether a song
/// accepts it shows when it is applied.
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

/// The text of a history, a step a line, ending in a line feed.
pub fn write_history(history: &History) -> String {
    write_edit::history(history)
}

/// The history in `text`; a run that was going on is over in it.
pub fn read_history(text: &str) -> Result<History, Vec<TextError>> {
    read_edit::history(text)
}
