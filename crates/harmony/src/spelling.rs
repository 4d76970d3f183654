//! Spelling: which name a pitch class has in a key, and what a key is called after a transposition.
//!
//! Names lie on a line of fifths, … Bb F C G D A E B F# C# …. A key takes twelve neighbours of it: the
//! seven of its scale, and beside them two more to the flat side and three to the sharp side. In C major
//! and A minor these are Eb to G#, as on a keyboard with twelve keys in the octave (common practice, no
//! source).

use crate::PitchClass;
use chaconne_song::{ChordSymbol, KeySignature, NoteName, U7};

/// How far below the tonic of the major key with this signature the twelve names start.
const BELOW: i32 = 3;

/// The name of a pitch class in a key; without a key, as in C major.
pub fn spelled(pitch: PitchClass, key: Option<KeySignature>) -> NoteName {
    let first = key.map_or(0, |key| i32::from(key.fifths())) - BELOW;
    let at = |place: i32| PitchClass::new(place * 7) == pitch;
    let place = (first..first + 12).find(|&place| at(place)).unwrap_or(0);
    name_at(place).unwrap_or_else(|| plain(pitch))
}

/// The name at a place on the line of fifths; C is at 0. `None` where it would have three accidentals.
fn name_at(place: i32) -> Option<NoteName> {
    let letter = ['F', 'C', 'G', 'D', 'A', 'E', 'B'][(place + 1).rem_euclid(7) as usize];
    NoteName::new(letter, i8::try_from((place + 1).div_euclid(7)).ok()?)
}

/// The name of a pitch class without regard to a key.
fn plain(pitch: PitchClass) -> NoteName {
    let place = (-3..9).find(|&place| PitchClass::new(place * 7) == pitch);
    place.and_then(name_at).unwrap_or(NoteName::C)
}

/// The key with this tonic. Of two with the same sound it is the one with fewer accidentals; F# and D#
/// rather than Gb and Eb where they are equal.
pub fn key_at(tonic: PitchClass, minor: bool) -> KeySignature {
    let shift = if minor { 3 } else { 0 };
    let sounds = |fifths: i32| PitchClass::new((fifths + shift) * 7) == tonic;
    let fifths = (-5..=6).find(|&fifths| sounds(fifths)).unwrap_or(0);
    KeySignature::new(fifths as i8, minor).unwrap_or(KeySignature::C_MAJOR)
}

/// The key after a transposition by semitones, with the fewest accidentals. By no semitones it is the
/// same key, however it is spelled.
pub fn transposed_key(key: KeySignature, semitones: i32) -> KeySignature {
    if semitones == 0 {
        return key;
    }
    let tonic = i32::from(key.fifths()) + if key.minor() { 3 } else { 0 };
    key_at(PitchClass::new(tonic * 7 + semitones), key.minor())
}

/// The semitones from one key to another of the same mode by the shorter way, down if both are as long:
/// -6..=5. `None` from a major key to a minor one or back, which no transposition does.
pub fn semitones_to(from: KeySignature, to: KeySignature) -> Option<i32> {
    let up = (i32::from(to.fifths()) - i32::from(from.fifths())) * 7;
    (from.minor() == to.minor()).then(|| (up + 6).rem_euclid(12) - 6)
}

/// A chord after a transposition by semitones, spelled for the key it is then in. By no semitones it is the
/// same chord, however it is spelled.
pub fn transposed_chord(
    symbol: ChordSymbol,
    semitones: i32,
    key: Option<KeySignature>,
) -> ChordSymbol {
    match symbol {
        ChordSymbol::Chord { root, kind, bass } if semitones != 0 => {
            let moved = |name| spelled(PitchClass::named(name).up(semitones), key);
            ChordSymbol::Chord { root: moved(root), kind, bass: bass.map(moved) }
        }
        _ => symbol,
    }
}

