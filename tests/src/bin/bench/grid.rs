//! A wake-up every millisecond: our scheduler thread, `cyclictest` (the usual test of wake-ups, with
//! the same class, priority and interval), and a thread that just sleeps. They take turns, idle and
//! with all cores busy; the figures are medians of the rounds. Of several wake-ups that fall due while
//! a thread is held up, only the first counts, because `cyclictest` counts that way.

use crate::lates::Lates;
use crate::load::Load;
use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_engine::{Action, Cue, Message, Order, PortIx, Slot};
use chaconne_ports::{PortSpec, Setup, Spin, now, open_output, start};
use chaconne_tests::fifo;
use chaconne_time::{Tempo, Tick};
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

/// The interval between wake-ups: 1 ms.
const INTERVAL: i64 = 1_000_000;
/// Ticks of a millisecond at the fastest tempo: 62.5 us each.
const TICKS: i64 = 16;
/// The largest lateness that `cyclictest` can count, in microseconds.
const MOST: usize = 60_000;

/// A way to wake up repeatedly. Takes the number of wake-ups.
type Way = fn(usize) -> Result<Lates, Failure>;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let (rounds, count) = if extent == Extent::Short { (1, 500) } else { (5, 3000) };
    let ways: [(&str, Way); 4] = [
        ("our scheduler", |count| ours(count, Spin::default())),
        ("the same, allowed 10 % awake", |count| {
            ours(count, Spin { share: 100, ..Spin::default() })
        }),
        ("cyclictest", cyclictest),
        ("a thread that sleeps", sleeping),
    ];
    for busy in [false, true] {
        let mut lates = vec![Vec::new(); ways.len()];
        for _ in 0..rounds {
            for ((name, way), lates) in ways.iter().zip(&mut lates) {
                let _load = Load::new(busy);
                match way(count) {
                    Ok(found) => lates.push(found),
                    Err(error) if *name == "cyclictest" => eprintln!("{error}"),
                    Err(error) => return Err(error),
                }
            }
        }
        let how = if busy { "busy" } else { "idle" };
        for ((name, _), lates) in ways.iter().zip(&lates).filter(|(_, lates)| !lates.is_empty()) {
            line(&format!("every 1 ms, {how}: {name}"), Lates::median(lates));
        }
        let p99 = |way: usize| Lates::median(&lates[way]).p99.max(1) as f64;
        if !lates[2].is_empty() {
            line(
                &format!("every 1 ms, {how}: p99 of cyclictest : ours"),
                format!("{:.1} : 1", p99(2) / p99(0)),
            );
        }
        line(
            &format!("every 1 ms, {how}: p99 of sleeping : ours"),
            format!("{:.1} : 1", p99(3) / p99(0)),
        );
    }
    Ok(())
}

fn ours(count: usize, spin: Spin) -> Result<Lates, Failure> {
    let folder = tempfile::tempdir()?;
    let wire = fifo::make(folder.path(), "wire");
    let tap = fifo::Tap::open(&wire);
    let (output, mut captured) = open_output(&PortSpec::Bytes(wire))?.watched(count);
    let mut running = start(vec![output], Setup { spin, ..Setup::default() })?;
    let pulse = |k: usize| {
        let (at, action) = (Tick(k as i64 * TICKS), Action::Send(Message::Clock));
        Order::Play(Cue { at, slot: Slot::CLOCK, epoch: 0, port: PortIx(0), action })
    };
    let (at, ns, tempo) = (Tick(0), now() + 50 * INTERVAL, Tempo::FASTEST);
    if running.orders.send(Order::Roll { at, ns, tempo, song: 0 }).is_err()
        || running.orders.send_all((0..count).map(pulse)) > 0
    {
        return Err("the scheduler's queue is too small for the bench".into());
    }
    sleep(Duration::from_nanos((INTERVAL * (count as i64 + 100)) as u64));
    drop(running);
    drop(tap);
    let pulses: Vec<_> = captured.take().map(|pulse| (pulse.due, pulse.at)).collect();
    if pulses.len() != count {
        return Err(format!("only {} of {count} pulses were played", pulses.len()).into());
    }
    Ok(Lates::of_wakes(pulses))
}

fn sleeping(count: usize) -> Result<Lates, Failure> {
    let begin = now() + INTERVAL;
    let mut wakes = Vec::with_capacity(count);
    for k in 0..count {
        let due = begin + k as i64 * INTERVAL;
        let left = due - now();
        if left > 0 {
            sleep(Duration::from_nanos(left as u64));
        }
        wakes.push((due, now()));
    }
    Ok(Lates::of_wakes(wakes))
}

/// Runs it with locked memory, priority 70, absolute times, a histogram, and the system's own power
/// saving.
fn cyclictest(count: usize) -> Result<Lates, Failure> {
    let (loops, most) = (count.to_string(), MOST.to_string());
    let words =
        ["-m", "-q", "-t1", "-p70", "-i1000", "--default-system", "-l", &loops, "-h", &most];
    let run = Command::new("cyclictest").args(words).output();
    let output = run.map_err(|error| format!("cyclictest does not run: {error}"))?;
    if !output.status.success() {
        return Err("cyclictest is not allowed to run at priority 70 here".into());
    }
    let mut lates = Vec::with_capacity(count);
    for row in String::from_utf8_lossy(&output.stdout).lines() {
        if let Some((us, times)) = row.split_once(' ')
            && let (Ok(us), Ok(times)) = (us.parse::<i64>(), times.trim().parse::<usize>())
        {
            lates.extend(std::iter::repeat_n(us * 1000, times));
        }
    }
    Ok(Lates::of(lates))
}
