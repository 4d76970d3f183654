//! `cargo xtask bench`: builds for speed and prints the figures that docs/figures.md records.

use crate::{run, setup, venv};
use anyhow::{Result, bail};
use std::path::Path;

/// The word that asks for the figures on JACK only.
const JACK: &str = "--jack";

/// Sets up, builds, and runs the bench with `words`. With `--jack` as the only word, it compares two
/// ways of reaching JACK instead.
pub fn bench(top: &Path, install: bool, words: &[String]) -> Result<()> {
    if words.iter().any(|word| word == JACK) {
        if words.len() > 1 {
            bail!("{JACK} must be the only word: write 'cargo xtask bench {JACK}'");
        }
        return bench_jack(install);
    }
    setup::prepare(setup::TO_BENCH, install)?;
    let python = venv::prepare(top)?;
    // Some parts of the bench start the program.
    run::step(&mut run::cargo(&["build", "--release", "--package", "chaconne"]))?;
    let bench = ["run", "--release", "--package", "chaconne-tests", "--bin", "bench", "--"];
    run::step(
        run::cargo(&bench)
            .args(words)
            .env("CHACONNE_PYTHON", python)
            .env("JACK_DEFAULT_SERVER", "chaconne-bench"),
    )
}

/// The program for this is not a member of the workspace, because it builds `midir` in another way.
fn bench_jack(install: bool) -> Result<()> {
    setup::prepare(setup::TO_BENCH_JACK, install)?;
    let manifest = ["--manifest-path", "tests/midir-on-jack/Cargo.toml"];
    let target = ["--target-dir", "target/midir-on-jack"];
    run::step(run::cargo(&["run", "--release", "--quiet"]).args(manifest).args(target))
}
