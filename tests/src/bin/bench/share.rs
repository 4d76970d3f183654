//! How much of a core the scheduler thread takes: with pulses alone, and with 64 busy tracks.

use crate::measure::line;
use crate::{Extent, Failure, big_song};
use chaconne_engine::Command;
use chaconne_ports::{Role, raise_priority};
use chaconne_rig::{Out, PortSpec, Rig, RigConfig, Spin};
use chaconne_song::Song;
use chaconne_tests::fifo;
use std::fs;
use std::io::Write;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The name of the scheduler's thread.
const SCHEDULER: &str = "scheduler";

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let time = Duration::from_secs(if extent == Extent::Short { 2 } else { 20 });
    let mut quiet = big_song::busy(64, 0)?;
    for section in &mut quiet.sections {
        std::sync::Arc::make_mut(section).layers.clear();
    }
    quiet.passes.clear();
    let (together, apart) = (big_song::busy(64, 0)?, big_song::busy(64, 3)?);
    line("scheduler thread, pulses at 120 alone", of(&quiet, Spin::default(), time)?);
    line("the same without waiting awake", of(&quiet, Spin::NEVER, time)?);
    line("scheduler thread, 64 tracks together", of(&together, Spin::default(), time)?);
    line("scheduler thread, 64 tracks apart", of(&apart, Spin::default(), time)?);
    line("the same without waiting awake", of(&apart, Spin::NEVER, time)?);
    for rate in [48, 1072] {
        line(&format!("a bare thread, {rate} bytes/s"), bare(rate, time)?);
    }
    Ok(())
}

/// The thread's share of a core while a song loops, and the messages that it sends.
fn of(song: &Song, spin: Spin, time: Duration) -> Result<String, Failure> {
    let folder = tempfile::tempdir()?;
    let wire = fifo::make(folder.path(), "wire");
    let tap = fifo::Tap::open(&wire);
    let out = Out { clock: Some(true), ..Out::plain("", PortSpec::Bytes(wire)) };
    let config = RigConfig { outs: vec![out], spin, ..RigConfig::default() };
    let rig = Rig::start(song.clone(), config)?;
    rig.command(Command::Play)?;
    sleep(Duration::from_millis(500));
    let sent = || rig.snapshot().stats.sent;
    let (begin, before, first) = (Instant::now(), on_core(SCHEDULER)?, sent());
    sleep(time);
    let (taken, after, last) = (begin.elapsed(), on_core(SCHEDULER)?, sent());
    let p50 = rig.snapshot().stats.notes.p50.max(rig.snapshot().stats.pulses.p50);
    rig.shutdown();
    drop(tap);
    let share = (after - before) as f64 / taken.as_nanos() as f64 * 100.0;
    let rate = (last - first) as f64 / taken.as_secs_f64();
    Ok(format!("{share:.2} % of a core, {rate:.0} messages/s, p50 {:.1} µs", p50 as f64 / 1e3))
}

/// The share of a thread of the same priority that only sleeps and writes a byte, `rate` times a
/// second: the cost of the system alone.
fn bare(rate: u32, time: Duration) -> Result<String, Failure> {
    let folder = tempfile::tempdir()?;
    let wire = fifo::make(folder.path(), "wire");
    let tap = fifo::Tap::open(&wire);
    let mut wire = fs::File::options().write(true).open(wire)?;
    let interval = Duration::from_secs(1) / rate;
    let count = (time.as_nanos() / interval.as_nanos()) as u32;
    let thread = std::thread::Builder::new().name("bare".to_string());
    let thread = thread.spawn(move || -> Result<u64, String> {
        raise_priority(Role::Scheduler);
        let (begin, before) = (Instant::now(), on_core("bare").map_err(|e| e.to_string())?);
        for number in 1..=count {
            sleep((begin + interval * number).saturating_duration_since(Instant::now()));
            wire.write_all(&[0xF8]).map_err(|e| e.to_string())?;
        }
        Ok(on_core("bare").map_err(|e| e.to_string())? - before)
    })?;
    let taken = thread.join().map_err(|_| "the bare thread panicked")??;
    drop(tap);
    let share = taken as f64 / time.as_nanos() as f64 * 100.0;
    Ok(format!("{share:.2} % of a core"))
}

/// How long the thread of this name has been on a core, in nanoseconds.
pub fn on_core(name: &str) -> Result<u64, Failure> {
    for thread in fs::read_dir("/proc/self/task")? {
        let path = thread?.path();
        if fs::read_to_string(path.join("comm"))?.trim() == name {
            let stat = fs::read_to_string(path.join("schedstat"))?;
            return Ok(stat.split(' ').next().unwrap_or_default().parse()?);
        }
    }
    Err(format!("there is no thread '{name}'").into())
}
