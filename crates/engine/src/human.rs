//! Human variation: small deviations in time and loudness that are correlated from note to note.
//!
//! A player's deviations from a metronome are not independent of each other: their spectrum falls about as
//! 1/f over hundreds of beats, and listeners prefer that to independent ones (H. Hennig et al., "The Nature
//! and Perception of Fluctuations in Human Musical Rhythms", PLoS ONE 6(10), 2011, e26457). They are 10 to
//! 20 ms in size (the same group, as reported in the Harvard Gazette, July 2012). How loud the strokes of a
//! hi-hat are varies with long-range correlations, too (E. Räsänen et al., PLoS ONE 10(6), 2015, e0127902).
//!
//! The series is a sum of rows of random numbers; each row changes half as often as the one before. Such a
//! sum has about a 1/f spectrum (R. F. Voss and J. Clarke, "1/f noise in music", J. Acoust. Soc. Am. 63(1),
//! 1978; the sum of rows from memory). All of it is integer arithmetic on a hash of the seed, so any
//! position can be asked for, and every machine gives the same answer.

use chaconne_song::{Human, TrackId};
use chaconne_time::Tick;

/// The series has a value for each sixteenth; in between it is interpolated.
const STEP: i64 = 240;
/// One standard deviation.
const ONE: i64 = 1 << 16;
/// The standard deviation at 100 %, in microseconds: the upper end of what was measured.
const TIMING_MICROS: i64 = 20_000;
/// The standard deviation at 100 % is a tenth of the velocity (common practice; no source).
const LOUDNESS_TENTHS: i64 = 1;
/// By what rows of numbers from -1 to 1 are multiplied so that the sum of 1, 2, 3 … of them has a standard
/// deviation of [`ONE`]: the square root of 3 over their number.
const SCALES: [i64; 12] = [
    113_512, 80_265, 65_536, 56_756, 50_764, 46_341, 42_903, 40_132, 37_837, 35_895, 34_225, 32_768,
];

/// Which of the two series.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Series {
    Timing,
    Loudness,
}

/// The player of a pass: all passes of a track have the same one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Player {
    seed: u64,
    /// The length of the pass, after which the series starts again.
    length: Tick,
}

impl Player {
    /// The player of a pass of this length.
    pub fn new(human: &Human, track: TrackId, length: Tick) -> Player {
        let seed = u64::from(track.0) << 16 | u64::from(human.seed);
        Player { seed: mixed(seed), length: length.max(Tick(1)) }
    }

    /// How much later than meant something at a tick of the pass begins, in ticks.
    pub fn timing(&self, at: Tick, percent: u8, micros_per_quarter: u32) -> Tick {
        if percent == 0 {
            return Tick::ZERO;
        }
        let ticks = TIMING_MICROS * i64::from(percent) * chaconne_time::TICKS_PER_QUARTER;
        let quarter = i64::from(micros_per_quarter) * 100 * ONE;
        // Less than half a step, so that what comes first stays first, within a step and from one to the next.
        let furthest = (STEP / 2 - 1) * quarter / ticks;
        let step = |step, steps| self.step(Series::Timing, step, steps).clamp(-furthest, furthest);
        Tick(rounded(self.between(at, step) * ticks, quarter))
    }

    /// By what the velocity of something at a tick of the pass is multiplied, in parts of 65,536.
    pub fn loudness(&self, at: Tick, percent: u8) -> i64 {
        let deviation = self.deviation(Series::Loudness, at) * LOUDNESS_TENTHS;
        (ONE + rounded(deviation * i64::from(percent), 1000)).max(0)
    }

    /// The series at a tick of the pass, in parts of 65,536 of its standard deviation. Before the start of
    /// the pass it is what it is before its end, so that it goes on over the seam.
    pub fn deviation(&self, series: Series, at: Tick) -> i64 {
        self.between(at, |step, steps| self.step(series, step, steps))
    }

    /// What lies between the values of two steps at a tick of the pass. `value` gives that of a step, of which
    /// there are so many.
    fn between(&self, at: Tick, value: impl Fn(i64, i64) -> i64) -> i64 {
        let steps = (self.length.0 + STEP - 1) / STEP;
        let into = at.0.rem_euclid(self.length.0);
        let (step, rest) = (into / STEP, into % STEP);
        let width = STEP.min(self.length.0 - step * STEP);
        let (here, next) = (value(step, steps), value(step + 1, steps));
        here + rounded((next - here) * rest, width)
    }

    /// The value of a step, of which there are so many before the series starts again.
    fn step(&self, series: Series, step: i64, steps: i64) -> i64 {
        let step = step % steps;
        // A row that never changes would be a constant.
        let rows = (0..SCALES.len()).take_while(|&row| row == 0 || 1 << row < steps).count();
        let sum: i64 = (0..rows).map(|row| self.row(series, row, step >> row)).sum();
        rounded(sum * SCALES[rows - 1], ONE)
    }

    /// A random number from -1 to 1, in parts of 65,536.
    fn row(&self, series: Series, row: usize, index: i64) -> i64 {
        let row = (row as u64) << 1 | u64::from(series == Series::Loudness);
        let random = mixed(mixed(self.seed ^ row) ^ index as u64);
        (random >> 47) as i64 - ONE
    }
}

/// A hash whose bits all depend on all bits of the number: the finaliser of SplitMix64 (G. L. Steele, D. Lea,
/// C. H. Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014).
fn mixed(number: u64) -> u64 {
    let mut bits = number.wrapping_add(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^ (bits >> 31)
}

/// A fraction rounded half up; the denominator must be positive.
pub(crate) fn rounded(numerator: i64, denominator: i64) -> i64 {
    (2 * numerator + denominator).div_euclid(2 * denominator)
}

#[cfg(test)]
mod tests;
