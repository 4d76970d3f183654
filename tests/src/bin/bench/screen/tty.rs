//! The program in a pseudo-terminal whose far end reads as fast as it is told to.
//!
//! In: keys, and how fast to read. Out: bytes and frames counted, the picture of the screen, and the share
//! of a core that the thread of the screen takes. Like a real terminal, it answers when it is asked for the
//! cursor's position (ECMA-48, DSR and CPR), once it has read the question.

use crate::Failure;
use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::{Duration, Instant};

const WHERE_IS_THE_CURSOR: &[u8] = b"\x1b[6n";
/// How a frame begins: synchronised output.
const FRAME: &[u8] = b"\x1b[?2026h";
/// The pace of a reader that is not held back.
const AT_ONCE: u64 = u64::MAX;
/// How long to wait for anything on the screen.
const LOST: Duration = Duration::from_secs(20);

type Keys = Arc<Mutex<Box<dyn Write + Send>>>;

/// What the reading thread shares.
struct Shared {
    picture: Mutex<vt100::Parser>,
    more: Condvar,
    /// Bytes a second; 0 stops.
    pace: AtomicU64,
    bytes: AtomicU64,
    frames: AtomicU64,
}

/// The program and its terminal.
pub struct Tty {
    shared: Arc<Shared>,
    keys: Keys,
    child: Box<dyn Child + Send + Sync>,
    _master: Box<dyn MasterPty + Send>,
}

impl Tty {
    /// Starts `sketch` with the arguments, on a terminal of so many columns and lines; `remote` as if over
    /// SSH.
    pub fn start(
        program: &Path,
        arguments: &[String],
        (cols, rows): (u16, u16),
        remote: bool,
    ) -> Result<Tty, Failure> {
        let ends =
            native_pty_system().openpty(PtySize { rows, cols, pixel_width: 0, pixel_height: 0 })?;
        let mut command = CommandBuilder::new(program);
        command.arg("sketch");
        command.args(arguments);
        for (name, value) in [("TERM", "xterm-256color"), ("LANG", "C.UTF-8")] {
            command.env(name, value);
        }
        for name in ["XDG_CONFIG_HOME", "XDG_STATE_HOME"] {
            command.env(name, "/nonexistent");
        }
        for name in ["NO_COLOR", "COLORFGBG", "LC_ALL", "LC_CTYPE", "SSH_CONNECTION"] {
            command.env_remove(name);
        }
        if remote {
            command.env("SSH_CONNECTION", "192.0.2.1 50000 192.0.2.2 22");
        }
        let keys: Keys = Arc::new(Mutex::new(ends.master.take_writer()?));
        let from = ends.master.try_clone_reader()?;
        let child = ends.slave.spawn_command(command)?;
        let shared = Arc::new(Shared {
            picture: Mutex::new(vt100::Parser::new(rows, cols, 0)),
            more: Condvar::new(),
            pace: AtomicU64::new(AT_ONCE),
            bytes: AtomicU64::new(0),
            frames: AtomicU64::new(0),
        });
        std::thread::spawn({
            let (shared, keys) = (Arc::clone(&shared), Arc::clone(&keys));
            move || read(from, &shared, &keys)
        });
        Ok(Tty { shared, keys, child, _master: ends.master })
    }

    /// Reads at most so many bytes a second from now on; 0 reads nothing, `None` all at once.
    pub fn pace(&self, bytes: Option<u64>) {
        self.shared.pace.store(bytes.unwrap_or(AT_ONCE), Ordering::SeqCst);
    }

    /// Types.
    pub fn keys(&self, keys: &str) -> Result<(), Failure> {
        let mut to = self.keys.lock().map_err(|_| "the reader has panicked")?;
        to.write_all(keys.as_bytes())?;
        Ok(to.flush()?)
    }

    /// Waits until the screen meets a condition; returns how long that took.
    pub fn wait(
        &self,
        what: &str,
        condition: impl Fn(&vt100::Screen) -> bool,
    ) -> Result<Duration, Failure> {
        let start = Instant::now();
        let mut picture = self.shared.picture.lock().map_err(|_| "the reader has panicked")?;
        while !condition(picture.screen()) {
            if start.elapsed() > LOST {
                let text = picture.screen().contents();
                return Err(format!("never on the screen: {what}\n{text}").into());
            }
            let waited = self.shared.more.wait_timeout(picture, Duration::from_millis(100));
            picture = waited.map_err(|_| "the reader has panicked")?.0;
        }
        Ok(start.elapsed())
    }

    /// The bytes and frames so far.
    pub fn counts(&self) -> (u64, u64) {
        let count = |of: &AtomicU64| of.load(Ordering::SeqCst);
        (count(&self.shared.bytes), count(&self.shared.frames))
    }

    /// How long the thread of the screen, which is the program's first, has run so far (`schedstat`).
    pub fn busy(&self) -> Result<Duration, Failure> {
        let id = self.child.process_id().ok_or("the program has ended")?;
        let stat = fs::read_to_string(format!("/proc/{id}/task/{id}/schedstat"))?;
        let ns = stat.split(' ').next().ok_or("the system does not report times of threads")?;
        Ok(Duration::from_nanos(ns.parse()?))
    }
}

impl Drop for Tty {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Reads what the program writes, at the pace that is set.
fn read(mut from: Box<dyn Read + Send>, shared: &Shared, keys: &Keys) {
    const TURN: Duration = Duration::from_millis(20);
    let mut bytes = [0; 4096];
    let mut last = Vec::new();
    loop {
        let most = match shared.pace.load(Ordering::SeqCst) {
            AT_ONCE => bytes.len(),
            0 => {
                std::thread::sleep(TURN);
                continue;
            }
            pace => {
                std::thread::sleep(TURN);
                (pace * TURN.as_millis() as u64 / 1000).clamp(1, 4096) as usize
            }
        };
        let Ok(count @ 1..) = from.read(&mut bytes[..most]) else { return };
        shared.bytes.fetch_add(count as u64, Ordering::SeqCst);
        last.extend_from_slice(&bytes[..count]);
        let found =
            |text: &[u8], last: &[u8]| last.windows(text.len()).filter(|w| *w == text).count();
        // What was cut at the end of the last read is still there, but nothing whole.
        shared.frames.fetch_add(found(FRAME, &last) as u64, Ordering::SeqCst);
        for _ in 0..found(WHERE_IS_THE_CURSOR, &last) {
            if let Ok(mut keys) = keys.lock() {
                let _ = keys.write_all(b"\x1b[1;1R");
            }
        }
        let keep = (1..FRAME.len().min(last.len() + 1)).rev().find(|&keep| {
            let tail = &last[last.len() - keep..];
            FRAME.starts_with(tail) || WHERE_IS_THE_CURSOR.starts_with(tail)
        });
        last.drain(..last.len() - keep.unwrap_or(0));
        if let Ok(mut picture) = shared.picture.lock() {
            picture.process(&bytes[..count]);
        }
        shared.more.notify_all();
    }
}