/// The name of a MIDI note number with its octave; note 60 is C4, or B#3 where a key has that name for it.
pub fn note_name(note: U7, key: Option<KeySignature>) -> String {
    let name = spelled(PitchClass::of(note), key);
    let natural = i32::from(note.get()) - i32::from(name.alter());
    format!("{name}{}", natural.div_euclid(12) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(text: &str) -> KeySignature {
        text.parse().unwrap()
    }

    fn names(semitones: impl IntoIterator<Item = i32>, signature: &str) -> String {
        let name = |at| spelled(PitchClass::new(at), Some(key(signature))).to_string();
        semitones.into_iter().map(name).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn scales_are_spelled_with_each_letter_once() {
        // Textbook scales; common practice, no source.
        let major = [0, 2, 4, 5, 7, 9, 11];
        assert_eq!(names(major.map(|at| at + 4), "E major"), "E F# G# A B C# D#");
        assert_eq!(names(major.map(|at| at + 11), "Cb major"), "Cb Db Eb Fb Gb Ab Bb");
        assert_eq!(names(major.map(|at| at + 1), "C# major"), "C# D# E# F# G# A# B#");
        let harmonic = [0, 2, 3, 5, 7, 8, 11];
        assert_eq!(names(harmonic.map(|at| at + 9), "A minor"), "A B C D E F G#");
        assert_eq!(names(harmonic.map(|at| at + 8), "Ab minor"), "Ab Bb Cb Db Eb Fb G");
        assert_eq!(names(harmonic.map(|at| at + 8), "G# minor"), "G# A# B C# D# E F##");
    }

    #[test]
    fn every_pitch_class_has_a_name_of_its_own_in_every_key() {
        for fifths in -7..=7 {
            for minor in [false, true] {
                let key = KeySignature::new(fifths, minor);
                for pitch in PitchClass::all() {
                    assert_eq!(
                        PitchClass::named(spelled(pitch, key)),
                        pitch,
                        "{pitch:?} in {key:?}"
                    );
                }
            }
        }
        assert_eq!(names(0..12, "C major"), "C C# D Eb E F F# G G# A Bb B");
    }

    #[test]
    fn a_note_is_in_the_octave_of_its_letter() {
        let name =
            |note: u8, signature: &str| note_name(U7::new(note).unwrap(), Some(key(signature)));
        assert_eq!(name(60, "C major"), "C4");
        assert_eq!(name(60, "C# major"), "B#3");
        assert_eq!(name(59, "Cb major"), "Cb4");
        assert_eq!([name(0, "C major"), name(127, "C major")], ["C-1", "G9"]);
        assert_eq!(name(11, "Gb major"), "Cb0");
    }

    #[test]
    fn a_chord_is_moved_and_spelled_for_its_new_key() {
        let moved = |symbol: &str, by, signature: &str| {
            transposed_chord(symbol.parse().unwrap(), by, Some(key(signature))).to_string()
        };
        assert_eq!(moved("Am7/G", 1, "Db major"), "Bbm7/Ab");
        assert_eq!(moved("F#m7b5", -2, "D minor"), "Em7b5");
        assert_eq!(moved("G#7", 0, "C major"), "G#7");
        assert_eq!(moved("N.C.", 3, "C major"), "N.C.");
    }

    #[test]
    fn a_key_is_moved_to_the_simpler_of_two_that_sound_alike() {
        for (from, semitones, to) in [
            ("C major", 2, "D major"),
            ("C major", -3, "A major"),
            ("C major", 1, "Db major"),
            ("C major", 6, "F# major"),
            ("A minor", 1, "Bb minor"),
            ("A minor", -1, "G# minor"),
            ("Cb major", 0, "Cb major"),
            ("Cb major", 12, "B major"),
            ("E minor", 3, "G minor"),
        ] {
            assert_eq!(transposed_key(key(from), semitones), key(to), "{from} by {semitones}");
        }
    }

    #[test]
    fn another_key_of_the_same_mode_is_reached_by_the_shorter_way() {
        let key = |text: &str| text.parse::<KeySignature>().unwrap();
        let way = |from: &str, to: &str| semitones_to(key(from), key(to));
        assert_eq!(way("C major", "D major"), Some(2));
        assert_eq!(way("A minor", "F minor"), Some(-4));
        assert_eq!(way("C major", "F# major"), Some(-6));
        assert_eq!(way("Eb major", "Eb major"), Some(0));
        assert_eq!(way("C major", "A minor"), None);
        for fifths in -7..=7 {
            let from = KeySignature::new(fifths, false).unwrap();
            for by in -6..=5 {
                let to = transposed_key(from, by);
                assert_eq!(semitones_to(from, to), Some(by), "{from} by {by}");
            }
        }
    }
}
