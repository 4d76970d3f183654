//! The name of a chord that sounds.

use crate::{PitchClass, Pitches, spelled, tones};
use chaconne_song::{ChordKind, ChordSymbol, KeySignature, U7};

/// The names of what sounds, the likeliest first; none if it is no chord that has a symbol.
///
/// The keys may be in any order and any octave. A name in which nothing is missing comes first, then one
/// with its root in the bass, then the one with the simpler kind. A fifth may be missing from a chord of
/// four tones or more. So C, E, G and A are `C6` over C and `Am7` over A. Names are spelled for `key`.
pub fn names(keys: &[U7], key: Option<KeySignature>) -> Vec<ChordSymbol> {
    let Some(bass) = keys.iter().min().map(|&lowest| PitchClass::of(lowest)) else {
        return Vec::new();
    };
    let sound: Pitches = keys.iter().map(|&key| PitchClass::of(key)).collect();
    let mut found = Vec::new();
    for root in sound.iter() {
        for (order, kind) in ChordKind::all().enumerate() {
            if let Some(missing) = missing(sound, root, kind) {
                found.push(((missing, root != bass, order, bass.above(root)), root, kind));
            }
        }
    }
    found.sort_unstable_by_key(|&(rank, ..)| rank);
    let name = |pitch| spelled(pitch, key);
    let symbol = |(_, root, kind)| ChordSymbol::Chord {
        root: name(root),
        kind,
        bass: (root != bass).then(|| name(bass)),
    };
    found.into_iter().map(symbol).collect()
}

/// How many tones of a chord are missing if this is what sounds; `None` if it is not that chord.
fn missing(sound: Pitches, root: PitchClass, kind: ChordKind) -> Option<u8> {
    let all = tones(kind);
    let whole: Pitches = all.iter().map(|&tone| root.up(i32::from(tone))).collect();
    if sound == whole {
        return Some(0);
    }
    let may_lack = all.len() >= 4 && all.contains(&7);
    (may_lack && sound == whole.without(root.up(7))).then_some(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(keys: &[u8], key: Option<&str>) -> String {
        let keys: Vec<U7> = keys.iter().map(|&key| U7::new(key).unwrap()).collect();
        let all = names(&keys, key.map(|key| key.parse().unwrap()));
        all.iter().map(ChordSymbol::to_string).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn chords_are_named_by_their_bass_note() {
        for (keys, expected) in [
            (&[60, 64, 67][..], "C"),
            (&[64, 67, 72, 76], "C/E"),
            (&[60, 64, 67, 69], "C6 Am7/C"),
            (&[57, 60, 64, 67], "Am7 C6/A"),
            (&[60, 63, 67, 69], "Cm6 Am7b5/C"),
            // The last without its fifth.
            (&[60, 65, 67], "Csus4 Fsus2/C G7sus4/C"),
            (&[62, 65, 67, 71], "G7/D"),
            (&[43, 53, 59, 62], "G7"),
            // Without its fifth.
            (&[43, 53, 59], "G7"),
            (&[48, 55], "C5"),
            (&[48, 52], ""),
            (&[48, 49, 50], ""),
            (&[], ""),
        ] {
            assert_eq!(named(keys, None), expected, "{keys:?}");
        }
    }

    #[test]
    fn chords_that_divide_the_octave_evenly_are_named_by_their_bass_note_first() {
        assert!(named(&[60, 64, 68], None).starts_with("C+ "));
        assert!(named(&[64, 68, 72], None).starts_with("E+ "));
        assert!(named(&[63, 66, 69, 72], None).starts_with("Ebdim7 "));
    }

    #[test]
    fn names_are_spelled_for_the_key() {
        assert_eq!(named(&[61, 65, 68], Some("Ab major")), "Db");
        assert_eq!(named(&[61, 65, 68], Some("F# major")), "C#");
        assert_eq!(named(&[56, 59, 62, 64], Some("A minor")), "E7/G#");
    }

    #[test]
    fn every_kind_in_root_position_has_its_own_name_first() {
        for root in 48..60 {
            for kind in ChordKind::all() {
                let keys: Vec<U7> =
                    tones(kind).iter().map(|&tone| U7::new(root + tone).unwrap()).collect();
                let first = names(&keys, None)[0];
                let ChordSymbol::Chord { kind: found, bass, .. } = first else { panic!("{first}") };
                assert_eq!((found, bass), (kind, None), "{first}");
            }
        }
    }
}
