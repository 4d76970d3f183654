//! Voicings: which keys play a chord.

use crate::{PitchClass, tones};
use chaconne_song::{ChordSymbol, U7};

/// How a chord is laid out on the keyboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Voicing {
    /// How many of the lowest tones are moved up an octave: 0 is root position.
    pub inversion: u8,
    /// Whether every second tone from below is moved up an octave, so that the chord spreads.
    pub open: bool,
    /// The key from which the chord lies upwards: its root is at it or less than an octave above. After
    /// other keys its lowest tone is at most eight semitones away from it.
    pub from: U7,
}

/// How far from where it was asked for a chord may lie that moves little from the one before, in semitones. More
/// than half an octave, so that each inversion can be had; less than an octave, so that many chords cannot wander
/// off.
const AWAY: i32 = 8;

/// The keys that play a chord, lowest first; none for no chord.
///
/// A chord with a bass note of its own has it as the lowest key. With `before`, the keys that sounded
/// last, the inversion and the octave are those in which the voices move least; ties go to the lower one.
pub fn voiced(symbol: ChordSymbol, voicing: Voicing, before: &[U7]) -> Vec<U7> {
    let ChordSymbol::Chord { root, kind, bass } = symbol else { return Vec::new() };
    let from = i32::from(voicing.from.get());
    let lowest = |pitch: PitchClass| from + i32::from(pitch.above(PitchClass::new(from)));
    let base = lowest(PitchClass::named(root));
    let close: Vec<i32> = tones(kind).iter().map(|&tone| base + i32::from(tone)).collect();
    let layout = |inversion: usize, octave: i32| {
        let mut keys: Vec<i32> = close.iter().map(|key| key + 12 * octave).collect();
        for _ in 0..inversion {
            raise(&mut keys, 0);
        }
        if voicing.open {
            let spread = keys.iter().enumerate();
            keys = spread.map(|(nth, key)| key + if nth % 2 == 1 { 12 } else { 0 }).collect();
            keys.sort_unstable();
        }
        keys
    };
    let count = close.len();
    let mut keys = if before.is_empty() {
        layout(usize::from(voicing.inversion) % count, 0)
    } else {
        let all = (-2..=2).flat_map(|octave| (0..count).map(move |inversion| (inversion, octave)));
        let laid = all.map(|(inversion, octave)| layout(inversion, octave));
        let laid = laid.filter(|keys| (keys[0] - from).abs() <= AWAY);
        laid.min_by_key(|keys| (movement(before, keys), keys[0])).unwrap_or(close)
    };
    if let Some(bass) = bass.map(PitchClass::named) {
        keys.retain(|&key| PitchClass::new(key) != bass);
        let under = keys.first().map_or(from, |&key| key - 1);
        keys.insert(0, under - i32::from(PitchClass::new(under).above(bass)));
    }
    inside(&mut keys);
    keys.into_iter().filter_map(|key| u8::try_from(key).ok().and_then(U7::new)).collect()
}

/// Moves a key up by octaves until it is the highest.
fn raise(keys: &mut Vec<i32>, nth: usize) {
    let mut key = keys.remove(nth);
    let highest = keys.last().copied().unwrap_or(key);
    while key <= highest {
        key += 12;
    }
    keys.push(key);
}

/// How far the voices move from one chord to the next: the distances from each key to the nearest one of
/// the other chord, both ways, so that no voice is left alone.
fn movement(before: &[U7], after: &[i32]) -> i32 {
    let before: Vec<i32> = before.iter().map(|key| i32::from(key.get())).collect();
    let to_nearest = |from: &[i32], to: &[i32]| -> i32 {
        let nearest = |key: &i32| to.iter().map(|other| (other - key).abs()).min().unwrap_or(0);
        from.iter().map(nearest).sum()
    };
    to_nearest(&before, after) + to_nearest(after, &before)
}

