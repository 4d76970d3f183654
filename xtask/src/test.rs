//! `cargo xtask test`: every check that a change must pass before it is accepted, quickest first.

use crate::{assets, run, setup, tidy, venv};
use anyhow::{Result, bail};
use std::path::Path;

/// Sets up, then checks format, house rules, generated files and lints, and runs every test.
pub fn test(top: &Path, install: bool) -> Result<()> {
    setup::prepare(setup::TO_TEST, install)?;
    need_component("fmt", "rustfmt")?;
    need_component("clippy", "clippy")?;
    run::step(&mut run::cargo(&["fmt", "--all", "--check"]))?;
    tidy::tidy(top)?;
    assets::assets(top, true)?;
    let python = venv::prepare(top)?;
    let lints = ["clippy", "--workspace", "--all-targets", "--all-features"];
    run::step(run::cargo(&lints).args(["--", "-D", "warnings"]))?;
    // The whole-program tests start the program itself, which `cargo test` does not build.
    run::step(&mut run::cargo(&["build", "--package", "chaconne"]))?;
    let mut test = run::cargo(&["test", "--workspace"]);
    // The property tests try the same cases every time, unless the caller sets another seed.
    let seed = std::env::var(SEED).unwrap_or_else(|_| "1".into());
    run::step(test.env("CHACONNE_PYTHON", python).env(SEED, seed))
}

/// The environment variable from which proptest takes its seed, a number.
const SEED: &str = "PROPTEST_RNG_SEED";

/// Fails, and names the command that helps, if a part of the toolchain is missing.
fn need_component(command: &str, component: &str) -> Result<()> {
    if run::succeeds(&mut run::cargo(&[command, "--version"])) {
        return Ok(());
    }
    bail!("this toolchain has no {component}: run 'rustup component add rustfmt clippy'")
}
