//! Sums of sines. Each partial fades in its own time until the loop begins and then holds its level.
//!
//! In: partials, a key and some times. Out: a [`Tone`] whose loop holds a whole number of periods
//! of every partial, so that its seam is inaudible. The fundamental is exact; detuned and
//! inharmonic partials move to the nearest frequency that fits the loop a whole number of times.

use super::math::{fall, frequency, sine};
use super::noise::Noise;
use super::tone::{AFTER_LOOP, Tone};

/// One sine of a sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Partial {
    /// Its frequency divided by that of the key.
    pub ratio: f64,
    /// Its amplitude at the start.
    pub level: f64,
    /// Seconds in which it falls by 60 dB before the loop begins; infinite keeps its level.
    pub fall: f64,
    /// Seconds in which it rises; 0 is at once.
    pub rise: f64,
    /// Its phase at the start, in turns.
    pub phase: f64,
}

impl Partial {
    /// A partial that keeps its level.
    pub fn steady(ratio: f64, level: f64) -> Self {
        Self { ratio, level, fall: f64::INFINITY, rise: 0.0, phase: 0.0 }
    }

    /// A partial that fades.
    pub fn fading(ratio: f64, level: f64, fall: f64) -> Self {
        Self { fall, ..Self::steady(ratio, level) }
    }
}

/// The length of a sound and its sample rate.
#[derive(Debug, Clone, Copy)]
pub struct Shape {
    /// Seconds before the loop.
    pub onset: f64,
    /// Shortest loop in seconds; rounded up to whole periods.
    pub repeat: f64,
    /// Frames per second, approximately: tuning decides the exact rate.
    pub rate: f64,
}

/// The loop of a key: whole periods in whole frames, and the sample rate at which that is in tune.
#[derive(Debug, Clone, Copy)]
pub struct Grid {
    /// Periods of the key's frequency in the loop.
    pub periods: usize,
    /// Frames of the loop.
    pub frames: usize,
    /// Frames per second.
    pub rate: u32,
}

impl Grid {
    /// A loop of about this many seconds and frames per second. Of six possible numbers of periods
    /// it uses the one whose exact rate is nearest to a whole number.
    pub fn new(key: u8, seconds: f64, rate: f64) -> Self {
        let pitch = frequency(f64::from(key));
        let least = (seconds * pitch).ceil().max((40.0 * pitch / rate).ceil()).max(1.0) as usize;
        let grid = |periods: usize| {
            let frames = (periods as f64 * rate / pitch).round();
            let exact = pitch * frames / periods as f64;
            let error = (exact.round() / exact - 1.0).abs();
            (error, Self { periods, frames: frames as usize, rate: exact.round() as u32 })
        };
        let better =
            |best: (f64, Self), next: (f64, Self)| if next.0 < best.0 { next } else { best };
        (least + 1..least + 6).map(grid).fold(grid(least), better).1
    }

    /// The nearest frequency to `ratio` times the key's that fits the loop, in turns per frame.
    pub fn turns(&self, ratio: f64) -> f64 {
        (ratio * self.periods as f64).round() / self.frames as f64
    }
}

/// Adds the partials up. Those above 0.45 of the sample rate are left out.
pub fn additive(key: u8, shape: Shape, partials: &[Partial]) -> Tone {
    let grid = Grid::new(key, shape.repeat, shape.rate);
    let rate = f64::from(grid.rate);
    let onset = ((shape.onset * rate) as usize).max(16);
    let mut frames = vec![0.0; onset + grid.frames + AFTER_LOOP];
    for partial in partials {
        let turns = grid.turns(partial.ratio);
        if turns > 0.0 && turns < 0.45 {
            add(&mut frames, partial, turns, onset, rate);
        }
    }
    Tone { frames, rate: grid.rate, root: key, repeat: Some((onset, onset + grid.frames)) }
}

/// Adds one sine, by rotating a point on a circle one step per frame.
fn add(frames: &mut [f64], partial: &Partial, turns: f64, onset: usize, rate: f64) {
    let (step_cos, step_sin) = (sine(turns + 0.25), sine(turns));
    let (mut cos, mut sin) = (sine(partial.phase + 0.25), sine(partial.phase));
    let factor = if partial.fall.is_finite() { fall(partial.fall, rate) } else { 1.0 };
    let rise = 1.0 / (partial.rise * rate).max(1.0);
    let (mut level, mut risen) = (partial.level, if partial.rise > 0.0 { 0.0 } else { 1.0 });
    for (at, frame) in frames.iter_mut().enumerate() {
        *frame += level * risen * sin;
        (cos, sin) = (cos * step_cos - sin * step_sin, cos * step_sin + sin * step_cos);
        if at < onset {
            level *= factor;
            risen = f64::min(1.0, risen + rise);
        }
    }
}

/// Gives each partial a different phase, so that their peaks do not coincide.
pub fn scatter(partials: &mut [Partial], seed: u64) {
    let mut noise = Noise::new(seed);
    for partial in partials {
        partial.phase = noise.next();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_grid_is_in_tune_to_a_tenth_of_a_cent() {
        for key in 12..=120 {
            let grid = Grid::new(key, 0.02, 30_000.0);
            let pitch = f64::from(grid.rate) * grid.periods as f64 / grid.frames as f64;
            let cents = 1200.0 * (pitch / frequency(f64::from(key))).log2();
            assert!(cents.abs() < 0.1, "key {key}: {cents} cents");
            assert!(grid.frames >= 32, "key {key}: {} frames", grid.frames);
        }
    }

    #[test]
    fn the_loop_has_no_seam() {
        let mut partials: Vec<Partial> =
            (1..20).map(|n| Partial::fading(f64::from(n) * 1.003, 1.0, 0.4)).collect();
        scatter(&mut partials, 3);
        let shape = Shape { onset: 0.3, repeat: 0.25, rate: 30_000.0 };
        let tone = additive(60, shape, &partials);
        let (start, end) = tone.repeat.unwrap();
        for at in 0..AFTER_LOOP {
            assert!((tone.frames[start + at] - tone.frames[end + at]).abs() < 1e-9);
        }
    }
}