/// Moves all keys by whole octaves into 0..=127, as far as they fit.
fn inside(keys: &mut [i32]) {
    let (Some(&low), Some(&high)) = (keys.iter().min(), keys.iter().max()) else { return };
    let up = (-low).max(0).div_euclid(12) + i32::from((-low).max(0) % 12 > 0);
    let down = (high - 127).max(0).div_euclid(12) + i32::from((high - 127).max(0) % 12 > 0);
    keys.iter_mut().for_each(|key| *key += 12 * (up - down));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Pitches, pitches};
    use chaconne_song::{ChordKind, NoteName};
    use proptest::prelude::*;

    const CLOSE: Voicing = Voicing { inversion: 0, open: false, from: U7::low_bits(48) };

    fn keys(symbol: &str, voicing: Voicing, before: &[u8]) -> Vec<u8> {
        let before: Vec<U7> = before.iter().map(|&key| U7::new(key).unwrap()).collect();
        voiced(symbol.parse().unwrap(), voicing, &before).iter().map(|key| key.get()).collect()
    }

    #[test]
    fn a_chord_lies_close_open_or_inverted() {
        assert_eq!(keys("C", CLOSE, &[]), [48, 52, 55]);
        assert_eq!(keys("Bb", CLOSE, &[]), [58, 62, 65]);
        assert_eq!(keys("C", Voicing { inversion: 1, ..CLOSE }, &[]), [52, 55, 60]);
        assert_eq!(keys("C", Voicing { inversion: 2, ..CLOSE }, &[]), [55, 60, 64]);
        assert_eq!(keys("C", Voicing { open: true, ..CLOSE }, &[]), [48, 55, 64]);
        assert_eq!(keys("G9", CLOSE, &[]), [55, 59, 62, 65, 69]);
        assert_eq!(keys("G9", Voicing { inversion: 1, ..CLOSE }, &[]), [59, 62, 65, 69, 79]);
        assert_eq!(keys("C/E", CLOSE, &[]), [40, 48, 55]);
        assert_eq!(keys("N.C.", CLOSE, &[]), [0u8; 0]);
    }

    /// The textbook case: from C, the chords F, G and back keep their common tones and move by steps.
    #[test]
    fn voices_move_as_little_as_they_can() {
        let f = keys("F", CLOSE, &[48, 52, 55]);
        assert_eq!(f, [48, 53, 57]);
        let g = keys("G", CLOSE, &f);
        assert_eq!(g, [47, 50, 55].map(|key: u8| key));
        assert_eq!(keys("C", CLOSE, &g), [48, 52, 55]);
    }

    proptest! {
        #[test]
        fn a_voicing_has_the_tones_of_its_chord_within_the_range(
            (letter, alter) in (prop::sample::select(vec!['A', 'C', 'E', 'G']), -1i8..=1),
            kind in prop::sample::select(ChordKind::all().collect::<Vec<_>>()),
            with_bass in any::<bool>(),
            (inversion, open, from) in (0u8..9, any::<bool>(), 0u8..=127),
            before in prop::collection::vec(0u8..=127, 0..5),
        ) {
            let root = NoteName::new(letter, alter).unwrap();
            let bass = with_bass.then(|| NoteName::new('D', 0).unwrap());
            let symbol = ChordSymbol::Chord { root, kind, bass };
            let voicing = Voicing { inversion, open, from: U7::new(from).unwrap() };
            let before: Vec<U7> = before.into_iter().map(|key| U7::new(key).unwrap()).collect();
            let keys = voiced(symbol, voicing, &before);
            let sound: Pitches = keys.iter().map(|&key| PitchClass::of(key)).collect();
            prop_assert_eq!(sound, pitches(symbol));
            prop_assert!(keys.is_sorted_by(|one, other| one < other), "{:?}", keys);
            if let Some(bass) = bass {
                prop_assert_eq!(PitchClass::of(keys[0]), PitchClass::named(bass));
            }
        }
    }
}
