//! Estimates two things from the errors of the pulses: how much jitter there is, and whether the
//! leader's tempo is drifting away from the line.

use std::f64::consts::SQRT_2;

/// The highest age of the line, in pulses, while the tempo drifts a little.
const SETTLED: u32 = 75;
/// The highest age while it drifts a lot: the filter is then at its widest, 2 Hz at 120 BPM.
pub(super) const SWERVING: u32 = 10;
/// The least jitter that is assumed, in nanoseconds: 0.15 ms.
const LEAST: f64 = 150e3;

/// How many errors the median is taken over.
const LATEST: usize = 5;

/// The size of the errors so far, and the side they are on. Even if one pulse in four is a stray, the
/// result hardly changes.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Errors {
    /// The last few, newest first.
    latest: [f64; LATEST],
    /// The size of one error, from the median of the differences between neighbouring errors, so that
    /// a constant lag does not count.
    noise: f64,
    /// The mean error of the last ten pulses or so, with strays clipped.
    drift: f64,
    seen: u32,
}

impl Errors {
    /// The size of one error from jitter alone, in nanoseconds. Some jitter is always assumed.
    pub fn noise(&self) -> f64 {
        self.noise.max(LEAST)
    }

    /// The error that a single pulse counts for at most, in nanoseconds.
    pub fn most(&self) -> f64 {
        4.0 * self.noise()
    }

    /// Forgets which side the errors were on.
    pub fn settle(&mut self) {
        (self.drift, self.latest) = (0.0, [0.0; LATEST]);
    }

    /// Takes the error of a pulse, in nanoseconds.
    pub fn take(&mut self, error: f64) {
        self.add_noise((error - self.latest[0]).abs() / SQRT_2);
        self.latest.rotate_right(1);
        self.latest[0] = error;
        let most = 2.0 * self.noise();
        self.drift += 0.1 * (error.clamp(-most, most) - self.drift);
    }

    /// Adds a difference to the noise. At first the noise is the mean. Later it rises a little with
    /// each larger difference and falls with each smaller one, so it stays at their median, which for
    /// a normal distribution is 0.674 standard deviations.
    fn add_noise(&mut self, size: f64) {
        self.seen = self.seen.saturating_add(1);
        if self.seen <= 40 {
            self.noise += (size / 0.8 - self.noise) / f64::from(self.seen);
        } else {
            self.noise *= if size > 0.674 * self.noise() { 1.015 } else { 1.0 / 1.015 };
            self.noise = self.noise.max(LEAST);
        }
    }

    /// Whether the errors are on one side, twice as far as jitter alone would explain: then the filter
    /// must not become narrower.
    pub fn lean(&self) -> bool {
        self.drift.abs() > 0.5 * self.noise()
    }

    /// The line's age, corrected for drift. If the median of the last five errors, or the mean of the
    /// last ten, is farther off than jitter alone would explain (between four and five standard
    /// deviations), the line counts as younger, which widens the filter.
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
    fn drift_makes_the_line_younger_and_jitter_does_not() {
        let mut errors = Errors::default();
        // Alternately 1 ms early and 1 ms late.
        for k in 0..200 {
            errors.take(if k % 2 == 0 { 1e6 } else { -1e6 });
            assert_eq!(errors.age(100), 100);
        }
        assert!(!errors.lean());
        let noise = errors.noise();
        // One in four is a stray, which changes neither noise nor side.
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
