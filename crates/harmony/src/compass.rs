//! Whether a part fits the compass of a voice or an instrument, and which transposition fits best.

use chaconne_song::{Compass, Letter, Transpose, U7};

/// The lowest and the highest note that a part has in a section, as it sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach {
    /// The section.
    pub section: Letter,
    /// The lowest note.
    pub low: U7,
    /// The highest note.
    pub high: U7,
}

/// A transposition, and how well a part then fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fit {
    /// In semitones, from how it sounds now.
    pub by: Transpose,
    /// How far the part then still reaches out of the compass, below and above together, in semitones.
    pub outside: u8,
}

/// By how many semitones a part is below and above a compass after a transposition.
fn excess(reach: &Reach, compass: Compass, by: i8) -> (i32, i32) {
    let [low, high] = [reach.low, reach.high].map(|key| i32::from(key.get()) + i32::from(by));
    let below = i32::from(compass.low().get()) - low;
    let above = high - i32::from(compass.high().get());
    (below.max(0), above.max(0))
}

/// The sections in which a part is out of its compass, with how many semitones it is too low and too high.
pub fn outside(reaches: &[Reach], compass: Compass) -> Vec<(Letter, u8, u8)> {
    let each = reaches.iter().map(|reach| (reach.section, excess(reach, compass, 0)));
    each.filter(|&(_, (below, above))| below + above > 0)
        .map(|(section, (below, above))| (section, below as u8, above as u8))
        .collect()
}

/// The transposition after which a part is least out of its compass: of several that fit alike the
/// smallest, and of two as small the one down.
pub fn best_fit(reaches: &[Reach], compass: Compass) -> Fit {
    let outside = |by: i8| {
        let each = reaches.iter().map(|reach| excess(reach, compass, by));
        let (below, above) =
            each.fold((0, 0), |(low, high), (below, above)| (low.max(below), high.max(above)));
        below + above
    };
    let all = (-Transpose::MOST..=Transpose::MOST).map(|by| (outside(by), by.unsigned_abs(), by));
    let (outside, _, by) = all.min().unwrap_or_default();
    Fit { by: Transpose::new(by).unwrap_or_default(), outside: outside as u8 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(number: u8) -> U7 {
        U7::new(number).unwrap()
    }

    fn reach(section: &str, low: u8, high: u8) -> Reach {
        Reach { section: section.parse().unwrap(), low: key(low), high: key(high) }
    }

    fn fit(reaches: &[Reach], low: u8, high: u8) -> (i8, u8) {
        let Fit { by, outside } = best_fit(reaches, Compass::new(key(low), key(high)).unwrap());
        (by.semitones(), outside)
    }

    /// The usual compass of an alto in a choir, G3 to D5 (common practice, no source).
    #[test]
    fn the_sections_out_of_range_are_named_and_the_smallest_transposition_that_fits_is_found() {
        let alto = Compass::new(key(55), key(74)).unwrap();
        let part = [reach("A", 57, 72), reach("B", 60, 77)];
        assert_eq!(outside(&part, alto), [("B".parse().unwrap(), 0, 3)]);
        // Three down would take A to 54; two down fits A and leaves one above.
        assert_eq!(fit(&part, 55, 74), (-2, 1));
        assert_eq!(fit(&[reach("A", 60, 77)], 55, 74), (-3, 0));
        assert_eq!(fit(&part, 50, 80), (0, 0));
        assert_eq!(fit(&[reach("A", 40, 50)], 55, 74), (15, 0));
        // Too wide by four for any key: as it is, it is two too low and two too high.
        assert_eq!(fit(&[reach("A", 53, 76)], 55, 74), (0, 4));
        assert_eq!(fit(&[], 55, 74), (0, 0));
    }
}
