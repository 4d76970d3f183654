//! How long a note takes through the program, from the incoming byte to the outgoing one. The threads
//! are the real ones; FIFOs take the place of cables.

use crate::lates::Lates;
use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_engine::{PortIx, Wire};
use chaconne_ports::{InputEvent, PortSpec, Setup, open_input, open_output, start};
use chaconne_tests::fifo;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use std::fs::File;
use std::io::{Read, Write};
use std::time::{Duration, Instant};

/// How long to wait for a note before it counts as lost: 5 s.
const LOST: Timespec = Timespec { tv_sec: 5, tv_nsec: 0 };

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let notes = if extent == Extent::Short { 50 } else { 1000 };
    let folder = tempfile::tempdir()?;
    let (into, out) = (fifo::make(folder.path(), "in"), fifo::make(folder.path(), "out"));
    // Opened for reading and writing, because opening for one of them waits for the other end.
    let open = |path| File::options().read(true).write(true).open(path);
    let (mut player, mut receiver) = (open(&into)?, open(&out)?);
    let output = open_output(&PortSpec::Bytes(out))?;
    let mut running = start(vec![output], Setup { inputs: 1, ..Setup::default() })?;
    let mut thru = running.thrus.remove(0);
    thru.target().set(Some((PortIx(0), None)));
    let _input = open_input(&PortSpec::Bytes(into), move |stamp, event| match event {
        InputEvent::Heard(Wire::Message(message)) => thru.play(stamp, message),
        InputEvent::Heard(Wire::SysEx(_)) => {}
        InputEvent::Lost => thru.lost(stamp),
    })?;

    let mut times = Vec::with_capacity(notes);
    for note in 0..notes {
        for strike in [[0x90, 60, 100], [0x80, 60, 64]] {
            // The pauses vary, so that they fall in step with no timer of a whole millisecond.
            std::thread::sleep(Duration::from_micros(1500 + (note as u64 * 373) % 1000));
            times.push(time_of(&strike, &mut player, &mut receiver)?);
        }
    }
    line("note through, messages", times.len());
    let nanos = |time: &Duration| i64::try_from(time.as_nanos()).unwrap_or(i64::MAX);
    line("byte in to byte out", Lates::of(times.iter().map(nanos).collect()));
    Ok(())
}

/// Writes a message and waits until it arrives; returns how long that took.
fn time_of(message: &[u8; 3], player: &mut File, receiver: &mut File) -> Result<Duration, Failure> {
    let start = Instant::now();
    player.write_all(message)?;
    let mut heard = [0; 3];
    let mut ready = [PollFd::new(&*receiver, PollFlags::IN)];
    if poll(&mut ready, Some(&LOST))? == 0 {
        return Err("a note that was played in did not come out".into());
    }
    receiver.read_exact(&mut heard)?;
    let taken = start.elapsed();
    if heard != *message {
        return Err(format!("{message:?} was played in and {heard:?} came out").into());
    }
    Ok(taken)
}
