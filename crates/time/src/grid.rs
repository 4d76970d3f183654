//! Note values: grids for quantising, and units for giving a tempo.

use crate::{TICKS_PER_QUARTER, Tick, TimeError};
use std::fmt;

/// How a note value relates to its plain value: equal, two thirds, or one and a half times.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoteKind {
    /// The plain value.
    Straight,
    /// Three notes in the time of two.
    Triplet,
    /// One and a half times as long.
    Dotted,
}

/// A note value from a whole note to a sixty-fourth, straight, triplet or dotted. Each is a whole
/// number of ticks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteValue {
    division: u8,
    kind: NoteKind,
}

impl NoteValue {
    /// A quarter note.
    pub const QUARTER: NoteValue = NoteValue { division: 4, kind: NoteKind::Straight };
    /// A sixteenth note.
    pub const SIXTEENTH: NoteValue = NoteValue { division: 16, kind: NoteKind::Straight };

    /// The value `1/division`; division is one of 1, 2, 4, 8, 16, 32, 64.
    pub fn new(division: u8, kind: NoteKind) -> Result<NoteValue, TimeError> {
        if !division.is_power_of_two() || division > 64 {
            return Err(TimeError::NoteValue(format!("1/{division}")));
        }
        Ok(NoteValue { division, kind })
    }

    /// Its length in ticks.
    pub fn ticks(self) -> Tick {
        let plain = 4 * TICKS_PER_QUARTER / i64::from(self.division);
        Tick(match self.kind {
            NoteKind::Straight => plain,
            NoteKind::Triplet => plain * 2 / 3,
            NoteKind::Dotted => plain * 3 / 2,
        })
    }

    /// The lower figure of the value, 1 to 64.
    pub fn division(self) -> u8 {
        self.division
    }

    /// Straight, triplet or dotted.
    pub fn kind(self) -> NoteKind {
        self.kind
    }

    /// The quantise grids, 1/4 to 1/64: first the straight ones, then the triplets, then the dotted
    /// ones, of each kind the longest first.
    pub fn grids() -> impl Iterator<Item = NoteValue> {
        let kinds = [NoteKind::Straight, NoteKind::Triplet, NoteKind::Dotted];
        kinds.into_iter().flat_map(|kind| {
            [4, 8, 16, 32, 64].into_iter().map(move |division| NoteValue { division, kind })
        })
    }
}

impl fmt::Display for NoteValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = match self.kind {
            NoteKind::Straight => "",
            NoteKind::Triplet => " triplet",
            NoteKind::Dotted => " dotted",
        };
        write!(f, "1/{}{kind}", self.division)
    }
}

impl std::str::FromStr for NoteValue {
    type Err = TimeError;
    fn from_str(text: &str) -> Result<NoteValue, TimeError> {
        let wrong = || TimeError::NoteValue(text.to_string());
        let rest = text.trim().strip_prefix("1/").ok_or_else(wrong)?;
        let (figure, kind) = match rest.split_once(' ') {
            None => (rest, NoteKind::Straight),
            Some((figure, "triplet")) => (figure, NoteKind::Triplet),
            Some((figure, "dotted")) => (figure, NoteKind::Dotted),
            Some(_) => return Err(wrong()),
        };
        let division = figure.parse().map_err(|_| wrong())?;
        NoteValue::new(division, kind).map_err(|_| wrong())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_value_is_a_whole_number_of_ticks() {
        // By arithmetic: a quarter note is 960 ticks.
        for (text, ticks) in [
            ("1/4", 960),
            ("1/4 triplet", 640),
            ("1/8 dotted", 720),
            ("1/8", 480),
            ("1/8 triplet", 320),
            ("1/16", 240),
            ("1/16 triplet", 160),
            ("1/32", 120),
            ("1/64", 60),
            ("1/64 triplet", 40),
            ("1/64 dotted", 90),
        ] {
            let value: NoteValue = text.parse().unwrap();
            assert_eq!(value.ticks(), Tick(ticks), "{text}");
            assert_eq!(value.to_string(), text);
        }
    }

    #[test]
    fn a_note_value_gives_its_figure_and_kind() {
        let value: NoteValue = "1/32 dotted".parse().unwrap();
        assert_eq!((value.division(), value.kind()), (32, NoteKind::Dotted));
    }

    #[test]
    fn text_that_is_not_a_note_value_is_refused() {
        for text in ["1/3", "1/128", "2/4", "16", "1/8 swung", "1/8triplet"] {
            assert!(text.parse::<NoteValue>().is_err(), "{text}");
        }
    }

    #[test]
    fn each_grid_of_a_kind_is_finer_than_the_one_before() {
        let grids: Vec<NoteValue> = NoteValue::grids().collect();
        for kind in grids.chunks(5) {
            assert!(kind.is_sorted_by(|one, next| one.ticks() > next.ticks()));
            assert!(kind.iter().all(|grid| grid.kind() == kind[0].kind()));
        }
        let words: Vec<String> = grids.iter().map(NoteValue::to_string).collect();
        assert_eq!(words[..5], ["1/4", "1/8", "1/16", "1/32", "1/64"]);
        assert_eq!((words.len(), &*words[5], &*words[10]), (15, "1/4 triplet", "1/4 dotted"));
    }
}
