//! Reads a byte stream on its own thread.
//!
//! In: a path. Out: its bytes, to the [`Feed`], stamped right after each read. A FIFO or a device may
//! appear later. When the writer goes, the feed is cut once. After that a FIFO waits for the next
//! writer, a device is opened again when it is back, and a file has ended.

use super::PortState;
use super::feed::Feed;
use super::input::InputState;
use super::stream::{is_device, kind_at, make_raw, says};
use crate::monotonic::now;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{FileType, Mode, OFlags, open};
use rustix::io::Errno;
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

/// The longest wait for bytes, so that a request to stop is noticed.
const LOOK: Duration = Duration::from_millis(50);
/// How long until a device that is gone is looked for again.
const RETRY: Duration = Duration::from_millis(250);

/// A stream that is open or expected.
pub(crate) struct Reader {
    path: PathBuf,
    /// `None` until the path exists.
    stream: Option<Stream>,
}

/// An open stream.
struct Stream {
    kind: FileType,
    fd: OwnedFd,
}

/// The result of a read.
enum Heard {
    Bytes(usize),
    Nothing,
    End,
}

impl Reader {
    /// Opens the stream at `path`, without waiting for a writer. A path that does not exist is
    /// accepted if something can still appear there: a device, or a FIFO in a folder that exists.
    pub fn open(path: &Path) -> Result<Reader, String> {
        let stream = match kind_at(path)? {
            Some(kind @ (FileType::Fifo | FileType::CharacterDevice | FileType::RegularFile)) => {
                Some(Stream { kind, fd: open_to_read(path)? })
            }
            Some(_) => {
                return Err(
                    "it is not a FIFO, terminal, serial line, raw MIDI device or file".into()
                );
            }
            None if is_device(path) || has_folder(path) => None,
            None => return Err("the folder does not exist".into()),
        };
        Ok(Reader { path: path.to_path_buf(), stream })
    }

    /// Whether the path does not exist yet.
    pub fn is_absent(&self) -> bool {
        self.stream.is_none()
    }

    /// Waits for the stream, then reads until asked to stop.
    pub fn run(self, feed: Feed, shared: &InputState) {
        let Reader { path, stream } = self;
        let stream = stream.or_else(|| await_stream(&path, shared));
        if let Some(stream) = stream {
            shared.set_state(PortState::Open);
            stream.run(&path, feed, shared);
        }
    }
}

/// Waits until a FIFO or a device appears; `None` if asked to stop first. Ignores anything else that
/// appears at the path.
fn await_stream(path: &Path, shared: &InputState) -> Option<Stream> {
    while !shared.is_over() {
        thread::park_timeout(RETRY);
        if let Ok(Some(kind @ (FileType::Fifo | FileType::CharacterDevice))) = kind_at(path)
            && let Ok(fd) = open_to_read(path)
        {
            return Some(Stream { kind, fd });
        }
    }
    None
}

/// Whether the folder that a path is in exists.
fn has_folder(path: &Path) -> bool {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    folder.unwrap_or(Path::new(".")).is_dir()
}

impl Stream {
    /// Reads until asked to stop.
    fn run(mut self, path: &Path, mut feed: Feed, shared: &InputState) {
        let mut buffer = [0; 4096];
        let mut is_cut = false;
        while !shared.is_over() {
            match self.read(&mut buffer) {
                Heard::Bytes(count) => {
                    let stamp = now();
                    shared.set_state(PortState::Open);
                    feed.bytes(stamp, &buffer[..count]);
                    is_cut = false;
                }
                Heard::Nothing => {}
                Heard::End => {
                    if !std::mem::replace(&mut is_cut, true) {
                        feed.cut(now());
                        shared.set_state(PortState::Lost);
                    }
                    if !self.wait_for_another(path, shared) {
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

    /// Opens a stream that has ended again, for the next writer. A FIFO is opened at once, because its
    /// old end would report its end over and over; a device after a pause, because it may end again
    /// at once. Returns whether the stream is open.
    fn wait_for_another(&mut self, path: &Path, shared: &InputState) -> bool {
        if self.kind == FileType::RegularFile {
            shared.set_state(PortState::Silent);
            return false;
        }
        let mut patient = self.kind == FileType::Fifo;
        while !shared.is_over() {
            if !std::mem::replace(&mut patient, false) {
                thread::park_timeout(RETRY);
            }
            if let Ok(fd) = open_to_read(path) {
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
