//! Checks the machine, says what is missing, and installs it if allowed.
//!
//! In: the needs of a job. Out: a machine that meets them, or one sentence that ends with the command
//! to run. A need is checked by using it, not by looking for its package, because a machine may have
//! it from elsewhere.

use crate::packages::{MANAGERS, Machine, Need, Remedy, plan};
use crate::run;
use anyhow::{Result, bail};
use std::env;
use std::process::Command;

/// What building the program needs.
pub const TO_BUILD: &[Need] = &[Need::Linker, Need::PkgConfig, Need::Alsa];
/// What the tests need.
pub const TO_TEST: &[Need] = &[
    Need::Linker,
    Need::PkgConfig,
    Need::Alsa,
    Need::Python,
    Need::PythonVenv,
    Need::Jack,
    Need::FluidSynth,
];
/// What the bench needs, with the programs that it compares ours with.
pub const TO_BENCH: &[Need] = &[
    Need::Linker,
    Need::PkgConfig,
    Need::Alsa,
    Need::Python,
    Need::PythonVenv,
    Need::Cyclictest,
    Need::Jack,
    Need::FluidSynth,
];
/// What the comparison of two ways of reaching JACK needs.
pub const TO_BENCH_JACK: &[Need] = &[Need::Linker, Need::PkgConfig, Need::Alsa, Need::Jack];

/// Makes sure that the machine has everything in `needs`. Only Linux is checked.
pub fn prepare(needs: &[Need], install: bool) -> Result<()> {
    if !cfg!(target_os = "linux") {
        return Ok(());
    }
    let missing = missing(needs);
    if !missing.is_empty() {
        println!("Missing on this system: {}.", names(&missing));
    }
    match plan(&missing, machine(install)) {
        Remedy::Ready => Ok(()),
        Remedy::Stop(sentence) => bail!(sentence),
        Remedy::Install(lines) => {
            carry_out(&lines)?;
            let left = self::missing(needs);
            if !left.is_empty() {
                bail!("still missing after the install: {}; see the lines above", names(&left));
            }
            Ok(())
        }
    }
}

fn missing(needs: &[Need]) -> Vec<Need> {
    needs.iter().copied().filter(|&need| !is_here(need)).collect()
}

fn names(needs: &[Need]) -> String {
    needs.iter().map(|need| need.what()).collect::<Vec<_>>().join(", ")
}

fn is_here(need: Need) -> bool {
    let pkg_config = env::var("PKG_CONFIG").unwrap_or("pkg-config".into());
    match need {
        Need::Linker => ["cc", "gcc", "clang"].iter().any(|name| works(name, &["--version"])),
        Need::PkgConfig => works(&pkg_config, &["--version"]),
        Need::Alsa => works(&pkg_config, &["--exists", "alsa"]),
        Need::Python => works("python3", &["--version"]),
        Need::Cyclictest => works("cyclictest", &["--help"]),
        Need::Jack => works("jackd", &["--version"]),
        Need::FluidSynth => {
            works("python3", &["-c", "import ctypes; ctypes.CDLL('libfluidsynth.so.3')"])
        }
        Need::PythonVenv => works("python3", &["-c", "import venv, ensurepip"]),
    }
}

/// Whether a program runs and succeeds.
fn works(program: &str, words: &[&str]) -> bool {
    run::succeeds(Command::new(program).args(words))
}

fn machine(install: bool) -> Machine {
    let found = MANAGERS.iter().find(|(_, program, _)| works(program, &["--version"]));
    let id = Command::new("id").arg("-u").output();
    Machine {
        manager: found.map(|&(manager, ..)| manager),
        root: id.is_ok_and(|output| output.stdout.trim_ascii() == b"0"),
        sudo: works("sudo", &["--version"]),
        install,
    }
}

/// Runs the lines of an install; only the last one has to succeed.
fn carry_out(lines: &[Vec<String>]) -> Result<()> {
    let Some((last, earlier)) = lines.split_last() else { return Ok(()) };
    for line in earlier {
        if let Err(error) = run::step(&mut command(line)) {
            println!("{error}; continuing with the old package lists.");
        }
    }
    run::step(&mut command(last))
}

fn command(line: &[String]) -> Command {
    let mut command = Command::new(&line[0]);
    command.args(&line[1..]);
    command
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_program_does_not_work() {
        assert!(!works("no-such-program-here", &["--version"]));
    }

    #[cfg(unix)]
    #[test]
    fn a_program_that_fails_does_not_work() {
        assert!(works("sh", &["-c", "exit 0"]));
        assert!(!works("sh", &["-c", "exit 1"]));
    }

    #[test]
    fn the_tests_need_everything_that_the_build_needs() {
        assert!(TO_BUILD.iter().all(|need| TO_TEST.contains(need)));
    }
}
