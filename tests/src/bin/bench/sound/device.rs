//! The program playing on a device, here a JACK server whose dummy driver keeps time: how much of a
//! core it takes while the demo song plays, and how soon it is heard.

use super::{cpu, first, middle};
use crate::measure::{line, ms};
use crate::server::Server;
use crate::{Extent, Failure};
use chaconne_tests::program;
use rustix::process::Signal;
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Frames that the device asks for at once.
const BLOCK: u32 = 256;
/// How long the program plays before it is watched.
const STARTS: Duration = Duration::from_secs(3);

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let short = extent == Extent::Short;
    let Some(_server) = Server::start(BLOCK) else { return Ok(()) };
    let watched = Duration::from_secs(if short { 3 } else { 30 });
    let demo = program::top().join("assets/demo.ron");
    let (all, audio) = share(&demo, &[], watched)?;
    line("playing the demo song on a device, whole program", all);
    line("of it the thread that renders", audio);
    let (silent, _) = share(&demo, &["--out", "none"], watched)?;
    line("the same song without sound", silent);

    let rounds = if short { 1 } else { 9 };
    let mut times = (0..rounds).map(|_| first::sound(&demo)).collect::<Result<Vec<_>, _>>()?;
    times.sort_unstable();
    let worst = times.last().copied().unwrap_or_default();
    let figures = format!("{}, worst {}", ms(middle(times)), ms(worst));
    line("from its start to the first sound", figures);
    Ok(())
}

/// The shares of a core that the whole program and its busiest thread take while a song loops. The
/// busiest thread is the one that renders.
fn share(song: &Path, words: &[&str], watched: Duration) -> Result<(String, String), Failure> {
    let song = song.to_string_lossy();
    let child = program::spawn(&[&["rehearse", &song][..], words].concat());
    sleep(STARTS);
    let taken = watch(&child, watched);
    program::signal(child.id(), Signal::TERM);
    program::finish(child, program::PATIENCE).ends(0);
    let (taken, over) = taken?;
    let share = |time: Duration| time.as_secs_f64() / over.as_secs_f64() * 100.0;
    let all = format!("{:.2} % of a core", share(taken.iter().sum()));
    let most = format!("{:.2} %", share(taken.iter().max().copied().unwrap_or_default()));
    Ok((all, most))
}

/// How long each thread of a process was on a core, and the time over which that was measured.
fn watch(child: &Child, watched: Duration) -> Result<(Vec<Duration>, Duration), Failure> {
    let (begin, before) = (Instant::now(), threads(child)?);
    sleep(watched);
    let (over, after) = (begin.elapsed(), threads(child)?);
    let taken = |(thread, &after): (_, &Duration)| {
        after.saturating_sub(before.get(thread).copied().unwrap_or_default())
    };
    Ok((after.iter().map(taken).collect(), over))
}

/// How long each thread of a process has been on a core.
fn threads(child: &Child) -> Result<HashMap<PathBuf, Duration>, Failure> {
    let mut taken = HashMap::new();
    for thread in std::fs::read_dir(format!("/proc/{}/task", child.id()))? {
        let path = thread?.path();
        let time = cpu::of_thread(&path)?;
        taken.insert(path, time);
    }
    Ok(taken)
}
