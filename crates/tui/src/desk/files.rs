//! Folders and songs that the desk reads for the screen, each in its own time. What is in a folder and in
//! which order is the desk's business.

use std::time::Duration;

/// The answer to a request for a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FolderAnswer {
    /// The number of the request.
    pub number: u64,
    /// The folder, or one sentence on why it cannot be read.
    pub folder: Result<Folder, String>,
}

/// A folder to choose a song from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Folder {
    /// The folder, in full.
    pub path: String,
    /// What can be chosen, in the order in which it is shown.
    pub entries: Vec<FileEntry>,
}

/// A line of a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileEntry {
    /// What it leads to.
    pub kind: EntryKind,
    /// Its name.
    pub name: String,
    /// Its path, in full.
    pub path: String,
    /// How long ago a song was changed, if that is known.
    pub age: Option<Duration>,
}

/// What a line of a folder leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EntryKind {
    /// A song in the folder.
    Song,
    /// A song that was opened or saved before, in another folder.
    Recent,
    /// Another folder.
    Folder,
    /// The folder that this one is in.
    Parent,
}

/// A song to be read while another one is at hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SongRequest {
    /// Open the song in this file in the place of the one at hand, and stop if that plays. The screen
    /// has asked about unsaved work before.
    Open(String),
    /// Put the song of the rescue copy in the place of the one at hand, with unsaved changes.
    Restore,
    /// Compare the song with the one in its file.
    Compare,
}

/// The answer to a request for a song.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SongAnswer {
    /// The number of the request.
    pub number: u64,
    /// What was done, or one sentence on why nothing was: it cannot be read, or the song at hand has
    /// changed since the request.
    pub done: Result<SongRead, String>,
}

/// What was done with a song that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SongRead {
    /// It was opened.
    Opened,
    /// It was restored.
    Restored,
    /// It was compared: how the song at hand differs from it, one sentence each; empty if both play
    /// the same.
    Compared(Vec<String>),
}
