//! How much memory a rehearsal holds: builds the program, runs it, reads its memory and ends it.

use crate::measure::line;
use crate::{Failure, big_song};
use chaconne_song::{Song, text};
use chaconne_tests::program;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

/// How long it plays before its memory is read.
const PLAYING: Duration = Duration::from_secs(3);

/// Measures and prints.
pub fn print() -> Result<(), Failure> {
    let program = build()?;
    for (name, song) in [("demo song", big_song::demo()?), ("big song", big_song::big()?)] {
        let kib = resident(&program, &song)?;
        line(&format!("resident memory of rehearse, {name}"), format!("{kib} KiB"));
    }
    Ok(())
}

/// Builds the program the way the bench was built, and returns its path, which is beside the bench.
pub fn build() -> Result<PathBuf, Failure> {
    let this = std::env::current_exe()?;
    let folder = this.parent().ok_or("the bench has no folder")?;
    let target = folder.parent().ok_or("the bench is not in a target folder")?;
    let mut cargo = Command::new(std::env::var_os("CARGO").unwrap_or("cargo".into()));
    cargo.args(["build", "--quiet", "--package", "chaconne", "--target-dir"]).arg(target);
    cargo.current_dir(program::top());
    if !cfg!(debug_assertions) {
        cargo.arg("--release");
    }
    if !cargo.status()?.success() {
        return Err("the program does not build".into());
    }
    Ok(folder.join(format!("chaconne{}", std::env::consts::EXE_SUFFIX)))
}

fn resident(program: &Path, song: &Song) -> Result<u64, Failure> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("song.ron");
    std::fs::write(&path, text::write(song))?;
    let mut command = Command::new(program);
    command.arg("rehearse").arg(&path).args(["--section", "A"]);
    let quiet = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    let mut child = quiet.spawn()?;
    std::thread::sleep(PLAYING);
    let resident = resident_of(child.id());
    program::signal(child.id(), rustix::process::Signal::TERM);
    let ended = child.wait()?;
    if !ended.success() {
        return Err(format!("the rehearsal ended with {ended}").into());
    }
    resident
}

/// The resident memory of a process as the system reports it, in KiB.
pub fn resident_of(process: u32) -> Result<u64, Failure> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status"))?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let figure = line.and_then(|line| line.trim().strip_suffix(" kB"));
    Ok(figure.ok_or("the system does not report the resident memory")?.parse()?)
}
