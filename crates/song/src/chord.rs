//! Chord symbols and the chart of a section.
//!
//! A symbol is a root, a kind and perhaps a different bass note, as written over a lead sheet:
//! `Am7`, `F#m7b5`, `C/G`; `N.C.` means no chord. Reading accepts the usual spellings of a kind;
//! writing always uses the same one.

use chaconne_time::Tick;
use std::fmt;

/// A note name: a letter with up to two sharps or flats.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteName {
    letter: u8,
    alter: i8,
}

impl NoteName {
    /// C.
    pub const C: NoteName = NoteName { letter: b'C', alter: 0 };

    /// The name of `letter` (`'A'` to `'G'`), raised by `alter` semitones, -2..=2.
    pub fn new(letter: char, alter: i8) -> Option<NoteName> {
        let fits = ('A'..='G').contains(&letter) && (-2..=2).contains(&alter);
        fits.then_some(NoteName { letter: letter as u8, alter })
    }

    /// The letter, `'A'` to `'G'`.
    pub fn letter(self) -> char {
        char::from(self.letter)
    }

    /// How many semitones it is raised, or lowered if negative; -2..=2.
    pub fn alter(self) -> i8 {
        self.alter
    }

    /// The name at the start of `text`, and the rest of the text.
    fn split(text: &str) -> Option<(NoteName, &str)> {
        let letter = text.chars().next()?;
        let rest = text.get(1..)?;
        let (alter, rest) = match rest.as_bytes() {
            [b'#', b'#', ..] => (2, &rest[2..]),
            [b'b', b'b', ..] => (-2, &rest[2..]),
            [b'#', ..] => (1, &rest[1..]),
            [b'b', ..] => (-1, &rest[1..]),
            _ => (0, rest),
        };
        Some((NoteName::new(letter, alter)?, rest))
    }
}

impl fmt::Display for NoteName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let alter = ["bb", "b", "", "#", "##"];
        let index = usize::try_from(self.alter + 2).unwrap_or(2);
        write!(f, "{}{}", self.letter(), alter.get(index).unwrap_or(&""))
    }
}

/// The kind of a chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChordKind {
    /// C
    Major,
    /// Cm
    Minor,
    /// C+
    Augmented,
    /// Cdim
    Diminished,
    /// C7
    Dominant,
    /// Cmaj7
    MajorSeventh,
    /// Cm7
    MinorSeventh,
    /// Cdim7
    DiminishedSeventh,
    /// C+7
    AugmentedSeventh,
    /// Cm7b5
    HalfDiminished,
    /// Cm(maj7)
    MinorMajorSeventh,
    /// C6
    MajorSixth,
    /// Cm6
    MinorSixth,
    /// C9
    DominantNinth,
    /// Cmaj9
    MajorNinth,
    /// Cm9
    MinorNinth,
    /// C7b9
    DominantFlatNinth,
    /// C11
    DominantEleventh,
    /// Cm11
    MinorEleventh,
    /// C13
    DominantThirteenth,
    /// Cmaj13
    MajorThirteenth,
    /// Cm13
    MinorThirteenth,
    /// Csus2
    SuspendedSecond,
    /// Csus4
    SuspendedFourth,
    /// C7sus4
    DominantSuspended,
    /// Cadd9
    AddedNinth,
    /// Cm(add9)
    MinorAddedNinth,
    /// C5
    Power,
}

/// Every kind with its spellings; the first is the one that is written. Common practice; no source.
const KINDS: &[(ChordKind, &[&str])] = &[
    (ChordKind::Major, &["", "maj", "M"]),
    (ChordKind::Minor, &["m", "min", "-"]),
    (ChordKind::Augmented, &["+", "aug"]),
    (ChordKind::Diminished, &["dim", "o"]),
    (ChordKind::Dominant, &["7"]),
    (ChordKind::MajorSeventh, &["maj7", "M7"]),
    (ChordKind::MinorSeventh, &["m7", "min7", "-7"]),
    (ChordKind::DiminishedSeventh, &["dim7", "o7"]),
    (ChordKind::AugmentedSeventh, &["+7", "aug7", "7#5"]),
    (ChordKind::HalfDiminished, &["m7b5", "-7b5"]),
    (ChordKind::MinorMajorSeventh, &["m(maj7)", "mM7", "mmaj7"]),
    (ChordKind::MajorSixth, &["6"]),
    (ChordKind::MinorSixth, &["m6", "min6", "-6"]),
    (ChordKind::DominantNinth, &["9"]),
    (ChordKind::MajorNinth, &["maj9", "M9"]),
    (ChordKind::MinorNinth, &["m9", "min9", "-9"]),
    (ChordKind::DominantFlatNinth, &["7b9"]),
    (ChordKind::DominantEleventh, &["11"]),
    (ChordKind::MinorEleventh, &["m11", "min11", "-11"]),
    (ChordKind::DominantThirteenth, &["13"]),
    (ChordKind::MajorThirteenth, &["maj13", "M13"]),
    (ChordKind::MinorThirteenth, &["m13", "min13", "-13"]),
    (ChordKind::SuspendedSecond, &["sus2"]),
    (ChordKind::SuspendedFourth, &["sus4", "sus"]),
    (ChordKind::DominantSuspended, &["7sus4", "7sus"]),
    (ChordKind::AddedNinth, &["add9"]),
    (ChordKind::MinorAddedNinth, &["m(add9)", "madd9"]),
    (ChordKind::Power, &["5"]),
];

