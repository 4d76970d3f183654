//! Ten seconds of the demo song at 120 BPM on the real clock while keys are played: how late the
//! pulses are, and how often the scheduler thread calls the allocator.

use crate::lates::Lates;
use crate::measure::line;
use crate::{Extent, Failure, big_song};
use chaconne_counting::{unwatch, watch, watched_calls};
use chaconne_engine::Command;
use chaconne_rig::{Out, PortSpec, Rig, RigConfig, Spread};
use chaconne_song::U7;
use chaconne_tests::fifo;
use std::thread::{Builder, sleep};
use std::time::Duration;

/// How long a key is held, and how long until the next.
const HELD: Duration = Duration::from_millis(10);

/// Measures and prints. Returns whether the scheduler thread never called the allocator.
pub fn print(extent: Extent) -> Result<bool, Failure> {
    let strikes = if extent == Extent::Short { 50 } else { 500 };
    let folder = tempfile::tempdir()?;
    let wire = fifo::make(folder.path(), "wire");
    let tap = fifo::Tap::open(&wire);
    let out = Out { clock: Some(true), ..Out::plain("", PortSpec::Bytes(wire)) };
    let rig = Rig::start(
        big_song::demo_at_120()?,
        RigConfig { outs: vec![out], ..RigConfig::default() },
    )?;
    let strike = |key| {
        rig.press(key, U7::CENTRE);
        sleep(HELD);
        rig.lift(key);
        sleep(HELD);
    };
    // The thread allocates while it starts. Once it has played a key, it has started.
    strike(U7::CENTRE);
    watch("scheduler");
    rig.command(Command::Play)?;
    for number in 0..strikes {
        strike(U7::low_bits(48 + (number % 24) as u8));
    }
    let stats = rig.snapshot().stats;
    rig.command(Command::Stop)?;
    rig.silence();
    let calls = watched_calls();
    // A thread of a matching name that allocates must be counted, or a count of 0 would mean nothing.
    let allocating = Builder::new().name("scheduler that allocates".to_string());
    allocating.spawn(|| drop(std::hint::black_box(vec![0u8; 64])))?.join().ok();
    let counts = watched_calls() > calls;
    unwatch();
    let summary = rig.shutdown();
    drop(tap);
    if !counts {
        return Err("the counting allocator does not count".into());
    }

    line("playing at 120, messages sent", stats.sent);
    lateness("clock pulses", &stats.pulses);
    lateness("notes of the song", &stats.notes);
    line("closing summary", summary);
    line("allocator calls on the scheduler thread", format!("{calls} (must be 0)"));
    Ok(calls == 0)
}

fn lateness(what: &str, spread: &Spread) {
    let figures = format!("{} of {}", Lates::from(*spread), spread.count);
    line(&format!("lateness of {what}"), figures);
}
