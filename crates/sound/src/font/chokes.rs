//! Lets drums cut each other off without a pop.
//!
//! In: the bytes of the default font. Out: the same font without its exclusive classes, and the
//! class of each key. The player would start the new drum in the voice of the old one, which then
//! stops within a frame, so that a whistle or a cuica pops. Instead the instrument releases the old
//! drum itself, with a release that is shortened here. Note-offs for such a drum therefore do
//! nothing: it rings on.

use super::riff::find;

/// Generator numbers (SoundFont Technical Specification 2.01, section 8.1.2): release of the volume
/// envelope, key range, exclusive class.
const RELEASE: u16 = 38;
const KEYS: u16 = 43;
const CLASS: u16 = 57;
/// The release of a drum that is cut off, in timecents: 20 ms.
const QUICK: i16 = -6773;

/// The exclusive class of each percussion key; 0 is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chokes([u8; 128]);

impl Chokes {
    /// No key cuts off another.
    pub const NONE: Chokes = Chokes([0; 128]);

    /// Removes the classes from a font and returns them. Each drum must have a zone of one key.
    pub fn take(font: &mut [u8]) -> Chokes {
        let mut chokes = Chokes::NONE;
        let (Some(bags), Some(at)) = (find(font, b"pdta", b"ibag"), find(font, b"pdta", b"igen"))
        else {
            return chokes;
        };
        let starts: Vec<usize> =
            font[bags].chunks_exact(4).map(|bag| usize::from(word(bag))).collect();
        for zone in starts.windows(2) {
            let generators = font[at.clone()].get_mut(zone[0] * 4..zone[1] * 4);
            generators.into_iter().for_each(|generators| chokes.take_zone(generators));
        }
        chokes
    }

    fn take_zone(&mut self, generators: &mut [u8]) {
        let mut class = 0;
        for generator in generators.chunks_exact_mut(4).filter(|one| word(one) == CLASS) {
            class = generator[2];
            generator[2..].copy_from_slice(&[0, 0]);
        }
        if class == 0 {
            return;
        }
        for generator in generators.chunks_exact_mut(4) {
            match word(generator) {
                RELEASE => generator[2..].copy_from_slice(&QUICK.to_le_bytes()),
                KEYS => self.0[usize::from(generator[2] & 127)] = class,
                _ => {}
            }
        }
    }

    /// The keys that belong to a class, one bit each.
    pub fn all(&self) -> u128 {
        let keys = self.0.iter().enumerate().filter(|(_, class)| **class != 0);
        keys.fold(0, |all, (key, _)| all | 1 << key)
    }

    /// The keys that a key cuts off, itself included.
    pub fn of(&self, key: u8) -> impl Iterator<Item = u8> {
        let class = self.0[usize::from(key & 127)];
        (0..128u8).filter(move |&other| class != 0 && self.0[usize::from(other)] == class)
    }
}

fn word(bytes: &[u8]) -> u16 {
    u16::from_le_bytes([bytes[0], bytes[1]])
}

#[cfg(test)]
mod tests {
    use super::super::STANDARD_BYTES;
    use super::*;

    /// Hats, whistles, guiros, cuicas, triangles: General MIDI Level 1 percussion key map; that they
    /// cut each other off is common practice, and a rule from General MIDI Level 2 on (from memory).
    #[test]
    fn the_classes_of_the_default_font_are_taken() {
        let mut font = STANDARD_BYTES.to_vec();
        let chokes = Chokes::take(&mut font);
        for group in [&[42, 44, 46][..], &[71, 72], &[73, 74], &[78, 79], &[80, 81]] {
            for key in group {
                assert_eq!(chokes.of(*key).collect::<Vec<_>>(), group);
            }
        }
        assert_eq!(chokes.all().count_ones(), 11);
        assert_eq!(chokes.of(36).count(), 0);
        assert_eq!(Chokes::take(&mut font), Chokes::NONE, "none is left");
        // Only a class and a release for each of them have changed.
        let changed = font.chunks(2).zip(STANDARD_BYTES.chunks(2)).filter(|(a, b)| a != b);
        assert_eq!(changed.count(), 22);
        assert_eq!(Chokes::take(&mut [0; 40]), Chokes::NONE);
    }
}