impl ChordKind {
    /// Every kind, from triads to extended chords, then suspended and added ones.
    pub fn all() -> impl Iterator<Item = ChordKind> {
        KINDS.iter().map(|(kind, _)| *kind)
    }

    /// The text after the root: `m7`, `sus4`; empty for a major chord.
    pub fn suffix(self) -> &'static str {
        let found = KINDS.iter().find(|(kind, _)| *kind == self);
        found.and_then(|(_, spellings)| spellings.first()).unwrap_or(&"")
    }

    fn read(suffix: &str) -> Option<ChordKind> {
        let found = KINDS.iter().find(|(_, spellings)| spellings.contains(&suffix));
        found.map(|(kind, _)| *kind)
    }
}

/// A chord symbol, as written over a bar of a lead sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChordSymbol {
    /// No chord: `N.C.`
    Silent,
    /// A chord.
    Chord {
        /// The root.
        root: NoteName,
        /// The kind.
        kind: ChordKind,
        /// The bass note, if it is not the root.
        bass: Option<NoteName>,
    },
}

/// The text is not a chord symbol.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a chord: use a root and a kind, such as Am7, Bb or F#m7b5/E, or N.C.")]
pub struct ChordError(pub String);

impl fmt::Display for ChordSymbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ChordSymbol::Silent => f.write_str("N.C."),
            ChordSymbol::Chord { root, kind, bass } => {
                write!(f, "{root}{}", kind.suffix())?;
                bass.iter().try_for_each(|bass| write!(f, "/{bass}"))
            }
        }
    }
}

impl std::str::FromStr for ChordSymbol {
    type Err = ChordError;
    fn from_str(text: &str) -> Result<ChordSymbol, ChordError> {
        if text == "N.C." {
            return Ok(ChordSymbol::Silent);
        }
        chord(text).ok_or_else(|| ChordError(text.to_string()))
    }
}

fn chord(text: &str) -> Option<ChordSymbol> {
    let (root, rest) = NoteName::split(text)?;
    let (suffix, bass) = match rest.split_once('/') {
        None => (rest, None),
        Some((suffix, bass)) => match NoteName::split(bass)? {
            (bass, "") => (suffix, Some(bass)),
            _ => return None,
        },
    };
    Some(ChordSymbol::Chord { root, kind: ChordKind::read(suffix)?, bass })
}

/// A chord of a section's chart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Chord {
    /// Where it begins, from the section's start; it lasts until the next chord.
    pub at: Tick,
    /// Its symbol.
    pub symbol: ChordSymbol,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_reads_back_from_its_text() {
        let roots = "ABCDEFG"
            .chars()
            .flat_map(|letter| (-2..=2).map(move |alter| NoteName::new(letter, alter).unwrap()));
        assert_eq!(ChordKind::all().count(), KINDS.len());
        for root in roots {
            for kind in ChordKind::all() {
                for bass in [None, NoteName::new('F', 1), NoteName::new('B', -1)] {
                    let symbol = ChordSymbol::Chord { root, kind, bass };
                    assert_eq!(symbol.to_string().parse(), Ok(symbol));
                }
            }
        }
        assert_eq!("N.C.".parse(), Ok(ChordSymbol::Silent));
    }

    #[test]
    fn usual_spellings_are_read_and_others_refused() {
        for (typed, written) in
            [("Bbmin7", "Bbm7"), ("CM7/G", "Cmaj7/G"), ("F#-7b5", "F#m7b5"), ("Ebaug", "Eb+")]
        {
            assert_eq!(typed.parse::<ChordSymbol>().unwrap().to_string(), written);
        }
        for text in ["", "H7", "am", "C7/", "C/H", "Cm7/Gm", "C###", "Cwrong", "é", "N.C", "C é"]
        {
            assert!(text.parse::<ChordSymbol>().is_err(), "{text}");
        }
    }

    #[test]
    fn no_spelling_means_two_kinds() {
        let mut all: Vec<&str> =
            KINDS.iter().flat_map(|(_, spellings)| *spellings).copied().collect();
        let count = all.len();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), count);
    }
}
