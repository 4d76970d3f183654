//! `cargo xtask bench`: the figures that docs/figures.md records.
//!
//! In: `--short` for a quick look, `--together` for ten minutes of two programs, or nothing. Out: one line a figure on standard output. They are
//! ratios and counts within one run, and times of the machine it ran on: nothing here passes or
//! fails, but for the count of allocations, which must be 0.

mod big_song;
mod events;
mod measure;
mod opening;

#[cfg(target_os = "linux")]
mod counting;
#[cfg(target_os = "linux")]
mod grid;
#[cfg(target_os = "linux")]
mod lates;
#[cfg(target_os = "linux")]
mod load;
#[cfg(target_os = "linux")]
mod memory;
#[cfg(target_os = "linux")]
mod players;
#[cfg(target_os = "linux")]
mod playing;
#[cfg(target_os = "linux")]
mod share;
#[cfg(target_os = "linux")]
mod through;
#[cfg(target_os = "linux")]
mod together;

use std::process::ExitCode;

/// How much is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Enough to see that it works.
    Short,
    /// What is recorded.
    Full,
    /// Only two programs, one of which follows the other, for ten minutes.
    Together,
}

/// What went wrong, in one sentence.
pub type Failure = Box<dyn std::error::Error>;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let extent = match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [] => Extent::Full,
        ["--short"] => Extent::Short,
        ["--together"] => Extent::Together,
        _ => {
            eprintln!("the bench takes --short, --together or nothing, not '{}'", words.join(" "));
            return ExitCode::from(2);
        }
    };
    match run(extent) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

/// Prints every figure; whether the scheduler kept its promise.
fn run(extent: Extent) -> Result<bool, Failure> {
    if cfg!(debug_assertions) {
        println!("built without optimisation: times say nothing");
    }
    if extent == Extent::Together {
        return together(extent);
    }
    events::print(extent)?;
    opening::print(extent)?;
    on_the_real_clock(extent)
}

#[cfg(target_os = "linux")]
fn on_the_real_clock(extent: Extent) -> Result<bool, Failure> {
    through::print(extent)?;
    memory::print()?;
    let kept = playing::print(extent)?;
    share::print(extent)?;
    grid::print(extent)?;
    players::print(extent)?;
    together::print(extent)?;
    Ok(kept)
}

#[cfg(target_os = "linux")]
fn together(extent: Extent) -> Result<bool, Failure> {
    together::print(extent)?;
    Ok(true)
}

#[cfg(not(target_os = "linux"))]
fn together(_: Extent) -> Result<bool, Failure> {
    println!("two programs together are measured on Linux only");
    Ok(true)
}

#[cfg(not(target_os = "linux"))]
fn on_the_real_clock(_: Extent) -> Result<bool, Failure> {
    println!("note-through, memory, allocations and lateness are measured on Linux only");
    Ok(true)
}
