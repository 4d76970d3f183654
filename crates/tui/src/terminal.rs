//! Takes over the terminal, and restores it whatever happens in between.
//!
//! In: the terminal this process was started from. Out: raw bytes both ways, and its size. It is
//! restored to its earlier state at the end, after a panic in any thread, and before the program is
//! suspended. Restoring takes no lock and ignores errors, so that a panic hook or a signal
//! handler's thread may do it.
//!
//! The terminal is opened again rather than used through the standard streams, because it is set
//! not to block, and other programs that share those streams must not be affected.

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fd::OwnedFd;
use rustix::fs::{Mode, OFlags};
use rustix::io::Errno;
use rustix::process::{Signal, kill_current_process_group};
use rustix::termios::{OptionalActions, Termios, tcgetattr, tcgetwinsize, tcsetattr, ttyname};
use std::io;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// Alternate screen; bracketed paste.
const ENTER: &[u8] = b"\x1b[?1049h\x1b[?2004h\x1b[0m\x1b[2J";
/// Asks whether the terminal knows the kitty keyboard protocol, and for its background colour.
const ASK: &[u8] = b"\x1b[?u\x1b]11;?\x1b\\";
/// Ends anything that may be on (a frame, attributes, bracketed paste, a hidden cursor) and returns
/// to the previous screen.
const LEAVE: &[u8] = b"\x1b[?2026l\x1b[0m\x1b[?2004l\x1b[?25h\x1b[?1049l";
/// Ends the reports of key releases.
pub const RELEASES_OFF: &[u8] = b"\x1b[<u";
/// Asks for reports of key releases, letters included, with the text they type (flags 1, 2, 8 and
/// 16).
pub const RELEASES_ON: &[u8] = b"\x1b[>27u";

/// The terminal, once it has been opened. It stays open for the life of the process.
static TTY: OnceLock<Tty> = OnceLock::new();
/// Whether the screen has the terminal at the moment.
static ENTERED: AtomicBool = AtomicBool::new(false);
/// Whether key releases are being reported.
static RELEASES: AtomicBool = AtomicBool::new(false);
/// Whether some thread has panicked.
static CRASHED: AtomicBool = AtomicBool::new(false);

struct Tty {
    fd: OwnedFd,
    found: Termios,
}

/// The result of a read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Read {
    /// The number of bytes read.
    Bytes(usize),
    /// There was nothing to read.
    Nothing,
    /// The terminal is gone.
    Gone,
}

/// Makes a panic in any thread silence the instruments first, then restore the terminal, and only
/// then print its message as before. The screen ends by itself soon after, with
/// [`Ended::Crashed`](crate::Ended::Crashed).
///
/// `silence` must not wait for the thread that panicked. Call this once, before threads start.
pub fn install_panic_hook(silence: impl Fn() + Send + Sync + 'static) {
    let previous = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        CRASHED.store(true, Ordering::SeqCst);
        silence();
        restore_terminal();
        previous(info);
    }));
}

/// Restores the terminal, if the screen has it. Can be called from any thread, at any time.
pub fn restore_terminal() {
    let Some(tty) = TTY.get() else { return };
    if !ENTERED.swap(false, Ordering::SeqCst) {
        return;
    }
    if RELEASES.swap(false, Ordering::SeqCst) {
        write_out(tty, RELEASES_OFF);
    }
    write_out(tty, LEAVE);
    let _ = tcsetattr(&tty.fd, OptionalActions::Flush, &tty.found);
}

/// Writes a few bytes, waiting a little if the terminal is slow.
fn write_out(tty: &Tty, mut bytes: &[u8]) {
    for _ in 0..10 {
        match rustix::io::write(&tty.fd, bytes) {
            Ok(count) => bytes = &bytes[count..],
            Err(Errno::AGAIN | Errno::INTR) => {
                wait_for(tty, PollFlags::OUT, Duration::from_millis(10));
            }
            Err(_) => return,
        }
        if bytes.is_empty() {
            return;
        }
    }
}

fn wait_for(tty: &Tty, flags: PollFlags, limit: Duration) -> PollFlags {
    let mut fds = [PollFd::new(&tty.fd, flags)];
    let limit = Timespec { tv_sec: limit.as_secs() as _, tv_nsec: limit.subsec_nanos() as _ };
    match poll(&mut fds, Some(&limit)) {
        Ok(_) => fds[0].revents(),
        Err(_) => PollFlags::empty(),
    }
}

/// The terminal while the screen has it; dropping this restores it.
pub struct Terminal {
    tty: &'static Tty,
    may_ask: bool,
}

