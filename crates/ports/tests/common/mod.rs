//! Helpers shared by the tests of real ports: FIFOs, pseudo-terminals, waiting for something to
//! happen.
#![allow(dead_code, reason = "each test program uses a part of it")]

use chaconne_engine::{Action, Cue, Order, PortIx, Slot, Voice};
use chaconne_ports::{Orders, Stats, now};
use chaconne_song::{Channel, NoteId, U7};
use chaconne_time::{Tempo, Tick};
use rustix::fs::OFlags;
use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read};
use std::os::fd::OwnedFd;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Waits until a condition is true. The limit is long enough for any machine; it only decides when
/// to give up.
pub fn eventually(what: &str, mut is_so: impl FnMut() -> bool) {
    let start = Instant::now();
    while !is_so() {
        assert!(start.elapsed() < Duration::from_secs(30), "timed out waiting for {what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// A FIFO in its own directory.
pub fn fifo() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wire");
    make_fifo(&path);
    (folder, path)
}

pub fn make_fifo(path: &Path) {
    let made = std::process::Command::new("mkfifo").arg(path).status().unwrap();
    assert!(made.success());
}

/// The reading end of a FIFO, opened without waiting.
pub fn reader(path: &Path) -> File {
    let flags = (OFlags::NONBLOCK | OFlags::CLOEXEC).bits() as i32;
    OpenOptions::new().read(true).custom_flags(flags).open(path).unwrap()
}

/// A pseudo-terminal: the end the test holds, and the path of the other end.
pub fn terminal() -> (File, PathBuf) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let master: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let name = ptsname(&master, Vec::new()).unwrap();
    let flags = rustix::fs::fcntl_getfl(&master).unwrap();
    rustix::fs::fcntl_setfl(&master, flags | OFlags::NONBLOCK).unwrap();
    (File::from(master), PathBuf::from(name.into_string().unwrap()))
}

/// A path under /dev where nothing exists, in the part that programs may write to. Dropping the
/// folder removes everything in it.
pub fn plug() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir_in("/dev/shm").unwrap();
    let path = folder.path().join("midiC9D0");
    (folder, path)
}

/// Appends whatever can be read now.
pub fn read_some(from: &mut File, bytes: &mut Vec<u8>) {
    let mut buffer = [0; 4096];
    loop {
        match from.read(&mut buffer) {
            Ok(0) => return,
            Ok(count) => bytes.extend_from_slice(&buffer[..count]),
            Err(error) if error.kind() == ErrorKind::WouldBlock => return,
            Err(error) => panic!("reading: {error}"),
        }
    }
}

/// Reads until `count` bytes have arrived.
pub fn read_exactly(from: &mut File, count: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    eventually("the bytes", || {
        read_some(from, &mut bytes);
        bytes.len() >= count
    });
    assert_eq!(bytes.len(), count, "more bytes arrived than were sent");
    bytes
}

pub fn spec(path: &Path) -> chaconne_ports::PortSpec {
    chaconne_ports::PortSpec::Bytes(path.to_path_buf())
}

pub fn voice(note: u32) -> Voice {
    Voice { pass: Voice::NO_PASS, note: NoteId(note), cycle: Tick(0) }
}

pub fn play(port: u8, at: i64, action: Action) -> Order {
    Order::Play(Cue { at: Tick(at), slot: Slot(0), epoch: 0, port: PortIx(port), action })
}

pub fn press(port: u8, at: i64, key: u8, note: u32) -> Order {
    let (channel, key) = (Channel::default(), U7::low_bits(key));
    let velocity = U7::low_bits(100);
    play(port, at, Action::Press { channel, key, velocity, voice: voice(note) })
}

pub fn lift(port: u8, at: i64, key: u8, note: u32) -> Order {
    let (channel, key) = (Channel::default(), U7::low_bits(key));
    play(port, at, Action::Lift { channel, key, velocity: U7::CENTRE, voice: voice(note) })
}

pub fn roll(orders: &mut Orders) {
    orders.send(Order::Roll { at: Tick(0), ns: now(), tempo: Tempo::FASTEST, song: 0 }).unwrap();
}

pub fn state(stats: &Stats, port: usize) -> chaconne_ports::PortState {
    stats.ports[port].state
}
