//! `cargo xtask bench`: builds for speed and prints the figures that docs/figures.md records.

use crate::{run, setup};
use anyhow::Result;

/// Sets up, builds, runs the bench with the words passed on.
pub fn bench(install: bool, words: &[String]) -> Result<()> {
    setup::prepare(setup::TO_BUILD, install)?;
    let bench = ["run", "--release", "--package", "chaconne-tests", "--bin", "bench", "--"];
    run::step(run::cargo(&bench).args(words))
}
