//! A byte stream to read from, on a thread of its own.
//!
//! In: a path. Out: its bytes, to the [`Feed`], stamped first thing after the read. When whoever
//! writes goes, the feed is told once; then a FIFO waits for the next writer, a device is opened
//! again when it is back, and a file is at its end.

use super::PortState;
use super::feed::Feed;
use super::input::Shared;
use super::line::{kind_at, make_raw, says};
use crate::monotonic::now;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{FileType, Mode, OFlags, open};
use rustix::io::Errno;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

/// How long a wait for bytes is at most, so that an end of the thread is noticed.
const LOOK: Duration = Duration::from_millis(50);
/// How long until a device that is gone is looked for again.
const RETRY: Duration = Duration::from_millis(250);

/// An open stream.
pub(crate) struct Reader {
    path: PathBuf,
    kind: FileType,
    fd: OwnedFd,
}

/// What a read gave.
enum Heard {
    Bytes(usize),
    Nothing,
    End,
}

impl Reader {
    /// Opens the stream at `path`. Does not wait for anyone to write.
    pub fn open(path: &Path) -> Result<Reader, String> {
        let kind = kind_at(path)?.ok_or("there is nothing of that name")?;
        match kind {
            FileType::Fifo | FileType::CharacterDevice | FileType::RegularFile => {}
            _ => return Err("it is no FIFO, terminal, serial line, raw MIDI device or file".into()),
        }
        let fd = open_to_read(path)?;
        Ok(Reader { path: path.to_path_buf(), kind, fd })
    }

    /// Reads until told to stop.
    pub fn run(mut self, mut feed: Feed, shared: &Shared) {
        let mut buffer = [0; 4096];
        let mut told = false;
        while !shared.is_over() {
            match self.read(&mut buffer) {
                Heard::Bytes(count) => {
                    let stamp = now();
                    shared.set_state(PortState::Open);
                    feed.bytes(stamp, &buffer[..count]);
                    told = false;
                }
                Heard::Nothing => {}
                Heard::End => {
                    if !std::mem::replace(&mut told, true) {
                        feed.cut(now());
                        shared.set_state(PortState::Lost);
                    }
                    if !self.wait_for_another(shared) {
                        return;
                    }
                }
            }
            if feed.look(now()) {
                shared.set_state(PortState::Lost);
            }
            shared.set_strays(feed.stray());
        }
    }

    fn read(&self, buffer: &mut [u8]) -> Heard {
        let mut fds = [PollFd::new(&self.fd, PollFlags::IN)];
        let wait = Timespec { tv_sec: 0, tv_nsec: LOOK.as_nanos() as _ };
        match poll(&mut fds, Some(&wait)) {
            Ok(0) | Err(Errno::INTR) => return Heard::Nothing,
            Ok(_) => {}
            Err(_) => return Heard::End,
        }
        match rustix::io::read(&self.fd, buffer) {
            Ok(0) => Heard::End,
            Ok(count) => Heard::Bytes(count),
            Err(Errno::AGAIN | Errno::INTR) => Heard::Nothing,
            Err(_) => Heard::End,
        }
    }

    /// Takes a stream with a writer to come in place of one that has ended. A FIFO is opened
    /// afresh at once, since the old end of it would say 'ended' without a pause; a device after
    /// a pause, since it may end again at once. Whether there is one.
    fn wait_for_another(&mut self, shared: &Shared) -> bool {
        if self.kind == FileType::RegularFile {
            shared.set_state(PortState::Silent);
            return false;
        }
        let mut patient = self.kind == FileType::Fifo;
        while !shared.is_over() {
            if !std::mem::replace(&mut patient, false) {
                thread::park_timeout(RETRY);
            }
            if let Ok(fd) = open_to_read(&self.path) {
                self.fd = fd;
                return true;
            }
        }
        false
    }
}

fn open_to_read(path: &Path) -> Result<OwnedFd, String> {
    let flags = OFlags::RDONLY | OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::CLOEXEC;
    let fd = open(path, flags, Mode::empty()).map_err(says)?;
    make_raw(&fd).map_err(says)?;
    Ok(fd)
}
