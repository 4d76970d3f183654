//! The names of keys: as pitches that sound, spelled for the key in which the music sounds, and as drums.

use crate::chords::{key_heard, shift};
use chaconne_harmony::{PitchClass, note_name, spelled};
use chaconne_song::{
    KeySignature, Section, Song, Track, U7, drum_name, short_drum_name, transposed,
};

/// How keys are named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Naming {
    /// As pitches.
    Pitches {
        /// The key in which they sound; without one they are spelled as in C major.
        of: Option<KeySignature>,
        /// By how many semitones they sound higher than they are written.
        up: i32,
    },
    /// As drums.
    Drums,
}

impl Naming {
    /// For the keys of a track in a section, as they sound there. The ruler and the piano tell pitches as
    /// they sound, too, so that a pitch has one name on the whole screen.
    pub fn of(song: &Song, section: &Section, track: &Track) -> Naming {
        match track.pitched {
            true => Naming::Pitches { of: key_heard(song, section), up: shift(song, section) },
            false => Naming::Drums,
        }
    }

    /// How many semitones a key sounds above the C below it; `None` for a drum.
    pub fn in_octave(self, key: U7) -> Option<u8> {
        match self {
            Naming::Pitches { up, .. } => Some(transposed(key, up).get() % 12),
            Naming::Drums => None,
        }
    }
}

/// The name of a key without its octave.
pub fn pitch_class(key: U7, of: Option<KeySignature>) -> String {
    spelled(PitchClass::of(key), of).to_string()
}

/// The name of a key with its octave; middle C, key 60, is C4 (scientific pitch notation).
pub fn pitch(key: U7, of: Option<KeySignature>) -> String {
    note_name(key, of)
}

/// The name of a key: a pitch, or a drum by its General MIDI name; a key that General MIDI gives no drum is a
/// number.
pub fn key_name(key: U7, naming: Naming) -> String {
    match (naming, drum_name(key)) {
        (Naming::Pitches { of, up }, _) => pitch(transposed(key, up), of),
        (Naming::Drums, Some(name)) => name.to_string(),
        (Naming::Drums, None) => format!("key {}", key.get()),
    }
}

/// The same where room is short: a pitch, or a drum in three letters; `k34` for key 34 if it has no drum.
pub fn short_key_name(key: U7, naming: Naming) -> String {
    match (naming, short_drum_name(key)) {
        (Naming::Pitches { of, up }, _) => pitch(transposed(key, up), of),
        (Naming::Drums, Some(name)) => name.to_string(),
        (Naming::Drums, None) if key.get() < 100 => format!("k{:02}", key.get()),
        (Naming::Drums, None) => key.get().to_string(),
    }
}

/// The name of a key if it fits into so many columns, else the short one.
pub fn key_name_in(columns: usize, key: U7, naming: Naming) -> String {
    let name = key_name(key, naming);
    if name.len() <= columns { name } else { short_key_name(key, naming) }
}

/// The columns of the longest name of a key.
pub const LONGEST: u16 = 18;

#[cfg(test)]
mod tests {
    use super::*;

    /// Two semitones lower, D sounds as C, and C as B flat.
    #[test]
    fn the_place_in_the_octave_is_that_of_the_sound() {
        let lower = Naming::Pitches { of: None, up: -2 };
        let places = [62, 60, 61].map(|key| lower.in_octave(U7::low_bits(key)));
        assert_eq!(places, [Some(0), Some(10), Some(11)]);
        assert_eq!(Naming::Drums.in_octave(U7::low_bits(36)), None);
    }
    use chaconne_song::Transpose;

    #[test]
    fn keys_have_the_names_that_musicians_use() {
        let key = U7::low_bits;
        assert_eq!(
            [0, 21, 60, 61, 127].map(|k| pitch(key(k), None)),
            ["C-1", "A0", "C4", "C#4", "G9"]
        );
        assert_eq!(key_name(key(42), Naming::Drums), "Closed Hi-Hat");
        assert_eq!(short_key_name(key(42), Naming::Drums), "HHc");
        assert_eq!(key_name(key(42), Naming::Pitches { of: None, up: 0 }), "F#2");
        assert_eq!(key_name(key(12), Naming::Drums), "key 12");
        assert_eq!(
            [9, 34, 100].map(|k| short_key_name(key(k), Naming::Drums)),
            ["k09", "k34", "100"]
        );
    }

    #[test]
    fn pitches_are_spelled_for_the_key_of_the_music() {
        let named = |of: &str| pitch(U7::low_bits(63), Some(of.parse().unwrap()));
        assert_eq!(["Eb major", "E major", "C minor"].map(named), ["Eb4", "D#4", "Eb4"]);
        assert_eq!(pitch_class(U7::low_bits(70), Some("F major".parse().unwrap())), "Bb");
    }

    #[test]
    fn a_transposed_part_is_named_as_it_sounds_and_drums_are_not_transposed() {
        let mut song = crate::testing::four_parts();
        song.key = "D major".parse().ok();
        song.transpose = Transpose::new(-4).unwrap();
        let mut section = Section::clone(&song.sections[0]);
        section.transpose = Transpose::new(2).unwrap();
        let name = |section: &Section, track: usize, key: u8| {
            let naming = Naming::of(&song, section, &song.tracks[track]);
            [key_name(U7::low_bits(key), naming), short_key_name(U7::low_bits(key), naming)]
        };
        // D major two semitones lower is C major: D4 sounds as C4, and C4 as Bb3.
        assert_eq!(name(&section, 1, 62), ["C4", "C4"]);
        assert_eq!(name(&section, 1, 60), ["Bb3", "Bb3"]);
        section.key = "E minor".parse().ok();
        assert_eq!(name(&section, 1, 65), ["Eb4", "Eb4"]);
        assert_eq!(name(&section, 0, 42), ["Closed Hi-Hat", "HHc"]);
    }

    #[test]
    fn a_drum_has_one_long_and_one_short_name() {
        let short = (0..128).filter_map(U7::new).map(|key| short_key_name(key, Naming::Drums));
        assert_eq!(short.collect::<std::collections::BTreeSet<String>>().len(), 128);
        for key in (0..128).filter_map(U7::new) {
            let (long, short) = (key_name(key, Naming::Drums), short_key_name(key, Naming::Drums));
            assert!(long.len() <= usize::from(LONGEST) && short.len() == 3, "{long} {short}");
            assert_eq!(key_name_in(usize::from(LONGEST), key, Naming::Drums), long);
            assert_eq!(key_name_in(3, key, Naming::Drums), short);
        }
    }
}
