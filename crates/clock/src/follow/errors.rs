//! What the errors of the pulses tell: how much jitter there is, and whether the master's tempo is
//! moving away from the line.

/// How old a line is taken to be at most, when the master begins to change its tempo a little.
const SETTLED: u32 = 75;
/// The same where it changes it a lot: the filter is as wide as it ever is, 2 Hz for 120 BPM.
pub(super) const SWERVING: u32 = 10;
/// The least jitter there is taken to be, nanoseconds: 0.15 ms.
const LEAST: f64 = 150e3;

/// What is known of the errors: how large they are from pulse to pulse, and on which side.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Errors {
    last: f64,
    /// The mean square of one error, told from the differences between neighbours: a steady
    /// lag is not in it.
    noise: f64,
    /// The mean error of the last ten pulses or so, and of the last three.
    drift: f64,
    swerve: f64,
    seen: u32,
}

impl Errors {
    /// What one error amounts to, jitter alone, nanoseconds. Some jitter is always taken to be
    /// there.
    pub fn noise(&self) -> f64 {
        self.noise.sqrt().max(LEAST)
    }

    /// The most that one pulse is believed, in nanoseconds.
    pub fn most(&self) -> f64 {
        4.0 * self.noise()
    }

    /// Forgets on which side they were.
    pub fn settle(&mut self) {
        (self.drift, self.swerve) = (0.0, 0.0);
    }

    /// Takes the error of a pulse, nanoseconds.
    pub fn take(&mut self, error: f64) {
        let square = (error - self.last).powi(2) / 2.0;
        self.last = error;
        self.drift += 0.1 * (error - self.drift);
        self.swerve += 0.35 * (error - self.swerve);
        self.seen = self.seen.saturating_add(1);
        let weight = (1.0 / f64::from(self.seen)).max(0.03);
        // One stray pulse counts little.
        let square = if self.seen > 8 { square.min(4.0 * self.noise().powi(2)) } else { square };
        self.noise += weight * (square - self.noise);
    }

    /// Whether they lie rather to one side, twice as much as jitter alone would make of it: the
    /// filter is narrow enough.
    pub fn lean(&self) -> bool {
        self.drift.abs() > 0.5 * self.noise()
    }

    /// How old the line still is, by the side that the errors are on. Where they lie there more
    /// than jitter alone would have it (five times for the last three, four times for
    /// the last ten), the line counts for less, and the filter is wider.
    pub fn age(&self, age: u32) -> u32 {
        let noise = self.noise();
        if self.swerve.abs() > 2.3 * noise {
            age.min(SWERVING)
        } else if self.drift.abs() > 0.95 * noise {
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
        // Early and late by turns, 1 ms: the mean of a difference's square is twice the error's.
        for k in 0..200 {
            errors.take(if k % 2 == 0 { 1e6 } else { -1e6 });
            assert_eq!(errors.age(100), 100);
        }
        assert!(!errors.lean());
        // The same jitter around 1.5 ms late.
        for k in 0..12 {
            errors.take(if k % 2 == 0 { 2.5e6 } else { 0.5e6 });
        }
        assert!(errors.lean());
        let mut drifting = Errors { noise: 1e12, drift: 1.1e6, ..Errors::default() };
        assert_eq!((drifting.age(200), drifting.age(12), drifting.age(5)), (65, 10, 5));
        drifting.swerve = 3e6;
        assert_eq!(drifting.age(200), 10);
        drifting.settle();
        assert_eq!(drifting.age(200), 200);
    }
}
