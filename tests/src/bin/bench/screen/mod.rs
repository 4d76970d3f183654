//! What the screen costs, and how soon it follows: the program in a pseudo-terminal.
//!
//! Bytes a second to a terminal nearby, to one over SSH, and while stopped; how soon a key is seen, nearby
//! and by readers of 8 and 2 kB/s; how soon a note key reaches the port; the share of a core; frames with a
//! hundred thousand notes; and how late pulses are while the terminal does not read at all.

mod tty;

use crate::lates::Lates;
use crate::measure::line;
use crate::{Extent, Failure, big_song, memory};
use chaconne_song::{Channel, Form, Note, NoteId, Pass, PassId, Placed, Song, Stroke, U7, text};
use chaconne_tests::fifo;
use chaconne_time::Tick;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::fs::File;
use std::io::Read;
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::sleep;
use std::time::{Duration, Instant};
use tty::Tty;

/// The usual size.
const SMALL: (u16, u16) = (80, 24);
const LARGE: (u16, u16) = (200, 60);
/// How long to wait for a message of a port: 5 s.
const LOST: Timespec = Timespec { tv_sec: 5, tv_nsec: 0 };

/// A folder with a song, and the program.
struct Place {
    program: PathBuf,
    folder: tempfile::TempDir,
}

impl Place {
    fn song(&self, name: &str, song: &Song) -> Result<String, Failure> {
        let path = self.folder.path().join(name);
        std::fs::write(&path, text::write(song))?;
        Ok(path.to_string_lossy().into_owned())
    }

    /// Starts the program on a song, rolling, and waits until it is drawn.
    fn rolling(
        &self,
        song: &str,
        out: &str,
        size: (u16, u16),
        remote: bool,
    ) -> Result<Tty, Failure> {
        let arguments = [song, "--out", out, "--play"].map(String::from);
        let tty = Tty::start(&self.program, &arguments, size, remote)?;
        tty.wait("PLAYING", |screen| screen.contents().contains("PLAYING"))?;
        sleep(Duration::from_millis(500));
        Ok(tty)
    }
}

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let place = Place { program: memory::build()?, folder: tempfile::tempdir()? };
    let (seconds, keys) = if extent == Extent::Short { (2, 20) } else { (10, 200) };
    let demo = place.song("demo.ron", &big_song::demo_at_120()?)?;
    for (what, size, remote) in [
        ("80x24 at a desk", SMALL, false),
        ("200x60 at a desk", LARGE, false),
        ("80x24 over SSH", SMALL, true),
        ("200x60 over SSH", LARGE, true),
    ] {
        let tty = place.rolling(&demo, "none", size, remote)?;
        rate(&format!("rolling, {what}"), &tty, seconds)?;
        if size == SMALL && !remote {
            key_seen("a key is seen, 80x24 at a desk", &tty, keys)?;
            tty.keys(" ")?;
            tty.wait("STOPPED", |screen| screen.contents().contains("STOPPED"))?;
            sleep(Duration::from_millis(1500));
            rate("stopped, 80x24 at a desk", &tty, seconds)?;
        }
    }
    for pace in [8000, 2000] {
        let tty = place.rolling(&demo, "none", SMALL, true)?;
        tty.pace(Some(pace));
        sleep(Duration::from_secs(seconds));
        key_seen(&format!("a key is seen by a reader of {pace} bytes/s"), &tty, keys / 10)?;
    }
    exporting(&place, seconds)?;
    note_out(&place, &demo, keys)?;
    many_notes(&place, seconds)?;
    stalled(&place, &demo, seconds)
}

/// Bytes and frames a second, and the share of a core.
fn rate(what: &str, tty: &Tty, seconds: u64) -> Result<(), Failure> {
    let (start, (bytes, frames), busy) = (Instant::now(), tty.counts(), tty.busy()?);
    sleep(Duration::from_secs(seconds));
    let (all, drawn) = tty.counts();
    let (busy, time) = (tty.busy()? - busy, start.elapsed().as_secs_f64());
    let share = 100.0 * busy.as_secs_f64() / time;
    let (bytes, frames) = ((all - bytes) as f64 / time, (drawn - frames) as f64 / time);
    line(what, format!("{bytes:.0} bytes/s, {frames:.1} frames/s, {share:.2} % of a core"));
    Ok(())
}

