//! Measuring: medians of repeated runs, percentiles, and the form in which figures are printed.

use std::hint::black_box;
use std::time::{Duration, Instant};

/// The median time of `times` runs of something (an odd number of them), and its last result. It
/// runs once before that, so that memory and caches are warm.
pub fn median<T>(times: usize, mut run: impl FnMut() -> T) -> (Duration, T) {
    let mut result = black_box(run());
    let mut taken = Vec::with_capacity(times);
    for _ in 0..times.max(1) {
        // Given back first, so that every run finds the same memory.
        drop(result);
        let start = Instant::now();
        result = black_box(run());
        taken.push(start.elapsed());
    }
    taken.sort_unstable();
    (taken[taken.len() / 2], result)
}

/// The smallest of the sorted times that `percent` of them do not exceed.
#[cfg(target_os = "linux")]
pub fn percentile(sorted: &[Duration], percent: usize) -> Duration {
    let rank = (sorted.len() * percent).div_ceil(100).max(1);
    sorted.get(rank - 1).copied().unwrap_or_default()
}

/// Prints a figure.
pub fn line(what: &str, figure: impl std::fmt::Display) {
    println!("{what:<46}{figure}");
}

/// A time in milliseconds.
pub fn ms(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1e3)
}

/// Events a second, in millions.
pub fn rate(events: usize, time: Duration) -> String {
    format!("{:.2} million events/s", events as f64 / time.as_secs_f64() / 1e6)
}
