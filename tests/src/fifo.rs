//! FIFOs in place of cables: the program reads one and writes another.
//!
//! [`Tap`] is the far end of the program's output: a thread reads it all the time, so that a test can
//! wait for a message. [`Tape`] keeps the raw bytes for a reader that is not ours. [`Player`] is the far
//! end of the program's input.

use crate::program::PATIENCE;
use crate::wire::{Heard, Reader};
use rustix::fs::{CWD, FileType, Mode, OFlags};
use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Creates a FIFO.
///
/// # Panics
/// If the system cannot create it.
pub fn make(folder: &Path, name: &str) -> PathBuf {
    let path = folder.join(name);
    let mode = Mode::from_raw_mode(0o600);
    rustix::fs::mknodat(CWD, &path, FileType::Fifo, mode, 0).expect("a FIFO can be created");
    path
}

/// What the thread shares with the test.
#[derive(Debug, Default)]
struct Intake {
    heard: Mutex<Vec<Heard>>,
    more: Condvar,
    over: AtomicBool,
}

/// The far end of an output.
#[derive(Debug)]
pub struct Tap {
    intake: Arc<Intake>,
    reader: Option<JoinHandle<()>>,
}

impl Tap {
    /// Starts reading a FIFO; the writer may open it later.
    ///
    /// # Panics
    /// If it cannot be opened.
    pub fn open(path: &Path) -> Tap {
        let file = far_end(path);
        let intake = Arc::new(Intake::default());
        let reader = std::thread::spawn({
            let intake = Arc::clone(&intake);
            move || listen(file, &intake)
        });
        Tap { intake, reader: Some(reader) }
    }

    /// Waits until the messages heard so far meet a condition, and returns them.
    ///
    /// # Panics
    /// If they do not within [`PATIENCE`].
    #[track_caller]
    pub fn wait(&self, what: &str, condition: impl Fn(&[Heard]) -> bool) -> Vec<Heard> {
        let start = Instant::now();
        let mut heard = self.intake.heard.lock().unwrap();
        while !condition(&heard) {
            assert!(start.elapsed() < PATIENCE, "not heard: {what}");
            heard = self.intake.more.wait_timeout(heard, Duration::from_secs(1)).unwrap().0;
        }
        heard.clone()
    }

    /// Waits for the pulse with this number, counted from 0 after the last Start.
    #[track_caller]
    pub fn wait_for_pulse(&self, number: usize) {
        self.wait(&format!("pulse {number}"), |heard| {
            let start = heard.iter().rposition(|&message| message == Heard::Start);
            let pulses = |from| heard[from..].iter().filter(|&&m| m == Heard::Pulse).count();
            start.is_some_and(|from| pulses(from) > number)
        });
    }

    /// Reads what is left in the FIFO, closes this end, and returns what was heard.
    ///
    /// # Panics
    /// If the bytes are not valid MIDI.
    #[must_use]
    pub fn close(mut self) -> Vec<Heard> {
        self.intake.over.store(true, Ordering::SeqCst);
        let joined = self.reader.take().map(JoinHandle::join);
        assert!(joined.is_some_and(|joined| joined.is_ok()), "the bytes are not valid MIDI");
        std::mem::take(&mut *self.intake.heard.lock().unwrap())
    }
}

impl Drop for Tap {
    fn drop(&mut self) {
        self.intake.over.store(true, Ordering::SeqCst);
    }
}

/// The raw bytes that came out of an output.
#[derive(Debug)]
pub struct Tape {
    over: Arc<AtomicBool>,
    bytes: Arc<Mutex<Vec<u8>>>,
    reader: Option<JoinHandle<()>>,
}

impl Tape {
    /// Starts reading a FIFO; the writer may open it later.
    ///
    /// # Panics
    /// If it cannot be opened.
    pub fn open(path: &Path) -> Tape {
        let file = far_end(path);
        let (over, bytes) = (Arc::new(AtomicBool::new(false)), Arc::new(Mutex::new(Vec::new())));
        let reader = std::thread::spawn({
            let (over, bytes) = (Arc::clone(&over), Arc::clone(&bytes));
            move || follow(file, &over, |more| bytes.lock().unwrap().extend_from_slice(more))
        });
        Tape { over, bytes, reader: Some(reader) }
    }

    /// Waits until a byte has come this many times.
    ///
    /// # Panics
    /// If it has not within [`PATIENCE`].
    #[track_caller]
    pub fn wait_for(&self, byte: u8, count: usize) {
        let start = Instant::now();
        while self.bytes.lock().unwrap().iter().filter(|&&one| one == byte).count() < count {
            assert!(start.elapsed() < PATIENCE, "fewer than {count} bytes {byte:02X} came");
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// Reads what is left in the FIFO, closes this end, and returns what came.
    ///
    /// # Panics
    /// If it could not be read.
    #[must_use]
    pub fn close(mut self) -> Vec<u8> {
        self.over.store(true, Ordering::SeqCst);
        let joined = self.reader.take().map(JoinHandle::join);
        assert!(joined.is_some_and(|joined| joined.is_ok()), "the FIFO could not be read");
        std::mem::take(&mut *self.bytes.lock().unwrap())
    }
}

impl Drop for Tape {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
    }
}

fn far_end(path: &Path) -> File {
    let flags = OFlags::RDONLY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    File::from(rustix::fs::open(path, flags, Mode::empty()).expect("the FIFO can be read"))
}

fn listen(file: File, intake: &Intake) {
    let mut reader = Reader::default();
    follow(file, &intake.over, |bytes| {
        reader.read(bytes, &mut intake.heard.lock().unwrap());
        intake.more.notify_all();
    });
}

/// Reads until the test is over and nothing is left.
fn follow(mut file: File, over: &AtomicBool, mut take: impl FnMut(&[u8])) {
    let mut bytes = [0; 4096];
    loop {
        let over = over.load(Ordering::SeqCst);
        match file.read(&mut bytes) {
            Ok(count @ 1..) => take(&bytes[..count]),
            Ok(0) if over => return,
            Err(error) if error.kind() == ErrorKind::WouldBlock && over => return,
            Err(error) if error.kind() != ErrorKind::WouldBlock => panic!("{error}"),
            _ => std::thread::sleep(Duration::from_millis(1)),
        }
    }
}

/// The far end of an input.
#[derive(Debug)]
pub struct Player(File);

impl Player {
    /// Opens a FIFO that the program reads or will read.
    ///
    /// # Panics
    /// If it cannot be opened.
    pub fn open(path: &Path) -> Player {
        // Opened for reading, too, so that this does not wait for the other end.
        let file = File::options().read(true).write(true).open(path);
        Player(file.expect("the FIFO can be written"))
    }

    /// Sends bytes.
    ///
    /// # Panics
    /// If they cannot be written.
    pub fn send(&mut self, bytes: &[u8]) {
        self.0.write_all(bytes).and_then(|()| self.0.flush()).expect("the FIFO takes bytes");
    }
}
