//! The scale of a key: its notes, the chords on its degrees, and the nearest note that belongs.

use crate::{PitchClass, Pitches, spelled, tones};
use chaconne_song::{ChordKind, ChordSymbol, KeySignature, Stack, U7};

/// The steps of a major scale and of a natural minor scale, in semitones above the tonic.
const MAJOR: [i32; 7] = [0, 2, 4, 5, 7, 9, 11];
const MINOR: [i32; 7] = [0, 2, 3, 5, 7, 8, 10];

fn tonic(key: KeySignature) -> PitchClass {
    let place = i32::from(key.fifths()) + if key.minor() { 3 } else { 0 };
    PitchClass::new(place * 7)
}

/// The pitch classes of a key's scale from its tonic up; for a minor key the natural scale.
pub fn scale(key: KeySignature) -> [PitchClass; 7] {
    let steps = if key.minor() { MINOR } else { MAJOR };
    steps.map(|step| tonic(key).up(step))
}

/// The chord on a degree of a key's scale, 0 for the tonic; degrees beyond the seventh begin again.
///
/// Where the scale's own ninth chord has no symbol, it is the seventh chord, and where that has none,
/// the triad.
pub fn chord_on(degree: usize, key: KeySignature, stack: Stack) -> ChordSymbol {
    let scale = scale(key);
    let root = scale[degree % 7];
    let above = |third: usize| {
        let octave = if third >= 4 { 12 } else { 0 };
        scale[(degree + 2 * third) % 7].above(root) + octave
    };
    let stacked = |count: usize| -> Vec<u8> { (0..count).map(above).collect() };
    let kind = (3..=stack.tones()).rev().find_map(|count| {
        let stacked = stacked(count);
        ChordKind::all().find(|&kind| tones(kind) == stacked)
    });
    let kind = kind.unwrap_or(ChordKind::Major);
    ChordSymbol::Chord { root: spelled(root, Some(key)), kind, bass: None }
}

/// The note nearest to `key` whose pitch class is in `wanted`; of two equally near, the lower one. Without
/// any pitch class in `wanted` it is `key` itself.
pub fn nearest(key: U7, wanted: Pitches) -> U7 {
    let number = i32::from(key.get());
    let candidates = (0..=6).flat_map(|away| [number - away, number + away]);
    let keys = candidates.filter_map(|number| u8::try_from(number).ok().and_then(U7::new));
    let mut found = keys.filter(|&key| wanted.contains(PitchClass::of(key)));
    // At the ends of the range the nearest one may be further away.
    let further = || {
        let all = (0..=127).filter_map(U7::new).filter(|&key| wanted.contains(PitchClass::of(key)));
        all.min_by_key(|other| other.get().abs_diff(key.get()))
    };
    found.next().or_else(further).unwrap_or(key)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chords(key: &str, stack: Stack) -> String {
        let key = key.parse().unwrap();
        let all = (0..7).map(|degree| chord_on(degree, key, stack).to_string());
        all.collect::<Vec<_>>().join(" ")
    }

    /// Triads and sevenths on the degrees as any handbook of harmony has them.
    #[test]
    fn the_chords_on_the_degrees_of_a_key_are_those_of_the_handbooks() {
        assert_eq!(chords("C major", Stack::Triad), "C Dm Em F G Am Bdim");
        assert_eq!(chords("C major", Stack::Seventh), "Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5");
        assert_eq!(chords("A minor", Stack::Seventh), "Am7 Bm7b5 Cmaj7 Dm7 Em7 Fmaj7 G7");
        assert_eq!(chords("Eb major", Stack::Triad), "Eb Fm Gm Ab Bb Cm Ddim");
        // The ninths on E and B are minor ones, for which there is no symbol.
        assert_eq!(chords("C major", Stack::Ninth), "Cmaj9 Dm9 Em7 Fmaj9 G9 Am9 Bm7b5");
    }

    #[test]
    fn the_nearest_note_is_at_most_a_tritone_away_and_the_lower_of_two() {
        let wanted: Pitches = scale(KeySignature::C_MAJOR).into_iter().collect();
        let moved = |key: u8, wanted| nearest(U7::new(key).unwrap(), wanted).get();
        assert_eq!([60, 61, 63, 66, 70].map(|key| moved(key, wanted)), [60, 60, 62, 65, 69]);
        let only_c: Pitches = [PitchClass::new(0)].into_iter().collect();
        assert_eq!([66, 67, 127, 0, 5].map(|key| moved(key, only_c)), [60, 72, 120, 0, 0]);
        let only_b: Pitches = [PitchClass::new(11)].into_iter().collect();
        assert_eq!([0, 4].map(|key| moved(key, only_b)), [11, 11]);
        assert_eq!(moved(61, Pitches::default()), 61);
    }
}
