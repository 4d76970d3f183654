//! The built-in instrument: how much faster than real time it renders, compared with libfluidsynth;
//! how much of a core it takes while it plays; how soon it is heard; how fast a bounce is.

mod against;
mod bouncing;
mod cpu;
mod device;
mod first;
mod ours;
mod piece;
mod theirs;

use crate::{Extent, Failure};
use std::time::Duration;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    against::print(extent)?;
    bouncing::print(extent)?;
    device::print(extent)
}

/// The median; zero if there are no times.
fn middle(mut times: Vec<Duration>) -> Duration {
    times.sort_unstable();
    times.get(times.len() / 2).copied().unwrap_or_default()
}

/// Seconds of sound for each second taken.
fn times(seconds: f64, taken: Duration) -> String {
    format!("{:.1} times real time", seconds / taken.as_secs_f64())
}
