//! Pitch classes: notes without their octave; and sets of them.

use chaconne_song::{NoteName, U7};
use std::fmt;

/// A note without its octave, in semitones above C: 0..=11.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PitchClass(u8);

impl PitchClass {
    /// All twelve, from C up.
    pub fn all() -> impl DoubleEndedIterator<Item = PitchClass> {
        (0..12).map(PitchClass)
    }

    /// The pitch class this many semitones above C; any number is reduced to an octave.
    pub fn new(semitones: i32) -> PitchClass {
        PitchClass(semitones.rem_euclid(12) as u8)
    }

    /// The pitch class of a MIDI note number.
    pub fn of(key: U7) -> PitchClass {
        PitchClass::new(i32::from(key.get()))
    }

    /// The pitch class that a name means.
    pub fn named(name: NoteName) -> PitchClass {
        // The white keys, from A to G.
        let natural = [9, 11, 0, 2, 4, 5, 7][usize::from(name.letter() as u8 - b'A')];
        PitchClass::new(natural + i32::from(name.alter()))
    }

    /// Semitones above C, 0..=11.
    pub fn semitones(self) -> u8 {
        self.0
    }

    /// The pitch class so many semitones higher.
    pub fn up(self, semitones: i32) -> PitchClass {
        PitchClass::new(i32::from(self.0) + semitones)
    }

    /// How many semitones above `root` it lies, 0..=11.
    pub fn above(self, root: PitchClass) -> u8 {
        PitchClass::new(i32::from(self.0) - i32::from(root.0)).0
    }
}

impl fmt::Debug for PitchClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
        f.write_str(name[usize::from(self.0)])
    }
}

/// A set of pitch classes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Pitches(u16);

impl Pitches {
    /// Adds one.
    pub fn insert(&mut self, pitch: PitchClass) {
        self.0 |= 1 << pitch.0;
    }

    /// The set without one of them.
    pub fn without(self, pitch: PitchClass) -> Pitches {
        Pitches(self.0 & !(1 << pitch.0))
    }

    /// Whether it contains this one.
    pub fn contains(self, pitch: PitchClass) -> bool {
        self.0 >> pitch.0 & 1 == 1
    }

    /// How many there are, 0..=12.
    pub fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Whether there is none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Those in the set, from C up.
    pub fn iter(self) -> impl Iterator<Item = PitchClass> {
        PitchClass::all().filter(move |&pitch| self.contains(pitch))
    }
}

impl FromIterator<PitchClass> for Pitches {
    fn from_iter<I: IntoIterator<Item = PitchClass>>(all: I) -> Pitches {
        let mut set = Pitches::default();
        all.into_iter().for_each(|pitch| set.insert(pitch));
        set
    }
}

impl fmt::Debug for Pitches {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self.iter()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_note_numbers_mean_the_same_pitch_classes() {
        // Middle C is note 60 (MIDI 1.0); A above it is 69.
        for (letter, alter, key) in [
            ('C', 0, 60),
            ('B', 1, 60),
            ('D', -2, 60),
            ('A', 0, 69),
            ('G', 2, 69),
            ('F', 1, 66),
            ('C', -1, 71),
        ] {
            let name = NoteName::new(letter, alter).unwrap();
            assert_eq!(PitchClass::named(name), PitchClass::of(U7::new(key).unwrap()), "{name}");
        }
    }

    #[test]
    fn a_set_holds_each_pitch_class_once() {
        let set: Pitches = [60, 64, 67, 72, 76].map(PitchClass::new).into_iter().collect();
        assert_eq!(format!("{set:?}"), "{C, E, G}");
        assert_eq!(
            (set.count(), set.contains(PitchClass::new(-5)), set.is_empty()),
            (3, true, false)
        );
        assert_eq!(set.without(PitchClass::new(4)).count(), 2);
    }
}
