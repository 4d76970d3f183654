//! The chords on chord keys are those that music21 10.5 builds on roman numerals, in all thirty keys.
//! The script is `tests/python/chord_keys.py`.

use chaconne_harmony::{PitchClass, Pitches, chord_on_key, pitches};
use chaconne_song::{ChordKeys, ChordSymbol, KeySignature, Stack, U7};

const CHORDS: &str = include_str!("data/chord_keys.txt");

#[test]
fn keys_play_the_chords_that_music21_builds_on_roman_numerals() {
    assert_eq!(CHORDS.lines().count(), 60);
    for line in CHORDS.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        let key = KeySignature::new(words[0].parse().unwrap(), words[1] == "minor");
        let stack = if words[2] == "3" { Stack::Triad } else { Stack::Seventh };
        let keys = ChordKeys { stack, ..ChordKeys::default() };
        assert_eq!(words.len(), 15);
        for (number, chord) in (60..).zip(&words[3..]) {
            let numbers: Vec<i32> = chord.split(',').map(|pitch| pitch.parse().unwrap()).collect();
            let expected: Pitches = numbers.iter().map(|&pitch| PitchClass::new(pitch)).collect();
            let played = chord_on_key(U7::new(number).unwrap(), key, &keys);
            assert_eq!(pitches(played), expected, "{played} on key {number}: {line}");
            let ChordSymbol::Chord { root, .. } = played else { panic!("{line}") };
            assert_eq!(PitchClass::named(root), PitchClass::new(numbers[0]), "{played}: {line}");
        }
    }
}
