//! How much of a core the scheduler thread takes: on pulses alone, and with 64 busy tracks.

use crate::measure::line;
use crate::{Extent, Failure, big_song};
use chaconne_engine::Command;
use chaconne_rig::{Out, PortSpec, Rig, RigConfig, Spin};
use chaconne_song::Song;
use chaconne_tests::fifo;
use std::fs;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let time = Duration::from_secs(if extent == Extent::Short { 2 } else { 20 });
    let mut quiet = big_song::busy(64, 0)?;
    for section in &mut quiet.sections {
        std::sync::Arc::make_mut(section).passes.clear();
    }
    let (together, apart) = (big_song::busy(64, 0)?, big_song::busy(64, 3)?);
    line("scheduler thread, pulses at 120 alone", of(&quiet, Spin::default(), time)?);
    line("the same without waiting awake", of(&quiet, Spin::NEVER, time)?);
    line("scheduler thread, 64 tracks together", of(&together, Spin::default(), time)?);
    line("scheduler thread, 64 tracks apart", of(&apart, Spin::default(), time)?);
    line("the same without waiting awake", of(&apart, Spin::NEVER, time)?);
    Ok(())
}

/// The thread's share of a core while a song goes round, and how many messages that is.
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
    let (begin, before, first) = (Instant::now(), on_core()?, sent());
    sleep(time);
    let (taken, after, last) = (begin.elapsed(), on_core()?, sent());
    let p50 = rig.snapshot().stats.notes.p50.max(rig.snapshot().stats.pulses.p50);
    rig.shutdown();
    drop(tap);
    let share = (after - before) as f64 / taken.as_nanos() as f64 * 100.0;
    let rate = (last - first) as f64 / taken.as_secs_f64();
    Ok(format!("{share:.2} % of a core, {rate:.0} messages/s, p50 {:.1} µs", p50 as f64 / 1e3))
}

/// How long the scheduler thread of this process has run, in nanoseconds.
fn on_core() -> Result<u64, Failure> {
    for thread in fs::read_dir("/proc/self/task")? {
        let path = thread?.path();
        if fs::read_to_string(path.join("comm"))?.trim() == "scheduler" {
            let stat = fs::read_to_string(path.join("schedstat"))?;
            return Ok(stat.split(' ').next().unwrap_or_default().parse()?);
        }
    }
    Err("there is no scheduler thread".into())
}
