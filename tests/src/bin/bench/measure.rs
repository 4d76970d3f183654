//! Measuring: medians of repeated runs, percentiles, and the form in which figures are printed.

use std::hint::black_box;
use std::time::{Duration, Instant};

/// Runs something `times` times, an odd number, and returns the median time and the last result. A
/// first run, which does not count, warms memory and caches.
pub fn median<T>(times: usize, mut run: impl FnMut() -> T) -> (Duration, T) {
    let mut result = black_box(run());
    let mut taken = Vec::with_capacity(times);
    for _ in 0..times.max(1) {
        // Freed first, so that every run finds the same memory.
        drop(result);
        let start = Instant::now();
        result = black_box(run());
        taken.push(start.elapsed());
    }
    taken.sort_unstable();
    (taken[taken.len() / 2], result)
}

/// Prints a figure.
pub fn line(what: &str, figure: impl std::fmt::Display) {
    println!("{what:<52}{figure}");
}

/// A time in milliseconds.
pub fn ms(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1e3)
}

/// Events a second, in millions.
pub fn rate(events: usize, time: Duration) -> String {
    format!("{:.2} million events/s", events as f64 / time.as_secs_f64() / 1e6)
}
