//! The `chaconne` program: reads the arguments, runs the command and returns an exit code.
//!
//! Results go to standard output, messages to standard error. This crate only decides how to say
//! things; the crates below do the work.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod alarm;
mod args;
mod arrange;
mod bounce;
mod check;
mod chords;
mod desk;
mod exit;
mod feel;
mod files;
mod form;
mod key;
mod keys;
mod lay;
mod ports;
mod rehearse;
mod say;
mod sketch;
mod timing;

use args::{Args, Job};
use clap::Parser;
use exit::{Ended, Failure};
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = Args::parse();
    match run(args.job) {
        Ok(ended) => ended.into(),
        Err(failure) => {
            failure.0.iter().for_each(|sentence| say::message(sentence));
            Ended::Failed.into()
        }
    }
}

fn run(job: Job) -> Result<Ended, Failure> {
    match job {
        Job::New(new) => files::new(&new),
        Job::Sketch(sketch) => sketch::sketch(sketch),
        Job::Rehearse(rehearse) => rehearse::rehearse(rehearse),
        Job::Lay(lay) => lay::lay(lay),
        Job::List(list) => files::list(&list),
        Job::Outline(asked) => chords::outline(&asked),
        Job::Chords(asked) => chords::chords(&asked),
        Job::Feel(asked) => feel::feel(&asked),
        Job::Section(asked) => arrange::section(&asked),
        Job::Form(asked) => form::form(&asked),
        Job::Key(asked) => key::key(&asked),
        Job::Tempo(asked) => arrange::tempo(&asked),
        Job::Check(songs) => check::check(&songs),
        Job::Export(export) => files::export(&export),
        Job::Bounce(asked) => bounce::bounce(asked),
        Job::Import(import) => files::import(&import),
        Job::Ports => ports::ports(),
        Job::Keys(asked) => keys::keys(&asked),
        Job::Timing(asked) => timing::timing(asked),
    }
}
