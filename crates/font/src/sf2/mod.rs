//! SoundFont 2 files: a small typed model and its writer.
//!
//! In: a [`SoundFont`] of samples, instruments and presets. Out: the bytes of a file as the
//! SoundFont Technical Specification 2.04 has them. Reading is left to others, and so are
//! modulators, stereo links and sounds in read-only memory, none of which is written.

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
    /// Whose it is and what may be done with it, up to 255 bytes of ASCII.
    pub copyright: String,
    /// Anything else, up to 65,535 bytes of ASCII.
    pub comment: String,
    /// The recordings, here synthesised.
    pub samples: Vec<Sample>,
    /// What a preset plays.
    pub instruments: Vec<Instrument>,
    /// What a program change selects. Written in order of bank and program, whatever the order here.
    pub presets: Vec<Preset>,
}

/// One recording of one sound, mono.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// Its amplitudes; at least 48 of them.
    pub frames: Vec<i16>,
    /// Frames a second, 400 to 50,000.
    pub rate: u32,
    /// The key it sounds at as it is, 0 to 127.
    pub root: u8,
    /// Cents to add to be in tune at `root`, -50 to 50.
    pub correction: i8,
    /// First frame of the loop, and the first frame after it; at least 32 frames long, with at
    /// least 8 frames before and after.
    pub repeat: Option<(usize, usize)>,
}

/// A range of keys and velocities, what sounds in it, and how.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Keys, 0 to 127.
    pub keys: RangeInclusive<u8>,
    /// Velocities, 0 to 127.
    pub velocities: RangeInclusive<u8>,
    /// Each generator at most once; the order does not matter.
    pub settings: Vec<Setting>,
    /// Index of a sample in an instrument's zone, of an instrument in a preset's.
    pub plays: usize,
}

impl Zone {
    /// A zone for all velocities.
    pub fn over(keys: RangeInclusive<u8>, plays: usize, settings: Vec<Setting>) -> Self {
        Self { keys, velocities: 0..=127, settings, plays }
    }
}

/// Samples spread over the keyboard.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// What holds in each zone that does not say otherwise.
    pub common: Vec<Setting>,
    /// At least one.
    pub zones: Vec<Zone>,
}

/// Instruments under one program number. Settings are added to those of the instruments.
#[derive(Debug, Clone, PartialEq)]
pub struct Preset {
    /// Up to 20 bytes of ASCII.
    pub name: String,
    /// 0 to 127, or 128 for percussion.
    pub bank: u16,
    /// Program number as on the wire, 0 to 127.
    pub program: u8,
    /// What holds in each zone that does not say otherwise.
    pub common: Vec<Setting>,
    /// At least one.
    pub zones: Vec<Zone>,
}

/// Why a bank cannot be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} '{name}': {fault}")]
pub struct FontError {
    /// What kind of thing is wrong.
    pub what: &'static str,
    /// Its name.
    pub name: String,
    /// What is wrong and what would be right.
    pub fault: &'static str,
}
