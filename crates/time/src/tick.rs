//! Ticks: the unit of every musical position and length.

use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// Ticks in a quarter note. With 24 MIDI clock pulses to the quarter, a pulse is 40 ticks.
pub const TICKS_PER_QUARTER: i64 = 960;

/// A signed position or length in ticks, 960 to the quarter note.
///
/// A position counts from the start of whatever contains it: a section, a pass, a run of the
/// transport. A note played early has a negative position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Tick(pub i64);

impl Tick {
    /// Position 0, the start.
    pub const ZERO: Tick = Tick(0);
    /// Later than any position in a song.
    pub const MAX: Tick = Tick(i64::MAX / 4);
    /// Earlier than any position in a song.
    pub const MIN: Tick = Tick(i64::MIN / 4);
    /// One quarter note.
    pub const QUARTER: Tick = Tick(TICKS_PER_QUARTER);

    /// Which cycle of `length` contains this position (0 for the first, negative before the start),
    /// and the position within that cycle, which is never negative. `length` must be positive.
    pub fn cycle(self, length: Tick) -> (i64, Tick) {
        (self.0.div_euclid(length.0), Tick(self.0.rem_euclid(length.0)))
    }

    /// This position rounded up to a whole multiple of `step` (positive).
    pub fn round_up(self, step: Tick) -> Tick {
        Tick((self.0 + step.0 - 1).div_euclid(step.0) * step.0)
    }
}

impl Add for Tick {
    type Output = Tick;
    fn add(self, other: Tick) -> Tick {
        Tick(self.0 + other.0)
    }
}

impl Sub for Tick {
    type Output = Tick;
    fn sub(self, other: Tick) -> Tick {
        Tick(self.0 - other.0)
    }
}

impl Neg for Tick {
    type Output = Tick;
    fn neg(self) -> Tick {
        Tick(-self.0)
    }
}

impl Mul<i64> for Tick {
    type Output = Tick;
    fn mul(self, times: i64) -> Tick {
        Tick(self.0 * times)
    }
}

impl AddAssign for Tick {
    fn add_assign(&mut self, other: Tick) {
        self.0 += other.0;
    }
}

impl SubAssign for Tick {
    fn sub_assign(&mut self, other: Tick) {
        self.0 -= other.0;
    }
}

/// A range of ticks: `from` is inside, `to` is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The first tick inside.
    pub from: Tick,
    /// The first tick after it.
    pub to: Tick,
}

impl Span {
    /// The span from `from` up to `to`.
    pub fn new(from: Tick, to: Tick) -> Span {
        Span { from, to }
    }

    /// Whether `at` is inside.
    pub fn contains(self, at: Tick) -> bool {
        self.from <= at && at < self.to
    }

    /// Whether no tick is inside.
    pub fn is_empty(self) -> bool {
        self.to <= self.from
    }

    /// The length in ticks, zero for an empty span.
    pub fn length(self) -> Tick {
        Tick((self.to.0 - self.from.0).max(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_negative_position_is_in_the_cycle_before() {
        assert_eq!(Tick(-20).cycle(Tick(3840)), (-1, Tick(3820)));
        assert_eq!(Tick(3840).cycle(Tick(3840)), (1, Tick(0)));
    }

    #[test]
    fn a_position_moves_on_and_back_and_to_the_other_side_of_the_start() {
        let mut at = Tick(100);
        at += Tick(960);
        assert_eq!(at, Tick(1060));
        at -= Tick(1100);
        assert_eq!(at, Tick(-40));
        assert_eq!(-at, Tick(40));
    }

    #[test]
    fn a_span_contains_its_start_but_not_its_end() {
        let span = Span::new(Tick(10), Tick(20));
        assert!(span.contains(Tick(10)) && !span.contains(Tick(20)));
        assert!(Span::new(Tick(5), Tick(5)).is_empty() && !Span::new(Tick(5), Tick(6)).is_empty());
    }

    #[test]
    fn a_span_is_as_long_as_from_its_start_to_its_end() {
        assert_eq!(Span::new(Tick(-10), Tick(20)).length(), Tick(30));
        assert_eq!(Span::new(Tick(20), Tick(10)).length(), Tick(0));
    }

    #[test]
    fn the_greatest_and_the_least_position_are_outside_any_song_and_can_be_subtracted() {
        // The longest section: 999 bars of 64/1.
        let longest = Tick(999 * 64 * 4 * TICKS_PER_QUARTER);
        assert!(Tick::MAX > longest * 1_000_000 && Tick::MIN < longest * -1_000_000);
        assert_eq!(Tick::MAX - Tick::MIN + Tick::MAX, Tick(i64::MAX / 4 * 2 - i64::MIN / 4));
    }
}
