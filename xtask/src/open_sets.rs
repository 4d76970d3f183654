//! `cargo xtask open-sets`: plays MIDI files that other projects publish.
//!
//! It fetches them into `target/open-sets`; the tests import, loop, lay, export and play them. This is
//! not part of `cargo xtask test`, because the files come over the network and their licences keep them
//! out of the repository.

use crate::{run, setup, venv};
use anyhow::{Context, Result};
use std::path::Path;
use std::process::Command;

/// Fetches the files and runs the tests that need them.
pub fn open_sets(top: &Path, install: bool) -> Result<()> {
    setup::prepare(setup::TO_TEST, install)?;
    let python = venv::prepare(top)?;
    let files = top.join("target/open-sets");
    run::step(Command::new(&python).arg(top.join("tests/python/fetch_open_sets.py")).arg(&files))
        .context("the files could not be fetched")?;
    let test = ["test", "--package", "chaconne-tests", "--features", "open-sets"];
    run::step(run::cargo(&test).args(["--test", "open_sets"]).env("CHACONNE_OPEN_SETS", &files))
}
