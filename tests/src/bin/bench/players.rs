//! One song by three players: ours, a thread that sleeps from event to event, and the player of the
//! general-purpose library mido, which plays the Standard MIDI File that we export.

use crate::lates::Lates;
use crate::load::Load;
use crate::measure::line;
use crate::{Extent, Failure, big_song};
use chaconne_engine::{Command as Ask, Route, Transport};
use chaconne_rig::{Extent as Part, HowOften, Out, PortSpec, Replace, Rig, RigConfig, now};
use chaconne_song::{Letter, Song};
use chaconne_tests::fifo;
use std::path::Path;
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

/// Plays a file and prints how late each message was, in nanoseconds, one per line.
const MIDO: &str = "
import sys, time, mido
late, due = [], 0.0
player = mido.MidiFile(sys.argv[1]).play(meta_messages=True, now=time.perf_counter)
begin = time.perf_counter()
for message in player:
    due += message.time
    if not message.is_meta:
        late.append(time.perf_counter() - begin - due)
print('\\n'.join(str(int(x * 1e9)) for x in late))
";

/// Prints when each message of a file is due, in nanoseconds, one per line.
const TIMES: &str = "
import sys, mido
due = 0.0
for message in mido.MidiFile(sys.argv[1]):
    due += message.time
    if not message.is_meta:
        print(int(due * 1e9))
";

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let rounds = if extent == Extent::Short { 1 } else { 5 };
    let folder = tempfile::tempdir()?;
    let (song, file) = (big_song::demo_at_120()?, folder.path().join("song.mid"));
    export(&song, &file)?;
    let times = numbers(TIMES, &file)?;
    for busy in [false, true] {
        let mut lates = [Vec::new(), Vec::new(), Vec::new()];
        for _ in 0..rounds {
            let _load = Load::new(busy);
            lates[0].push(ours(&song, folder.path())?);
            lates[1].push(sleeping(&times));
            lates[2].push(Lates::of(numbers(MIDO, &file)?));
        }
        let how = if busy { "busy" } else { "idle" };
        let medians = lates.map(|rounds| Lates::median(&rounds));
        for (name, lates) in ["ours", "a thread that sleeps", "mido's player"].iter().zip(medians) {
            line(&format!("the same song, {how}: {name}"), lates);
        }
        let p99 = |player: usize| medians[player].p99.max(1) as f64;
        let ratios = format!("{:.0} : {:.0} : 1", p99(1) / p99(0), p99(2) / p99(0));
        line(&format!("the same song, {how}: p99 sleeping : mido : ours"), ratios);
    }
    Ok(())
}

fn export(song: &Song, file: &Path) -> Result<(), Failure> {
    chaconne_rig::export_midi(
        song,
        file,
        Part::Section(Letter::A, HowOften::ToHearAll),
        Replace::Yes,
    )?;
    Ok(())
}

/// Plays the song once, through the real scheduler into a FIFO.
fn ours(song: &Song, folder: &Path) -> Result<Lates, Failure> {
    let wire = fifo::make(folder, "wire");
    let tap = fifo::Tap::open(&wire);
    let out = Out::plain("", PortSpec::Bytes(wire.clone()));
    let rig = Rig::start(song.clone(), RigConfig { outs: vec![out], ..RigConfig::default() })?;
    let route = Route::of(song, &[Letter::A]).ok_or("the demo song has no section A")?;
    rig.command(Ask::PlayRoute(route))?;
    while rig.status().transport != Transport::Stopped {
        sleep(Duration::from_millis(50));
    }
    let stats = rig.snapshot().stats;
    rig.shutdown();
    drop(tap);
    std::fs::remove_file(wire)?;
    Ok(stats.notes.into())
}

fn sleeping(times: &[i64]) -> Lates {
    let begin = now();
    let late = |&time: &i64| {
        let due = begin + time;
        let left = due - now();
        if left > 0 {
            sleep(Duration::from_nanos(left as u64));
        }
        now() - due
    };
    Lates::of(times.iter().map(late).collect())
}

fn numbers(script: &str, file: &Path) -> Result<Vec<i64>, Failure> {
    let python = chaconne_tests::python::python();
    let output = Command::new(python).arg("-c").arg(script).arg(file).output()?;
    if !output.status.success() {
        return Err(format!("mido failed: {}", String::from_utf8_lossy(&output.stderr)).into());
    }
    let text = String::from_utf8(output.stdout)?;
    Ok(text.lines().map(str::parse).collect::<Result<_, _>>()?)
}
