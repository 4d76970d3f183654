//! The 128 programs: which timbres each is made of, and how they are shaped.
//!
//! One file for some families each; within a family programs share timbres and differ in envelope,
//! filter, vibrato, tuning or layers.

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
    /// 1 to 128, as the General MIDI System Level 1 sound set counts.
    pub number: u8,
    /// What sounds together.
    pub layers: Vec<Layer>,
    /// How many cents the filter of the softest note lies below that of the hardest.
    pub touch: f64,
}

impl Program {
    /// Its name in the sound set, cut to 20 bytes.
    pub fn name(&self) -> &'static str {
        names::NAMES[usize::from(self.number) - 1]
    }
}

/// A program whose softness does not change its colour.
fn plain<const N: usize>(number: u8, layers: [Layer; N]) -> Program {
    Program { number, layers: layers.into(), touch: 0.0 }
}

/// A program that grows duller by up to `touch` cents when played softly.
fn touched<const N: usize>(number: u8, touch: f64, layers: [Layer; N]) -> Program {
    Program { number, layers: layers.into(), touch }
}

/// All of them, in order.
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
    fn every_program_is_there_once_and_in_order() {
        let numbers: Vec<u8> = all().iter().map(|program| program.number).collect();
        assert_eq!(numbers, (1..=128).collect::<Vec<u8>>());
    }

    #[test]
    fn no_two_programs_are_the_same() {
        let shown: Vec<String> =
            all().iter().map(|program| format!("{:?} {}", program.layers, program.touch)).collect();
        for (at, one) in shown.iter().enumerate() {
            assert!(!shown[..at].contains(one), "program {} is like one before it", at + 1);
        }
    }
}
