//! `cargo xtask`: set-up, demo, tests, house rules and figures, from a bare Rust toolchain.
//!
//! In: a job and its words. Out: exit code 0 for success, 1 if a step failed or a rule is broken, 2 for
//! wrong arguments. This program must build before anything is set up, so it uses no crate that needs a
//! system library. Of chaconne's own crates it uses only `font`, which makes the default sounds.

mod args;
mod assets;
mod bench;
mod demo;
mod mutants;
mod open_sets;
mod packages;
mod run;
mod setup;
mod test;
mod tidy;
mod venv;

use anyhow::{Context, Result};
use args::{Job, Request};
use std::env;
use std::process::ExitCode;

/// A step failed, or a house rule is broken.
const FAILED: u8 = 1;
/// The words after `cargo xtask` are wrong.
const WRONG_USAGE: u8 = 2;

fn main() -> ExitCode {
    let words: Vec<String> =
        env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
    let (result, code) = match args::parse(&words) {
        Ok(request) => (carry_out(request), FAILED),
        Err(error) => (Err(error), WRONG_USAGE),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("xtask: {error:#}");
            ExitCode::from(code)
        }
    }
}

fn carry_out(request: Request) -> Result<()> {
    let Request::Run { job, install, rest } = request else {
        println!("{}", args::help());
        return Ok(());
    };
    let top = run::top()?;
    env::set_current_dir(&top).context("the workspace folder cannot be opened")?;
    match job {
        Job::Demo => demo::demo(&top, install),
        Job::Test => test::test(&top, install),
        Job::Tidy => tidy::tidy(&top),
        Job::Assets => assets::assets(&top, rest.iter().any(|word| word == args::CHECK)),
        Job::OpenSets => open_sets::open_sets(&top, install),
        Job::Mutants => mutants::mutants(&top, install, &rest),
        Job::Bench => bench::bench(&top, install, &rest),
    }
}
