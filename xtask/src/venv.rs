//! The private Python environment of the tests: `.venv`, filled from `xtask/requirements.txt`.
//!
//! In: the top folder. Out: the environment's Python. The environment is created once, and again only
//! when the requirements change or its Python no longer runs.

use crate::run;
use anyhow::{Context, Result};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

const REQUIREMENTS: &str = "xtask/requirements.txt";

/// Creates the environment unless it was made from the same requirements and still runs. Returns its
/// Python.
pub fn prepare(top: &Path) -> Result<PathBuf> {
    let home = top.join(".venv");
    let python = home.join(if cfg!(windows) { "Scripts/python.exe" } else { "bin/python" });
    let wanted = fs::read_to_string(top.join(REQUIREMENTS))
        .with_context(|| format!("{REQUIREMENTS} could not be read"))?;
    let stamp = home.join("installed.txt");
    if is_current(&wanted, fs::read_to_string(&stamp).ok().as_deref()) && runs(&python) {
        return Ok(python);
    }
    let system = if cfg!(windows) { "python" } else { "python3" };
    run::step(Command::new(system).args(["-m", "venv", "--clear"]).arg(&home))
        .context("could not create a Python environment in .venv")?;
    run::step(
        Command::new(&python)
            .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check"])
            .args(["--requirement", REQUIREMENTS])
            .current_dir(top),
    )
    .with_context(|| format!("the packages in {REQUIREMENTS} could not be installed into .venv"))?;
    fs::write(&stamp, wanted).context("the stamp in .venv could not be written")?;
    Ok(python)
}

/// The stamp is written last, so an incomplete environment is never current.
fn is_current(wanted: &str, installed: Option<&str>) -> bool {
    installed == Some(wanted)
}

fn runs(python: &Path) -> bool {
    run::succeeds(Command::new(python).args(["-c", "import mido"]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_same_requirements_are_current() {
        assert!(is_current("a==1\n", Some("a==1\n")));
        assert!(!is_current("a==2\n", Some("a==1\n")));
        assert!(!is_current("a==1\n", None));
    }

    #[test]
    fn every_requirement_is_pinned() {
        let lines = include_str!("../requirements.txt").lines();
        let packages: Vec<&str> = lines.filter(|line| !line.starts_with('#')).collect();
        assert!(packages.iter().any(|line| line.starts_with("mido==")));
        assert!(packages.iter().all(|line| line.contains("==")), "{packages:?}");
    }
}
