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

/// The name of a key of a track: a pitch, or a drum by its General MIDI name; a key that General MIDI
/// gives no drum is a number.
pub fn key_name(key: U7, pitched: bool) -> String {
    match drum_name(key) {
        _ if pitched => pitch(key),
        Some(name) => name.to_string(),
        None => format!("key {}", key.get()),
    }
}

/// The same where room is short: a pitch, or a drum in three letters; `k34` for key 34 if it has no drum.
pub fn short_key_name(key: U7, pitched: bool) -> String {
    match short_drum_name(key) {
        _ if pitched => pitch(key),
        Some(name) => name.to_string(),
        None if key.get() < 100 => format!("k{:02}", key.get()),
        None => key.get().to_string(),
    }
}

/// The name of a key if it fits into so many columns, else the short one.
pub fn key_name_in(columns: usize, key: U7, pitched: bool) -> String {
    let name = key_name(key, pitched);
    if name.len() <= columns { name } else { short_key_name(key, pitched) }
}

/// The columns of the longest name of a key.
pub const LONGEST: u16 = 18;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_the_names_that_musicians_use() {
        let key = U7::low_bits;
        assert_eq!([0, 21, 60, 61, 127].map(|k| pitch(key(k))), ["C-1", "A0", "C4", "C#4", "G9"]);
        assert_eq!(key_name(key(42), false), "Closed Hi-Hat");
        assert_eq!(short_key_name(key(42), false), "HHc");
        assert_eq!(key_name(key(42), true), "F#2");
        assert_eq!(key_name(key(12), false), "key 12");
        assert_eq!([9, 34, 100].map(|k| short_key_name(key(k), false)), ["k09", "k34", "100"]);
    }

    #[test]
    fn a_drum_has_one_long_and_one_short_name() {
        let short = (0..128).filter_map(U7::new).map(|key| short_key_name(key, false));
        assert_eq!(short.collect::<std::collections::BTreeSet<String>>().len(), 128);
        for key in (0..128).filter_map(U7::new) {
            let (long, short) = (key_name(key, false), short_key_name(key, false));
            assert!(long.len() <= usize::from(LONGEST) && short.len() == 3, "{long} {short}");
            assert_eq!(key_name_in(usize::from(LONGEST), key, false), long);
            assert_eq!(key_name_in(3, key, false), short);
        }
    }
}
