//! The key finder agrees with that of music21 10.5, with the same profiles, on 300 chorales of its corpus. The
//! script is `tests/python/find_keys.py`.

use chaconne_harmony::{Guess, PitchClass, Totals, guesses, key_at};

const KEYS: &str = include_str!("data/corpus_keys.txt");

#[test]
fn the_likeliest_key_and_its_correlation_are_those_of_music21() {
    assert_eq!(KEYS.lines().count(), 300);
    for line in KEYS.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        let [_, totals @ .., name, mode, correlation] = &words[..] else { panic!("{line}") };
        let totals: Vec<u64> = totals.iter().map(|total| total.parse().unwrap()).collect();
        let Guess { key, correlation: ours } = guesses(&Totals(totals.try_into().unwrap()))[0];
        // The tonic may be spelled in another way.
        let chaconne_song::ChordSymbol::Chord { root, .. } = name.parse().unwrap() else {
            panic!("{line}")
        };
        assert_eq!(key, key_at(PitchClass::named(root), *mode == "minor"), "{line}");
        assert_eq!(format!("{ours:.4}"), *correlation, "{line}");
    }
}
