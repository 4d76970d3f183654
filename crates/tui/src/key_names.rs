//! The names of keys: as pitches, and as drums.

use chaconne_song::{U7, drum_name, short_drum_name};

/// The name of a key without its octave.
pub fn pitch_class(key: U7) -> &'static str {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    NAMES[usize::from(key.get()) % 12]
}

/// The name of a key with its octave; middle C, key 60, is C4 (scientific pitch notation).
pub fn pitch(key: U7) -> String {
    format!("{}{}", pitch_class(key), i16::from(key.get()) / 12 - 1)
}

/// The name of a key of a track: a pitch, or a drum by its General MIDI name.
pub fn key_name(key: U7, pitched: bool) -> String {
    match drum_name(key) {
        Some(name) if !pitched => name.to_string(),
        _ => pitch_or_number(key, pitched),
    }
}

/// The same in at most nine columns.
pub fn short_key_name(key: U7, pitched: bool) -> String {
    match short_drum_name(key) {
        Some(name) if !pitched => name.to_string(),
        _ => pitch_or_number(key, pitched),
    }
}

fn pitch_or_number(key: U7, pitched: bool) -> String {
    if pitched { pitch(key) } else { format!("key {}", key.get()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_the_names_that_musicians_use() {
        let key = U7::low_bits;
        assert_eq!([0, 21, 60, 61, 127].map(|k| pitch(key(k))), ["C-1", "A0", "C4", "C#4", "G9"]);
        assert_eq!(key_name(key(42), false), "Closed Hi-Hat");
        assert_eq!(short_key_name(key(42), false), "HH Closed");
        assert_eq!(key_name(key(42), true), "F#2");
        assert_eq!(key_name(key(12), false), "key 12");
    }
}
