//! The storm through the real threads: bytes go into a FIFO, through the input's parser and the
//! recorder, while clock pulses go out of another FIFO.

use super::next;
use crate::Failure;
use crate::lates::Lates;
use crate::measure::line;
use crate::memory::resident_of;
use crate::share::on_core;
use chaconne_engine::Command;
use chaconne_rig::{In, Out, PortSpec, Rig, RigConfig};
use chaconne_song::{Letter, Pass, Section, Song, Track, TrackId};
use chaconne_tests::fifo;
use chaconne_time::{Metre, MetreMap, Tempo};
use std::fs::File;
use std::io::Write;
use std::process;
use std::sync::Arc;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// How often bytes are written.
const BURST: Duration = Duration::from_millis(8);

/// How many bytes a serial cable carries in that time: 31,250 bits a second at ten bits a byte
/// (MIDI 1.0, "Hardware") are 3,125 bytes a second.
const CABLE: usize = 25;

/// Returns the bytes of a burst, given its number.
type Storm = fn(u32) -> Vec<u8>;

/// Measures and prints, first without input for comparison.
pub fn print(seconds: u64) -> Result<(), Failure> {
    let storms: [(&str, Storm); 4] = [
        ("live, no input", |_| Vec::new()),
        ("live, 500 note-ons/s", note_ons),
        ("live, 1,000 key pressures/s", key_pressure),
        ("live, 3,125 random bytes/s", random),
    ];
    storms.into_iter().try_for_each(|(what, storm)| measure(what, storm, seconds))
}

fn note_ons(burst: u32) -> Vec<u8> {
    let one = |number: u32| [0x90 | (number % 16) as u8, (number % 128) as u8, 90];
    (4 * burst..4 * burst + 4).flat_map(one).collect()
}

fn key_pressure(burst: u32) -> Vec<u8> {
    let one = |number: u32| [0xA0, (number % 128) as u8, (number * 7 % 128) as u8];
    (8 * burst..8 * burst + 8).flat_map(one).collect()
}

fn random(burst: u32) -> Vec<u8> {
    // Consecutive seeds would give similar bytes, so they are spread.
    let mut seed = next(burst).wrapping_mul(2_654_435_761);
    let mut byte = || {
        seed = next(seed);
        (seed >> 24) as u8
    };
    (0..CABLE).map(|_| byte()).collect()
}

/// Records a storm for this many seconds into rounds of 16 bars.
fn measure(what: &str, storm: Storm, seconds: u64) -> Result<(), Failure> {
    let folder = tempfile::tempdir()?;
    let (into, out) = (fifo::make(folder.path(), "in"), fifo::make(folder.path(), "out"));
    let tap = fifo::Tap::open(&out);
    // Opened for reading and writing, because opening for one of them waits for the other end.
    let mut cable = File::options().read(true).write(true).open(&into)?;
    let config = RigConfig {
        outs: vec![Out { clock: Some(true), ..Out::plain("", PortSpec::Bytes(out)) }],
        ins: vec![In::plain(PortSpec::Bytes(into))],
        ..RigConfig::default()
    };
    let rig = Rig::start(song()?, config)?;
    rig.command(Command::CountIn(0))?;
    rig.command(Command::Record(true))?;

    let (begin, before) = (Instant::now(), on_core("engine")?);
    let mut peak = 0;
    for burst in 0..(seconds * 1000 / BURST.as_millis() as u64) as u32 {
        sleep((begin + BURST * burst).saturating_duration_since(Instant::now()));
        cable.write_all(&storm(burst))?;
        if burst.is_multiple_of(64) {
            peak = resident_of(process::id())?.max(peak);
        }
    }
    // Until the last bytes have been read.
    sleep(BURST * 4);
    let share = (on_core("engine")? - before) as f64 / begin.elapsed().as_nanos() as f64;
    let snapshot = rig.snapshot();
    rig.command_and_wait(Command::Stop)?;
    let (notes, moves) = recorded(&rig.status().song);
    rig.shutdown();
    drop(tap);
    line(&format!("{what}: engine"), format!("{:.1} % of a core", share * 100.0));
    line(&format!("{what}: the bench's memory"), format!("at most {} MiB", peak / 1024));
    let pulses = &snapshot.stats.pulses;
    let lates = format!("{} of {}", Lates::from(*pulses), pulses.count);
    line(&format!("{what}: lateness of pulses"), lates);
    let lost = snapshot.status.lost + snapshot.unheard;
    line(&format!("{what}: recorded"), format!("{notes} notes, {moves} moves; {lost} lost"));
    Ok(())
}

/// How many notes and controller moves the passes of a song hold.
fn recorded(song: &Song) -> (usize, usize) {
    let passes = || song.passes.values();
    let moves = |pass: &Arc<Pass>| pass.lanes().iter().map(|lane| lane.points.len()).sum::<usize>();
    (passes().map(|pass| pass.notes().len()).sum(), passes().map(moves).sum())
}

fn song() -> Result<Song, Failure> {
    let metre = MetreMap::new(16, Metre::common())?;
    let mut song = Song::new("storm", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Storm")));
    Ok(song)
}
