//! Byte streams for writing, on systems where they can only be plain files.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::path::Path;

/// The result of a write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Wrote {
    /// This many bytes were written.
    Some(usize),
    /// The stream accepts nothing now.
    Nothing,
    /// The reader has gone.
    Gone,
}

/// An open stream.
#[derive(Debug)]
pub(crate) struct ByteStream(File);

/// A second handle on a stream, for checking it and for the last resort.
#[derive(Debug)]
pub(crate) struct Spare(File);

/// Always false: on these systems a port never waits for its file.
pub(crate) fn is_absent(_path: &Path) -> bool {
    false
}

impl ByteStream {
    /// Opens the stream at `path`. Creates a file if there is none; refuses one that is not empty.
    pub fn open(path: &Path) -> Result<Option<ByteStream>, String> {
        let file = OpenOptions::new().append(true).create(true).open(path);
        let file = file.map_err(|error| error.to_string())?;
        if file.metadata().is_ok_and(|about| about.is_file() && about.len() > 0) {
            return Err("the file is not empty; name a new one".to_string());
        }
        Ok(Some(ByteStream(file)))
    }

    /// Opens a device that may be back.
    pub fn reopen(path: &Path) -> Result<Option<ByteStream>, String> {
        let file = OpenOptions::new().append(true).open(path);
        file.map(|file| Some(ByteStream(file))).map_err(|error| error.to_string())
    }

    /// Writes as much as the stream accepts.
    pub fn write(&self, bytes: &[u8]) -> Wrote {
        match (&self.0).write(bytes) {
            Ok(0) if !bytes.is_empty() => Wrote::Nothing,
            Ok(count) => Wrote::Some(count),
            Err(_) => Wrote::Gone,
        }
    }

    /// A second handle on it.
    pub fn spare(&self) -> Option<Spare> {
        self.0.try_clone().ok().map(Spare)
    }
}

impl Spare {
    /// Whether the reader has gone; here only a write shows that.
    pub fn is_gone(&self) -> bool {
        false
    }

    /// Writes bytes; returns whether that worked.
    pub fn write(&self, bytes: &[u8]) -> bool {
        (&self.0).write(bytes).is_ok_and(|count| count == bytes.len())
    }
}
