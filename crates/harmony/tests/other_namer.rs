//! Chord names agree with those of music21 10.5: every triad, seventh and ninth, on every root, in every
//! inversion. The script is `tests/python/name_chords.py`.

use chaconne_harmony::{PitchClass, names, spelled};
use chaconne_song::{ChordSymbol, KeySignature, U7};

const NAMES: &str = include_str!("data/chord_names.txt");

/// Root, suffix and bass, with the root and the bass as pitch classes: music21 spells without a key.
type Meaning = (PitchClass, &'static str, Option<PitchClass>);

fn meaning(symbol: ChordSymbol) -> Meaning {
    let ChordSymbol::Chord { root, kind, bass } = symbol else { panic!("no chord") };
    (PitchClass::named(root), kind.suffix(), bass.map(PitchClass::named))
}

/// A name as music21 writes it, in our spelling: `-` is a flat, `ø` half-diminished, `M` major.
fn read(name: &str) -> ChordSymbol {
    let (chord, bass) =
        name.split_once('/').map_or((name, None), |(chord, bass)| (chord, Some(bass)));
    let chord = chord
        .replace('-', "b")
        .replace("ø7", "m7b5")
        .replace("mM7", "m(maj7)")
        .replace("M9", "maj9");
    let bass = bass.map(|bass| format!("/{}", bass.replace('-', "b"))).unwrap_or_default();
    format!("{chord}{bass}").parse().unwrap_or_else(|error| panic!("{name}: {error}"))
}

/// The keys of a line, and the name after them.
fn sounding(line: &str) -> (Vec<U7>, &str) {
    let (keys, name) = line.rsplit_once(' ').unwrap();
    let key = |key: &str| U7::new(key.parse().unwrap()).unwrap();
    (keys.split(' ').map(key).collect(), name)
}

/// A key changes how a chord is spelled, never which chord it is. The spelling of each key is tested against music21
/// in `other_speller.rs`.
#[test]
fn in_every_key_they_are_the_same_chords_spelled_for_it() {
    let keys =
        (-7..=7).flat_map(|fifths| [false, true].map(|minor| KeySignature::new(fifths, minor)));
    for key in keys {
        assert!(key.is_some());
        for line in NAMES.lines() {
            let (keys, _) = sounding(line);
            let (here, plain) = (names(&keys, key), names(&keys, None));
            assert_eq!(here.len(), plain.len(), "{line}");
            for (here, plain) in here.into_iter().zip(plain) {
                assert_eq!(meaning(here), meaning(plain), "{line}");
                let ChordSymbol::Chord { root, bass, .. } = here else { panic!("no chord") };
                for name in [Some(root), bass].into_iter().flatten() {
                    assert_eq!(name, spelled(PitchClass::named(name), key), "{line} in {key:?}");
                }
            }
        }
    }
}

#[test]
fn triads_sevenths_and_ninths_have_the_names_that_music21_gives_them() {
    let (mut first, mut second) = (0, 0);
    for line in NAMES.lines() {
        let (keys, name) = sounding(line);
        let ours: Vec<Meaning> = names(&keys, None).into_iter().map(meaning).collect();
        let theirs = meaning(read(name));
        match ours.iter().position(|meaning| *meaning == theirs) {
            Some(0) => first += 1,
            // A sixth chord in root position is the inversion of a seventh chord.
            Some(1) if matches!(ours[0], (_, "6" | "m6", None)) => second += 1,
            _ => panic!("{line}: {:?}", names(&keys, None)),
        }
    }
    // Of 528, those over the third of a minor or a half-diminished seventh on each root.
    assert_eq!((first, second), (504, 24));
}
