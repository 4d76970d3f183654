//! The default sounds of chaconne: every General MIDI program and drum, synthesised here.
//!
//! In: nothing. Out: the bytes of a SoundFont 2 file, the same on every machine. Nothing is
//! recorded: each sound is computed from sines, strings, noise and filters. Reading and playing
//! such files is left to other crates.
//!
//! * [`default_font`]: the file.
//! * [`sf2`]: a model of SoundFont 2 files and a writer, which any other sounds can use too.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod bank;
mod dsp;
mod kit;
mod program;
pub mod sf2;
mod timbre;

pub use bank::default_font;
