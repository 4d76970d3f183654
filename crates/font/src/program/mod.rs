//! The 128 programs: which timbres each one uses, and how playing shapes them.
//!
//! Each file holds a few families. Programs of a family share timbres and differ in envelope, filter,
//! vibrato, tuning or layers.

mod ensemble;
mod keys;
mod layer;
mod names;
mod strings;
mod synths;
mod winds;
mod world;

pub use layer::{Layer, STILL, timecents};

/// One program of the sound set.
#[derive(Debug)]
pub struct Program {
    /// Its number in the General MIDI System Level 1 sound set, 1 to 128.
    pub number: u8,
    /// The layers, which all sound together.
    pub layers: Vec<Layer>,
    /// How far the filter closes from the hardest to the softest note, in cents.
    pub touch: f64,
}

impl Program {
    /// Its name in the sound set, cut to 20 bytes.
    pub fn name(&self) -> &'static str {
        names::NAMES[usize::from(self.number) - 1]
    }
}

/// A program that sounds equally bright at every velocity.
fn plain<const N: usize>(number: u8, layers: [Layer; N]) -> Program {
    Program { number, layers: layers.into(), touch: 0.0 }
}

/// A program whose soft notes are duller, by up to `touch` cents.
fn touched<const N: usize>(number: u8, touch: f64, layers: [Layer; N]) -> Program {
    Program { number, layers: layers.into(), touch }
}

/// All programs, in order.
pub fn all() -> Vec<Program> {
    [keys::all(), strings::all(), ensemble::all(), winds::all(), synths::all(), world::all()]
        .into_iter()
        .flatten()
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_program_exists_once_and_in_order() {
        let numbers: Vec<u8> = all().iter().map(|program| program.number).collect();
        assert_eq!(numbers, (1..=128).collect::<Vec<u8>>());
    }

    #[test]
    fn no_two_programs_are_the_same() {
        let shown: Vec<String> =
            all().iter().map(|program| format!("{:?} {}", program.layers, program.touch)).collect();
        for (at, one) in shown.iter().enumerate() {
            assert!(!shown[..at].contains(one), "program {} equals an earlier one", at + 1);
        }
    }
}
