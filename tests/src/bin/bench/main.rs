//! `cargo xtask bench`: the figures that docs/figures.md records.
//!
//! In: `--short` for a quick look, `--together` for ten minutes of two programs, the names of parts to
//! measure only those, or nothing. Out: one line per figure on standard output. The figures are ratios
//! and counts within one run, and times on the machine that ran it. Only one of them can fail the
//! bench: the count of allocations, which must be 0.

mod big_song;
mod events;
mod laying;
mod measure;
mod opening;
mod storm;

#[cfg(target_os = "linux")]
mod clients;
#[cfg(target_os = "linux")]
mod exporting;
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
mod screen;
#[cfg(target_os = "linux")]
mod server;
#[cfg(target_os = "linux")]
mod share;
#[cfg(target_os = "linux")]
mod sound;
#[cfg(target_os = "linux")]
mod through;
#[cfg(target_os = "linux")]
mod together;

use std::process::ExitCode;

/// Counts how often the scheduler thread calls the allocator, which is one of the figures.
#[global_allocator]
static ALLOCATOR: chaconne_counting::Counting = chaconne_counting::Counting;

/// How much is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// Enough to see that it works.
    Short,
    /// The extent of the figures in docs/figures.md.
    Full,
    /// Only two programs, one of which follows the other, for ten minutes.
    Together,
}

/// Why a figure could not be measured, in one sentence.
pub type Failure = Box<dyn std::error::Error>;

/// A part of the bench: its name, and the function that measures and prints it. The function returns
/// `false` if a figure broke a promise of the program.
type Part = (&'static str, fn(Extent) -> Result<bool, Failure>);

/// All parts, in the order in which they are printed.
#[cfg(target_os = "linux")]
const PARTS: [Part; 15] = [
    ("events", |extent| events::print(extent).map(|()| true)),
    ("opening", |extent| opening::print(extent).map(|()| true)),
    ("laying", |extent| laying::print(extent).map(|()| true)),
    ("storm", |extent| storm::print(extent).map(|()| true)),
    ("through", |extent| through::print(extent).map(|()| true)),
    ("memory", |_| memory::print().map(|()| true)),
    ("playing", playing::print),
    ("exporting", |extent| exporting::print(extent).map(|()| true)),
    ("share", |extent| share::print(extent).map(|()| true)),
    ("grid", |extent| grid::print(extent).map(|()| true)),
    ("players", |extent| players::print(extent).map(|()| true)),
    ("sound", |extent| sound::print(extent).map(|()| true)),
    ("screen", |extent| screen::print(extent).map(|()| true)),
    ("clients", |extent| clients::print(extent).map(|()| true)),
    (TOGETHER, |extent| together::print(extent).map(|()| true)),
];
/// The parts that run on every system; the others need Linux.
#[cfg(not(target_os = "linux"))]
const PARTS: [Part; 4] = [
    ("events", |extent| events::print(extent).map(|()| true)),
    ("opening", |extent| opening::print(extent).map(|()| true)),
    ("laying", |extent| laying::print(extent).map(|()| true)),
    ("storm", |extent| storm::print(extent).map(|()| true)),
];

/// The part that `--together` asks for.
const TOGETHER: &str = "together";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let asked = match asked(&words) {
        Ok(asked) => asked,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    match run(asked.0, &asked.1) {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

/// How much is measured, and which parts.
fn asked(words: &[String]) -> Result<(Extent, Vec<Part>), Failure> {
    let (mut extent, mut parts) = (Extent::Full, Vec::new());
    for word in words {
        let name = match word.as_str() {
            "--short" => {
                extent = Extent::Short;
                continue;
            }
            "--together" => {
                extent = Extent::Together;
                TOGETHER
            }
            name => name,
        };
        let Some(part) = PARTS.iter().find(|part| part.0 == name) else {
            let names = PARTS.map(|part| part.0).join(", ");
            return Err(format!(
                "the bench has no part '{word}' on this system: write --short, --together, or the \
                 names of parts: {names}"
            )
            .into());
        };
        parts.push(*part);
    }
    Ok((extent, if parts.is_empty() { PARTS.to_vec() } else { parts }))
}

/// Prints the figures of the parts. Returns whether the program kept its promises.
fn run(extent: Extent, parts: &[Part]) -> Result<bool, Failure> {
    if cfg!(debug_assertions) {
        println!("built without optimisation: the times are meaningless");
    }
    let mut kept = true;
    for (_, print) in parts {
        kept &= print(extent)?;
    }
    Ok(kept)
}