/// How soon the cursor is on another track after an arrow key.
fn key_seen(what: &str, tty: &Tty, keys: usize) -> Result<(), Failure> {
    let row = |screen: &vt100::Screen| screen.cursor_position().0;
    let mut times = Vec::with_capacity(keys);
    // Two rows of the first tracks, from the picture itself.
    tty.keys("\x1b[A\x1b[A\x1b[A")?;
    sleep(Duration::from_secs(1));
    let mut at = u16::MAX;
    tty.wait("a cursor", |screen| row(screen) > 4)?;
    for number in 0..keys {
        // The pauses vary, so that they fall in step with no frame.
        sleep(Duration::from_millis(150 + (number as u64 * 37) % 100));
        let seen = std::cell::Cell::new(at);
        tty.wait("a cursor", |screen| {
            seen.set(row(screen));
            true
        })?;
        at = seen.get();
        tty.keys(if number % 2 == 0 { "\x1b[B" } else { "\x1b[A" })?;
        let taken = tty.wait("the cursor on another track", |screen| row(screen) != at)?;
        times.push(i64::try_from(taken.as_nanos())?);
    }
    let Lates { p50, p99, worst } = Lates::of(times);
    let ms = |ns: i64| ns as f64 / 1e6;
    line(what, format!("p50 {:.1} ms, p99 {:.1} ms, worst {:.1} ms", ms(p50), ms(p99), ms(worst)));
    Ok(())
}

/// Bytes and frames a second over SSH while a WAV file is exported, whose progress is shown.
fn exporting(place: &Place, seconds: u64) -> Result<(), Failure> {
    let mut song = big_song::demo_at_120()?;
    song.form = "A x200".parse::<Form>().map_err(|error| error.to_string())?;
    let tty = place.rolling(&place.song("long.ron", &song)?, "none", SMALL, true)?;
    tty.keys("\x05")?;
    tty.wait("the form", |screen| screen.contents().contains("Export the form"))?;
    tty.keys("\x1b[C\r")?;
    tty.wait("progress", |screen| screen.contents().contains(" %"))?;
    rate("rolling and exporting, 80x24 over SSH", &tty, seconds)?;
    tty.wait("more progress", |screen| screen.contents().contains(" %"))?;
    Ok(())
}

/// How soon a note key's note-on leaves the port.
fn note_out(place: &Place, song: &str, keys: usize) -> Result<(), Failure> {
    let wire = fifo::make(place.folder.path(), "keys");
    // Opened for reading and writing, because opening for one of them waits for the other end.
    let mut heard = File::options().read(true).write(true).open(&wire)?;
    let out = format!("bytes:{},no-clock", wire.display());
    let tty = Tty::start(&place.program, &[song, "--out", &out].map(String::from), SMALL, false)?;
    tty.wait("STOPPED", |screen| screen.contents().contains("STOPPED"))?;
    tty.keys("p")?;
    tty.wait("the piano", |screen| screen.contents().contains("to end"))?;
    sleep(Duration::from_millis(500));
    drain(&mut heard)?;
    let mut times = Vec::with_capacity(keys);
    for number in 0..keys {
        let key = ["f", "g", "h", "j"][number % 4];
        let start = Instant::now();
        tty.keys(key)?;
        let mut ready = [PollFd::new(&heard, PollFlags::IN)];
        if poll(&mut ready, Some(&LOST))? == 0 {
            return Err("a note key was not heard".into());
        }
        times.push(i64::try_from(start.elapsed().as_nanos())?);
        // Its release comes a fifth of a second later.
        sleep(Duration::from_millis(300 + (number as u64 * 37) % 20));
        drain(&mut heard)?;
    }
    line("note key to port", Lates::of(times));
    Ok(())
}

