//! Note names agree with those of music21 10.5 in the scales of all fifteen signatures, major and harmonic minor.
//! The script is `tests/python/spell_scales.py`.

use chaconne_harmony::{PitchClass, spelled};
use chaconne_song::{ChordSymbol, KeySignature};

const SCALES: &str = include_str!("data/scales.txt");

#[test]
fn scales_are_spelled_as_music21_spells_them() {
    assert_eq!(SCALES.lines().count(), 30);
    for line in SCALES.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        let key = KeySignature::new(words[0].parse().unwrap(), words[1] == "minor").unwrap();
        assert_eq!(key.to_string(), format!("{} {}", words[2], words[1]));
        for name in &words[2..] {
            let ChordSymbol::Chord { root, .. } = name.parse().unwrap() else { panic!("{line}") };
            assert_eq!(spelled(PitchClass::named(root), Some(key)).to_string(), *name, "{line}");
        }
    }
}
