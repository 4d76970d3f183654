//! Folders as the screen shows them. What is in one and in which order is the desk's business.

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
