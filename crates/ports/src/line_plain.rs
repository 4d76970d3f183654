//! A byte stream to write to, where the system has no more than plain files for it.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;

/// What became of bytes that were written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wrote {
    /// So many of them are out.
    Some(usize),
    /// The stream takes nothing now.
    Nothing,
    /// Nobody is there any more.
    Gone,
}

/// An open stream.
#[derive(Debug)]
pub(crate) struct Line(File);

/// A second hold on a stream, to look after it and for the last resort.
#[derive(Debug)]
pub(crate) struct Spare(File);

/// Nothing is waited for.
pub(crate) fn is_absent(_path: &Path) -> bool {
    false
}

impl Line {
    /// Opens the stream at `path`. A file is made where nothing is, and one with something in it
    /// is left alone.
    pub fn open(path: &Path) -> Result<Option<Line>, String> {
        let file = OpenOptions::new().append(true).create(true).open(path);
        let file = file.map_err(|error| error.to_string())?;
        if file.metadata().is_ok_and(|about| about.is_file() && about.len() > 0) {
            return Err("the file is not empty; name a new one".to_string());
        }
        Ok(Some(Line(file)))
    }

    /// Opens a device that may have come back.
    pub fn reopen(path: &Path) -> Result<Option<Line>, String> {
        let file = OpenOptions::new().append(true).open(path);
        file.map(|file| Some(Line(file))).map_err(|error| error.to_string())
    }

    /// Writes as much as the stream takes.
    pub fn write(&self, bytes: &[u8]) -> Wrote {
        match (&self.0).write(bytes) {
            Ok(0) if !bytes.is_empty() => Wrote::Nothing,
            Ok(count) => Wrote::Some(count),
            Err(_) => Wrote::Gone,
        }
    }

    /// A second hold on it.
    pub fn spare(&self) -> Option<Spare> {
        self.0.try_clone().ok().map(Spare)
    }
}

impl Spare {
    /// Whether nobody is at the other end any more; writing tells.
    pub fn is_gone(&self) -> bool {
        false
    }

    /// Writes bytes. Whether they are out.
    pub fn write(&self, bytes: &[u8]) -> bool {
        (&self.0).write(bytes).is_ok_and(|count| count == bytes.len())
    }
}
