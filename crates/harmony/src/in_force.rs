//! The key in which a section sounds, and the names of notes in it.

use crate::{note_name, transposed_key};
use chaconne_song::{Compass, KeySignature, Section, Song};

/// By how many semitones a section sounds higher than it is written.
pub fn shift(song: &Song, section: &Section) -> i32 {
    i32::from(song.transpose.semitones()) + i32::from(section.transpose.semitones())
}

/// The key in which a section sounds, if one is set for it or for the song.
pub fn key_heard(song: &Song, section: &Section) -> Option<KeySignature> {
    let key = section.key.or(song.key);
    key.map(|key| transposed_key(key, shift(song, section)))
}

/// The key in which the song sounds, if one is set; a section may have another.
pub fn song_key_heard(song: &Song) -> Option<KeySignature> {
    song.key.map(|key| transposed_key(key, song.transpose.semitones().into()))
}

/// A compass as `A3 to Bb4`, spelled for a key; without one, as in the song's text.
pub fn compass_name(compass: Compass, key: Option<KeySignature>) -> String {
    match key {
        None => compass.to_string(),
        Some(_) => {
            format!("{} to {}", note_name(compass.low(), key), note_name(compass.high(), key))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_compass_is_spelled_for_a_key_and_every_spelling_is_read_back() {
        let compass: Compass = "G#3 to A#4".parse().unwrap();
        let named = |key: &str| compass_name(compass, Some(key.parse().unwrap()));
        assert_eq!(named("F minor"), "Ab3 to Bb4");
        assert_eq!(named("E major"), "G#3 to A#4");
        assert_eq!(compass_name(compass, None), "G#3 to A#4");
        for fifths in -7..=7 {
            for low in 0..127 {
                let notes = [low, low + 1].map(chaconne_song::U7::low_bits);
                let compass = Compass::new(notes[0], notes[1]).unwrap();
                let name = compass_name(compass, KeySignature::new(fifths, true));
                assert_eq!(name.parse(), Ok(compass), "{name}");
            }
        }
    }
}
