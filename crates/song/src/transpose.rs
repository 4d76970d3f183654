//! Transposition: how far the keys of pitched tracks move when they are performed.

use crate::U7;
use std::fmt;

/// A number of semitones, -36..=36; negative is down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Transpose(i8);

impl Transpose {
    /// The most semitones, up or down.
    pub const MOST: i8 = 36;

    /// A transposition by this many semitones; `None` outside -36..=36.
    pub fn new(semitones: i8) -> Option<Transpose> {
        (-Self::MOST..=Self::MOST).contains(&semitones).then_some(Transpose(semitones))
    }

    /// The number of semitones, -36..=36; negative is down.
    pub fn semitones(self) -> i8 {
        self.0
    }
}

impl fmt::Display for Transpose {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// The key `semitones` away. A key that would leave 0..=127 is moved back by octaves, so that its
/// note name is still right.
pub fn transposed(key: U7, semitones: i32) -> U7 {
    let moved = match i32::from(key.get()) + semitones {
        below @ ..=-1 => below.rem_euclid(12),
        above @ 128.. => above - (above - 127 + 11) / 12 * 12,
        inside => inside,
    };
    u8::try_from(moved).ok().and_then(U7::new).unwrap_or(key)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_transposed_key_stays_in_range_by_whole_octaves() {
        for key in 0..=127u8 {
            for semitones in -72..=72i32 {
                let (from, to) = (i32::from(key), transposed(U7::new(key).unwrap(), semitones));
                let moved = i32::from(to.get()) - from - semitones;
                assert_eq!(moved.rem_euclid(12), 0, "{key} by {semitones}");
                if (0..=127).contains(&(from + semitones)) {
                    assert_eq!(moved, 0);
                } else {
                    // One octave nearer to the wanted key would be out of range.
                    let nearer = i32::from(to.get()) - 12 * moved.signum();
                    assert!(!(0..=127).contains(&nearer), "{key} by {semitones}");
                }
            }
        }
        assert!(Transpose::new(37).is_none() && Transpose::new(-37).is_none());
        for semitones in [-36, -5, 0, 7, 36] {
            assert_eq!(Transpose::new(semitones).map(Transpose::semitones), Some(semitones));
        }
    }
}
