//! The tones of a chord.

use crate::{PitchClass, Pitches};
use chaconne_song::{ChordKind, ChordSymbol};

/// The tones of a kind of chord, in semitones above its root, in root position, lowest first.
///
/// Triads to ninths are those of any handbook of harmony; an eleventh or thirteenth is stacked in thirds,
/// without the eleventh in a thirteenth with a major third (common practice, no source).
pub fn tones(kind: ChordKind) -> &'static [u8] {
    match kind {
        ChordKind::Major => &[0, 4, 7],
        ChordKind::Minor => &[0, 3, 7],
        ChordKind::Augmented => &[0, 4, 8],
        ChordKind::Diminished => &[0, 3, 6],
        ChordKind::Dominant => &[0, 4, 7, 10],
        ChordKind::MajorSeventh => &[0, 4, 7, 11],
        ChordKind::MinorSeventh => &[0, 3, 7, 10],
        ChordKind::DiminishedSeventh => &[0, 3, 6, 9],
        ChordKind::AugmentedSeventh => &[0, 4, 8, 10],
        ChordKind::HalfDiminished => &[0, 3, 6, 10],
        ChordKind::MinorMajorSeventh => &[0, 3, 7, 11],
        ChordKind::MajorSixth => &[0, 4, 7, 9],
        ChordKind::MinorSixth => &[0, 3, 7, 9],
        ChordKind::DominantNinth => &[0, 4, 7, 10, 14],
        ChordKind::MajorNinth => &[0, 4, 7, 11, 14],
        ChordKind::MinorNinth => &[0, 3, 7, 10, 14],
        ChordKind::DominantFlatNinth => &[0, 4, 7, 10, 13],
        ChordKind::DominantEleventh => &[0, 4, 7, 10, 14, 17],
        ChordKind::MinorEleventh => &[0, 3, 7, 10, 14, 17],
        ChordKind::DominantThirteenth => &[0, 4, 7, 10, 14, 21],
        ChordKind::MajorThirteenth => &[0, 4, 7, 11, 14, 21],
        ChordKind::MinorThirteenth => &[0, 3, 7, 10, 14, 17, 21],
        ChordKind::SuspendedSecond => &[0, 2, 7],
        ChordKind::SuspendedFourth => &[0, 5, 7],
        ChordKind::DominantSuspended => &[0, 5, 7, 10],
        ChordKind::AddedNinth => &[0, 4, 7, 14],
        ChordKind::MinorAddedNinth => &[0, 3, 7, 14],
        ChordKind::Power => &[0, 7],
    }
}

/// The pitch classes of a chord, its bass note included; none for no chord.
pub fn pitches(symbol: ChordSymbol) -> Pitches {
    let ChordSymbol::Chord { root, kind, bass } = symbol else { return Pitches::default() };
    let root = PitchClass::named(root);
    let tones = tones(kind).iter().map(|&tone| root.up(i32::from(tone)));
    tones.chain(bass.map(PitchClass::named)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tones_of_a_chord_are_those_of_its_name() {
        // By hand from the keyboard.
        for (symbol, expected) in [
            ("C", "{C, E, G}"),
            ("F#m7b5/E", "{C, E, F#, A}"),
            ("Bb9", "{C, D, F, Ab, Bb}"),
            ("Am/D", "{C, D, E, A}"),
            ("N.C.", "{}"),
        ] {
            assert_eq!(format!("{:?}", pitches(symbol.parse().unwrap())), expected, "{symbol}");
        }
    }

    #[test]
    fn the_tones_of_every_kind_rise_from_the_root_and_differ() {
        for kind in ChordKind::all() {
            let tones = tones(kind);
            assert_eq!(tones[0], 0);
            assert!(tones.is_sorted_by(|one, other| one < other), "{kind:?}");
            let all: Pitches = tones.iter().map(|&tone| PitchClass::new(i32::from(tone))).collect();
            assert_eq!(all.count() as usize, tones.len(), "{kind:?}");
        }
    }
}
