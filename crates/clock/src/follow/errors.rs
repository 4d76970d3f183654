//! What the errors of the pulses tell: how much jitter there is, and whether the master's tempo is
//! moving away from the line.

use std::f64::consts::SQRT_2;

/// How old a line is taken to be at most, when the master begins to change its tempo a little.
const SETTLED: u32 = 75;
/// The same where it changes it a lot: the filter is as wide as it ever is, 2 Hz for 120 BPM.
pub(super) const SWERVING: u32 = 10;
/// The least jitter there is taken to be, nanoseconds: 0.15 ms.
const LEAST: f64 = 150e3;

/// How many errors the middle is taken of.
const LATEST: usize = 5;

/// What is known of the errors: how large they are from pulse to pulse, and on which side. One
/// pulse in four may be astray, and nothing much comes of it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Errors {
    /// The last few, newest first.
    latest: [f64; LATEST],
    /// What one error amounts to, told from the middle of the differences between neighbours: a
    /// steady lag is not in it.
    noise: f64,
    /// The mean error of the last ten pulses or so, strays cut down.
    drift: f64,
    seen: u32,
}

impl Errors {
    /// What one error amounts to, jitter alone, nanoseconds. Some jitter is always taken to be
    /// there.
    pub fn noise(&self) -> f64 {
        self.noise.max(LEAST)
    }

    /// The most that one pulse is believed, in nanoseconds.
    pub fn most(&self) -> f64 {
        4.0 * self.noise()
    }

    /// Forgets on which side they were.
    pub fn settle(&mut self) {
        (self.drift, self.latest) = (0.0, [0.0; LATEST]);
    }

    /// Takes the error of a pulse, nanoseconds.
    pub fn take(&mut self, error: f64) {
        self.hear((error - self.latest[0]).abs() / SQRT_2);
        self.latest.rotate_right(1);
        self.latest[0] = error;
        let most = 2.0 * self.noise();
        self.drift += 0.1 * (error.clamp(-most, most) - self.drift);
    }

    /// Takes a difference into the noise. At first it is the mean; later it goes up a little with
    /// a larger one and down with a smaller one, and so stays where half of them are larger: of a
    /// bell curve that is 0.674 deviations.
    fn hear(&mut self, size: f64) {
        self.seen = self.seen.saturating_add(1);
        if self.seen <= 40 {
            self.noise += (size / 0.8 - self.noise) / f64::from(self.seen);
        } else {
            self.noise *= if size > 0.674 * self.noise() { 1.015 } else { 1.0 / 1.015 };
            self.noise = self.noise.max(LEAST);
        }
    }

    /// Whether they lie rather to one side, twice as much as jitter alone would make of it: the
    /// filter is narrow enough.
    pub fn lean(&self) -> bool {
        self.drift.abs() > 0.5 * self.noise()
    }

    /// How old the line still is, by the side that the errors are on. Where the middle of the last
    /// five, or the mean of the last ten, lies there farther than jitter alone would ever have it
    /// (between four and five deviations), the line counts for less, and the filter is wider.
    pub fn age(&self, age: u32) -> u32 {
        let mut latest = self.latest;
        latest.sort_by(f64::total_cmp);
        if latest[LATEST / 2].abs() > 3.0 * self.noise() {
            age.min(SWERVING)
        } else if self.drift.abs() > 1.1 * self.noise() {
            (age.min(SETTLED) * 7 / 8).max(SWERVING).min(age)
        } else {
            age
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn jitter_leaves_the_line_as_old_as_it_is_and_a_drift_does_not() {
        let mut errors = Errors::default();
        // Early and late by turns, 1 ms.
        for k in 0..200 {
            errors.take(if k % 2 == 0 { 1e6 } else { -1e6 });
            assert_eq!(errors.age(100), 100);
        }
        assert!(!errors.lean());
        let noise = errors.noise();
        // One in four astray: neither noise nor side.
        for k in 0..200 {
            errors.take(if k % 4 == 0 { 4.0 * noise } else { (k % 3 - 1) as f64 * 1e6 });
            assert_eq!(errors.age(100), 100);
        }
        assert!(errors.noise() < 2.0 * noise);
        // Three of five far on one side.
        (0..3).for_each(|_| errors.take(4.0 * errors.noise()));
        assert_eq!(errors.age(100), SWERVING);
        let mut drifting = Errors { noise: 1e6, drift: 1.2e6, ..Errors::default() };
        assert_eq!((drifting.age(200), drifting.age(12), drifting.age(5)), (65, 10, 5));
        drifting.settle();
        assert_eq!(drifting.age(200), 200);
    }
}
