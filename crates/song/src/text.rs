//! The song's text, both ways: RON that a musician can read, and whose differences read as music.
//!
//! In: a [`Song`], or text from anywhere. Out: text, or the song it says. One note or control
//! point stands on one line, in a stable order; positions are `bar.beat.tick`. The file
//! reference is `docs/song-file.md`. Nothing here opens a file: callers add its name to errors.

mod control;
mod fault;
mod layout;
mod leaf;
mod length;
mod line;
mod read;
mod read_pass;
mod read_section;
mod replay;
mod write;

use crate::Song;
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

/// The most errors that are told of one text; those after them are left out.
pub const MOST_ERRORS: usize = 20;

/// The text of a song, ending in a line feed. The same song gives the same text.
pub fn write(song: &Song) -> String {
    write::song(song)
}

/// The song that `text` says. What [`write()`] has written comes back equal, and is then written
/// as the same bytes.
///
/// Errors come in order of place, at least one and at most [`MOST_ERRORS`].
pub fn read(text: &str) -> Result<Song, Vec<TextError>> {
    read::song(text)
}
