//! Chord keys: which chord a key plays, and the keys that sound it.
//!
//! White keys play the chords on the degrees of the key, with C for the first whatever its tonic is, so that the
//! same fingers play the same progression in every key. In a minor key the chord on the fifth degree has the raised
//! third of the harmonic minor scale. A black key plays the dominant seventh that leads to the chord on the white key
//! above it; where that chord is diminished, to which nothing leads, the major chord a semitone below it: in a major
//! key the one on its flat seventh, in a minor key the one on its flat second. (The layout is ours; the chords are
//! those of any handbook of harmony.)

use crate::{PitchClass, Voicing, chord_on, scale, spelled, voiced};
use chaconne_song::{ChordKeys, ChordKind, ChordSymbol, KeySignature, Stack, U7};

/// What a key means on white and black keys from C up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// The white key of a degree, from 0.
    White(usize),
    /// The black key below the white key of a degree.
    Below(usize),
}

const PLACES: [Place; 12] = [
    Place::White(0),
    Place::Below(1),
    Place::White(1),
    Place::Below(2),
    Place::White(2),
    Place::White(3),
    Place::Below(4),
    Place::White(4),
    Place::Below(5),
    Place::White(5),
    Place::Below(6),
    Place::White(6),
];

/// The chord that a key plays; without a key signature in C major.
pub fn chord_on_key(key: U7, signature: Option<KeySignature>, keys: &ChordKeys) -> ChordSymbol {
    if let Some(&own) = keys.own.get(&key) {
        return own;
    }
    let signature = signature.unwrap_or(KeySignature::C_MAJOR);
    match PLACES[usize::from(key.get() % 12)] {
        Place::White(degree) => on_degree(degree, signature, keys.stack),
        Place::Below(degree) => leading_to(degree, signature),
    }
}

/// The degree of a minor scale whose chord has the raised third, from 0.
const FIFTH: usize = 4;

fn on_degree(degree: usize, key: KeySignature, stack: Stack) -> ChordSymbol {
    let natural = chord_on(degree, key, stack);
    if !key.minor() || degree != FIFTH {
        return natural;
    }
    let ChordSymbol::Chord { root, bass, .. } = natural else { return natural };
    let kind = match stack {
        Stack::Triad => ChordKind::Major,
        Stack::Seventh => ChordKind::Dominant,
        // The ninth above the dominant of a minor key is a minor one.
        Stack::Ninth => ChordKind::DominantFlatNinth,
    };
    ChordSymbol::Chord { root, kind, bass }
}

/// The dominant seventh of the chord on a degree; the major chord a semitone below it if that is diminished.
fn leading_to(degree: usize, key: KeySignature) -> ChordSymbol {
    let target = scale(key)[degree];
    let is_diminished = matches!(
        chord_on(degree, key, Stack::Triad),
        ChordSymbol::Chord { kind: ChordKind::Diminished, .. }
    );
    let (root, kind) = if is_diminished {
        (target.up(-1), ChordKind::Major)
    } else {
        (target.up(7), ChordKind::Dominant)
    };
    ChordSymbol::Chord { root: spelled(root, Some(key)), kind, bass: None }
}

/// The keys that a chord key sounds for a chord, lowest first. `before` are the keys that sounded last, for leading.
pub(crate) fn sounded(
    key: U7,
    symbol: ChordSymbol,
    signature: Option<KeySignature>,
    keys: &ChordKeys,
    before: &[U7],
) -> Vec<U7> {
    let voicing =
        Voicing { inversion: keys.inversion, open: keys.open, from: tonic_near(key, signature) };
    voiced(symbol, voicing, if keys.leading { before } else { &[] })
}

/// The tonic nearest to the C of the octave that a key lies in: at most six semitones below it, or five above.
fn tonic_near(key: U7, signature: Option<KeySignature>) -> U7 {
    let tonic = scale(signature.unwrap_or(KeySignature::C_MAJOR))[0];
    let c = i32::from(key.get() / 12) * 12;
    let up = i32::from(tonic.above(PitchClass::new(6))) - 6;
    let near = c + up;
    let inside = if near < 0 { near + 12 } else { near };
    U7::low_bits(inside.clamp(0, 127) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chords(key: &str, stack: Stack) -> String {
        let keys = ChordKeys { stack, ..ChordKeys::default() };
        let all = (60..72).map(|number| {
            chord_on_key(U7::low_bits(number), Some(key.parse().unwrap()), &keys).to_string()
        });
        all.collect::<Vec<_>>().join(" ")
    }

    /// The degrees and their dominants as any handbook of harmony has them, from C up.
    #[test]
    fn white_keys_are_degrees_and_black_keys_lead_to_them() {
        assert_eq!(chords("C major", Stack::Triad), "C A7 Dm B7 Em F D7 G E7 Am Bb Bdim");
        assert_eq!(
            chords("C major", Stack::Ninth),
            "Cmaj9 A7 Dm9 B7 Em7 Fmaj9 D7 G9 E7 Am9 Bb Bm7b5"
        );
        assert_eq!(chords("Eb major", Stack::Triad), "Eb C7 Fm D7 Gm Ab F7 Bb G7 Cm Db Ddim");
        assert_eq!(
            chords("A minor", Stack::Seventh),
            "Am7 Bb Bm7b5 G7 Cmaj7 Dm7 B7 E7 C7 Fmaj7 D7 G7"
        );
        assert_eq!(chords("A minor", Stack::Ninth).split(' ').nth(7), Some("E7b9"));
    }

    #[test]
    fn a_key_may_have_a_chord_of_its_own_and_no_signature_is_c_major() {
        let own = [(U7::low_bits(60), "F#m7b5/E".parse().unwrap())].into_iter().collect();
        let keys = ChordKeys { own, ..ChordKeys::default() };
        let on = |number| chord_on_key(U7::low_bits(number), None, &keys).to_string();
        assert_eq!([60, 72, 67].map(on), ["F#m7b5/E", "C", "G"]);
    }

    #[test]
    fn the_tonic_lies_near_the_c_of_the_octave_that_is_played() {
        let near =
            |number, key: &str| tonic_near(U7::low_bits(number), Some(key.parse().unwrap())).get();
        assert_eq!([60, 71, 59].map(|number| near(number, "C major")), [60, 60, 48]);
        assert_eq!([60, 66].map(|number| near(number, "F major")), [65, 65]);
        assert_eq!(near(60, "G major"), 55);
        assert_eq!(near(60, "F# major"), 54);
        assert_eq!((near(0, "G major"), near(127, "F major")), (7, 125));
    }
}
