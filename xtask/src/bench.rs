//! `cargo xtask bench`: builds for speed and prints the figures that docs/figures.md records.

use crate::{run, setup, venv};
use anyhow::Result;
use std::path::Path;

/// Sets up, builds, runs the bench with the words passed on.
pub fn bench(top: &Path, install: bool, words: &[String]) -> Result<()> {
    setup::prepare(setup::TO_BENCH, install)?;
    let python = venv::prepare(top)?;
    // The bench runs the program itself, too.
    run::step(&mut run::cargo(&["build", "--release", "--package", "chaconne"]))?;
    let bench = ["run", "--release", "--package", "chaconne-tests", "--bin", "bench", "--"];
    run::step(run::cargo(&bench).args(words).env("CHACONNE_PYTHON", python))
}