/// Reads whatever is there.
fn drain(from: &mut File) -> Result<(), Failure> {
    let none = Timespec { tv_sec: 0, tv_nsec: 0 };
    let mut bytes = [0; 4096];
    while poll(&mut [PollFd::new(&*from, PollFlags::IN)], Some(&none))? > 0 {
        let _ = from.read(&mut bytes)?;
    }
    Ok(())
}

/// Frames of the view of the notes with a hundred thousand of them, while the song rolls.
fn many_notes(place: &Place, seconds: u64) -> Result<(), Failure> {
    let mut song = big_song::demo()?;
    let (letter, track) = (song.sections[0].letter, song.tracks[1].id);
    let length = song.sections[0].length();
    let note = |n: u32| {
        let key = U7::low_bits((30 + n % 60) as u8);
        let (start, velocity) = (Tick(i64::from(n) * 37 % length.0), U7::low_bits(90));
        let played = Stroke { start, length: Tick(100), key, velocity, release: U7::CENTRE };
        Note { id: NoteId(n + 1), channel: Channel::default(), played, placed: Placed::UNCHANGED }
    };
    let mut pass = Pass::empty(PassId(3_000_000), track, length);
    pass.notes_mut().notes = (0..100_000).map(note).collect();
    pass.sort();
    song.lay(letter, Arc::new(pass));
    let path = place.song("many.ron", &song)?;
    let arguments = [path.as_str(), "--out", "none"].map(String::from);
    let tty = Tty::start(&place.program, &arguments, LARGE, false)?;
    tty.wait("STOPPED", |screen| screen.contents().contains("STOPPED"))?;
    tty.keys("\x1b[B\x1bOS ")?;
    tty.wait("all notes", |screen| screen.contents().contains("100000 notes"))?;
    tty.wait("PLAYING", |screen| screen.contents().contains("PLAYING"))?;
    sleep(Duration::from_millis(500));
    let ((_, frames), busy) = (tty.counts(), tty.busy()?);
    sleep(Duration::from_secs(seconds));
    let ((_, drawn), busy) = (tty.counts(), tty.busy()? - busy);
    let each = busy.as_secs_f64() * 1e3 / (drawn - frames).max(1) as f64;
    let count = drawn - frames;
    line("a frame with 100,000 notes, 200x60", format!("{each:.2} ms of {count} frames"));
    Ok(())
}

/// How late pulses are, in turn with a terminal that reads and with one that does not. Lateness is counted
/// from the earliest pulse, because the bench does not know the program's clock.
fn stalled(place: &Place, song: &str, seconds: u64) -> Result<(), Failure> {
    let wire = fifo::make(place.folder.path(), "pulses");
    let mut heard = File::options().read(true).write(true).open(&wire)?;
    let out = format!("bytes:{},clock", wire.display());
    let tty = place.rolling(song, &out, SMALL, false)?;
    for (what, pace) in [("reads", None), ("does not read", Some(0))] {
        tty.pace(pace);
        sleep(Duration::from_millis(500));
        drain(&mut heard)?;
        line(&format!("pulses while the terminal {what}"), pulses(&mut heard, seconds)?);
    }
    Ok(())
}

/// Reads the pulses of so many seconds at 120, and says how late they were.
fn pulses(from: &mut File, seconds: u64) -> Result<Lates, Failure> {
    const PULSE: f64 = 60e9 / 120.0 / 24.0;
    let (start, mut times) = (Instant::now(), Vec::new());
    while start.elapsed() < Duration::from_secs(seconds) {
        if poll(&mut [PollFd::new(&*from, PollFlags::IN)], Some(&LOST))? == 0 {
            return Err("there are no pulses".into());
        }
        let at = start.elapsed().as_nanos() as i64;
        let mut bytes = [0; 256];
        let count = from.read(&mut bytes)?;
        times.extend(bytes[..count].iter().filter(|byte| **byte == 0xF8).map(|_| at));
    }
    let late = |(number, at): (usize, i64)| at - (number as f64 * PULSE) as i64;
    let late: Vec<i64> = times.into_iter().enumerate().map(late).collect();
    let least = late.iter().copied().min().unwrap_or_default();
    Ok(Lates::of(late.into_iter().map(|late| late - least).collect()))
}
