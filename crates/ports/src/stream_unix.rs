//! Byte streams for writing: FIFO, pseudo-terminal, serial line, raw MIDI device, file.
//!
//! Writing never waits, except for the disk if it is a file. Terminals are set to raw mode, so that
//! no byte is changed on the way.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{FileType, Mode, OFlags, fstat, open};
use rustix::io::Errno;
use rustix::termios::{OptionalActions, isatty, tcgetattr, tcsetattr};
use std::os::fd::{AsFd, OwnedFd};
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
pub(crate) struct ByteStream(OwnedFd);

/// A second handle on a stream, for checking it and for the last resort.
#[derive(Debug)]
pub(crate) struct Spare(OwnedFd);

/// The type of file at a path; `None` if there is none.
pub(crate) fn kind_at(path: &Path) -> Result<Option<FileType>, String> {
    match rustix::fs::stat(path) {
        Ok(stat) => Ok(Some(FileType::from_raw_mode(stat.st_mode))),
        Err(Errno::NOENT) => Ok(None),
        Err(error) => Err(says(error)),
    }
}

/// Whether there is no file at a path.
pub(crate) fn is_absent(path: &Path) -> bool {
    matches!(kind_at(path), Ok(None))
}

/// Whether a path names a device, which can be plugged in at any time.
pub(crate) fn is_device(path: &Path) -> bool {
    path.starts_with("/dev")
}

/// The system's error message, for the end of a sentence.
pub(crate) fn says(error: Errno) -> String {
    std::io::Error::from(error).to_string()
}

impl ByteStream {
    /// Opens the stream at `path`; `None` if it is a FIFO that nobody reads yet, or a device that
    /// is not plugged in. Anywhere else, creates a file if there is none, and refuses one that is
    /// not empty.
    pub fn open(path: &Path) -> Result<Option<ByteStream>, String> {
        match kind_at(path)? {
            Some(FileType::Fifo | FileType::CharacterDevice) => ByteStream::open_stream(path),
            Some(FileType::RegularFile) => ByteStream::open_file(path).map(Some),
            Some(_) => {
                Err("it is not a FIFO, terminal, serial line, raw MIDI device or file".to_string())
            }
            None if is_device(path) => Ok(None),
            None => ByteStream::make_file(path).map(Some),
        }
    }

    /// Opens a FIFO or a device that may be back. Does not wait, and leaves anything else that has
    /// appeared under the name alone.
    pub fn reopen(path: &Path) -> Result<Option<ByteStream>, String> {
        match kind_at(path)? {
            Some(FileType::Fifo | FileType::CharacterDevice) => ByteStream::open_stream(path),
            _ => Ok(None),
        }
    }

    fn open_stream(path: &Path) -> Result<Option<ByteStream>, String> {
        let flags = OFlags::WRONLY | OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::CLOEXEC;
        match open(path, flags, Mode::empty()) {
            Ok(fd) => {
                make_raw(&fd).map_err(says)?;
                Ok(Some(ByteStream(fd)))
            }
            Err(Errno::NXIO) => Ok(None),
            Err(error) => Err(says(error)),
        }
    }

    fn make_file(path: &Path) -> Result<ByteStream, String> {
        let flags = OFlags::WRONLY | OFlags::CREATE | OFlags::EXCL | OFlags::CLOEXEC;
        open(path, flags, Mode::from_raw_mode(0o666)).map(ByteStream).map_err(says)
    }

    fn open_file(path: &Path) -> Result<ByteStream, String> {
        let flags = OFlags::WRONLY | OFlags::APPEND | OFlags::CLOEXEC;
        let fd = open(path, flags, Mode::empty()).map_err(says)?;
        if fstat(&fd).map_err(says)?.st_size > 0 {
            return Err("the file is not empty; name a new one".to_string());
        }
        Ok(ByteStream(fd))
    }

    /// Writes as much as the stream accepts at once.
    pub fn write(&self, bytes: &[u8]) -> Wrote {
        loop {
            match rustix::io::write(&self.0, bytes) {
                Ok(0) if !bytes.is_empty() => return Wrote::Nothing,
                Ok(count) => return Wrote::Some(count),
                Err(Errno::INTR) => {}
                Err(Errno::AGAIN) => return Wrote::Nothing,
                Err(_) => return Wrote::Gone,
            }
        }
    }

    /// A second handle on it.
    pub fn spare(&self) -> Option<Spare> {
        rustix::io::fcntl_dupfd_cloexec(&self.0, 3).ok().map(Spare)
    }
}

impl Spare {
    /// Whether the reader has gone.
    pub fn is_gone(&self) -> bool {
        let mut fds = [PollFd::new(&self.0, PollFlags::empty())];
        let at_once = Timespec { tv_sec: 0, tv_nsec: 0 };
        let polled = poll(&mut fds, Some(&at_once));
        polled.is_ok() && fds[0].revents().intersects(PollFlags::ERR | PollFlags::HUP)
    }

    /// Writes bytes if the stream accepts them; returns whether it did.
    pub fn write(&self, bytes: &[u8]) -> bool {
        rustix::io::write(&self.0, bytes) == Ok(bytes.len())
    }
}

/// Makes a terminal pass every byte unchanged; leaves other streams alone.
pub(crate) fn make_raw(fd: impl AsFd) -> rustix::io::Result<()> {
    if isatty(&fd) {
        let mut settings = tcgetattr(&fd)?;
        settings.make_raw();
        tcsetattr(&fd, OptionalActions::Now, &settings)?;
    }
    Ok(())
}
