//! How long the program takes to bounce the demo song's form, with and without stems.

use super::{cpu, middle, times};
use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_tests::program;
use std::time::{Duration, Instant};

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let rounds = if extent == Extent::Short { 1 } else { 5 };
    let folder = tempfile::tempdir()?;
    let path = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    let demo = program::top().join("assets/demo.ron").to_string_lossy().into_owned();
    let (wav, stems) = (path("demo.wav"), path("stems"));
    let plain = ["bounce", &demo, &wav, "--replace"];
    let with_stems = ["bounce", &demo, &wav, "--replace", "--stems", &stems];
    let (mut alone, mut together) = (Vec::new(), Vec::new());
    for _ in 0..rounds {
        alone.push(run(&plain)?);
        together.push(run(&with_stems)?);
    }
    print_taken("bounce of the demo song, 16 bits at 44.1 kHz", alone);
    print_taken("bounce of the demo song with stems", together);
    Ok(())
}

/// What a run took.
struct Taken {
    /// Seconds of sound.
    length: f64,
    /// The time from its start to its end.
    clock: Duration,
    /// The time on all cores together.
    cores: Duration,
}

fn run(words: &[&str]) -> Result<Taken, Failure> {
    let (begin, before) = (Instant::now(), cpu::of_children()?);
    let ran = program::run(words).ends(0);
    let (clock, cores) = (begin.elapsed(), cpu::of_children()? - before);
    let length = ran.out.split_whitespace().nth(1).ok_or("the bounce prints no length")?;
    Ok(Taken { length: length.parse()?, clock, cores })
}

fn print_taken(what: &str, runs: Vec<Taken>) {
    let length = runs.first().map_or(0.0, |run| run.length);
    let clock = middle(runs.iter().map(|run| run.clock).collect());
    let cores = middle(runs.iter().map(|run| run.cores).collect());
    let (faster, cores) = (times(length, clock), cores.as_secs_f64());
    line(what, format!("{length:.1} s, {faster}, {cores:.2} s of a core"));
}
