//! SoundFont 2 files: a small typed model and its writer.
//!
//! In: a [`SoundFont`] of samples, instruments and presets. Out: the bytes of a file by the
//! SoundFont Technical Specification 2.04. It does not read files, and it writes no modulators, no
//! stereo links and no samples in read-only memory.

mod check;
mod generator;
mod records;
mod riff;
mod write;

pub use generator::{Generator, Setting};
pub use write::write;

use std::ops::RangeInclusive;

/// A whole bank of sounds.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SoundFont {
    /// Its name, up to 255 bytes of ASCII.
    pub name: String,
    /// Who made it, up to 255 bytes of ASCII.
    pub engineer: String,
    /// Copyright and licence, up to 255 bytes of ASCII.
    pub copyright: String,
    /// A comment, up to 65,535 bytes of ASCII.
    pub comment: String,
    /// The recorded or synthesised sounds.
    pub samples: Vec<Sample>,
    /// What the presets play.
    pub instruments: Vec<Instrument>,
    /// What a program change selects. In any order; the file sorts them by bank and program.
    pub presets: Vec<Preset>,
}

/// One mono recording of one sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// Its amplitudes, at least 48.
    pub frames: Vec<i16>,
    /// Frames per second, 400 to 50,000.
    pub rate: u32,
    /// The key at which it plays at its own pitch, 0 to 127.
    pub root: u8,
    /// Cents that put it in tune at `root`, -50 to 50.
    pub correction: i8,
    /// The first frame of the loop and the first frame after it. A loop has at least 32 frames, and
    /// at least 8 more before and after it. `None` plays the sample once.
    pub repeat: Option<(usize, usize)>,
}

/// What a range of keys and velocities plays, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Keys, 0 to 127.
    pub keys: RangeInclusive<u8>,
    /// Velocities, 0 to 127.
    pub velocities: RangeInclusive<u8>,
    /// Each generator at most once, in any order.
    pub settings: Vec<Setting>,
    /// What it plays: the index of a sample in an instrument's zone, of an instrument in a preset's.
    pub plays: usize,
}

impl Zone {
    /// A zone that covers every velocity.
    pub fn over(keys: RangeInclusive<u8>, plays: usize, settings: Vec<Setting>) -> Self {
        Self { keys, velocities: 0..=127, settings, plays }
    }
}

/// Samples spread over the keyboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// Settings for every zone that does not set the same generator itself.
    pub common: Vec<Setting>,
    /// At least one.
    pub zones: Vec<Zone>,
}

/// Instruments under one program number. Its settings are added to theirs.
#[derive(Debug, Clone, PartialEq)]
pub struct Preset {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// Bank number, 0 to 127, or 128 for percussion.
    pub bank: u16,
    /// Program number as MIDI sends it, 0 to 127.
    pub program: u8,
    /// Settings for every zone that does not set the same generator itself.
    pub common: Vec<Setting>,
    /// At least one.
    pub zones: Vec<Zone>,
}

/// Why a bank cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} '{name}': {fault}")]
pub struct FontError {
    /// Which kind of part is wrong, such as `sample`.
    pub what: &'static str,
    /// The name of that part.
    pub name: String,
    /// What is wrong and what would be right.
    pub fault: &'static str,
}