impl Terminal {
    /// Opens the terminal and takes it over. `may_ask` says whether to ask it what it supports.
    ///
    /// # Errors
    /// If there is no terminal.
    pub fn enter(may_ask: bool) -> io::Result<Terminal> {
        let tty = match TTY.get() {
            Some(tty) => tty,
            None => {
                let opened = open()?;
                TTY.get_or_init(|| opened)
            }
        };
        let terminal = Terminal { tty, may_ask };
        terminal.take_over()?;
        Ok(terminal)
    }

    /// Switches on raw mode and the alternate screen, even if they are on already.
    pub fn take_over(&self) -> io::Result<()> {
        let mut raw = self.tty.found.clone();
        raw.make_raw();
        tcsetattr(&self.tty.fd, OptionalActions::Now, &raw)?;
        ENTERED.store(true, Ordering::SeqCst);
        write_out(self.tty, ENTER);
        if self.may_ask {
            write_out(self.tty, ASK);
        }
        Ok(())
    }

    /// Restores the terminal and suspends the process; takes over again once it is continued.
    pub fn suspend(&self) -> io::Result<()> {
        restore_terminal();
        kill_current_process_group(Signal::TSTP)?;
        // The process goes on from here when it is continued.
        self.take_over()
    }

    /// Forgets the terminal without touching it: it is gone.
    pub fn forget(&self) {
        ENTERED.store(false, Ordering::SeqCst);
    }

    /// Whether some thread has panicked; the terminal is restored then.
    pub fn crashed(&self) -> bool {
        CRASHED.load(Ordering::SeqCst)
    }

    /// Records whether key releases are being reported.
    pub fn note_releases(&self, on: bool) {
        RELEASES.store(on, Ordering::SeqCst);
    }

    /// Columns and rows; 80 by 24 if the terminal does not know.
    pub fn size(&self) -> (u16, u16) {
        match tcgetwinsize(&self.tty.fd) {
            Ok(size) if size.ws_col > 0 && size.ws_row > 0 => (size.ws_col, size.ws_row),
            _ => (80, 24),
        }
    }

    /// Waits until there is something to read, or with `to_write` room to write, but no longer than
    /// `limit`.
    pub fn wait(&self, to_write: bool, limit: Duration) {
        let out = if to_write { PollFlags::OUT } else { PollFlags::empty() };
        let ready = wait_for(self.tty, PollFlags::IN | out, limit);
        // A lost terminal is always ready, so sleep instead of spinning. The next read reports the
        // loss.
        let gone = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
        if ready.intersects(gone) && !ready.contains(PollFlags::IN) {
            std::thread::sleep(Duration::from_millis(5).min(limit));
        }
    }

    /// Reads the bytes that have arrived.
    pub fn read(&self, bytes: &mut [u8]) -> Read {
        match rustix::io::read(&self.tty.fd, bytes) {
            Ok(0) => Read::Gone,
            Ok(count) => Read::Bytes(count),
            Err(Errno::AGAIN | Errno::INTR) => Read::Nothing,
            Err(_) => Read::Gone,
        }
    }

    /// Writes as many bytes as there is room for, and returns their number; `None` if the terminal
    /// is gone. Once the terminal has been restored, drops all bytes and counts them as written.
    pub fn write(&self, bytes: &[u8]) -> Option<usize> {
        if !ENTERED.load(Ordering::SeqCst) {
            return Some(bytes.len());
        }
        match rustix::io::write(&self.tty.fd, bytes) {
            Ok(count) => Some(count),
            Err(Errno::AGAIN | Errno::INTR) => Some(0),
            Err(_) => None,
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        restore_terminal();
    }
}

/// Checks whether this process has a terminal for the screen, without changing it.
///
/// # Errors
/// If it has none, or the terminal cannot be opened.
pub fn find_terminal() -> io::Result<()> {
    open().map(drop)
}

fn open() -> io::Result<Tty> {
    let flags = OFlags::RDWR | OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::CLOEXEC;
    let own = rustix::fs::open("/dev/tty", flags, Mode::empty());
    let fd = match own {
        Ok(fd) => fd,
        Err(_) => {
            let none = |_| {
                io::Error::other("the sketch screen needs a terminal, and this process has none")
            };
            let name = ttyname(rustix::stdio::stdin(), Vec::new()).map_err(none)?;
            rustix::fs::open(name, flags, Mode::empty())?
        }
    };
    let found = tcgetattr(&fd)?;
    Ok(Tty { fd, found })
}
