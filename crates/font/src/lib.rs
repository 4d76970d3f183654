//! The sounds that chaconne brings along: every General MIDI program and drum, made here.
//!
//! In: nothing. Out: the bytes of a SoundFont 2 file, the same on every machine. Nothing is sampled:
//! each sound is computed from sines, strings, noise and filters. Reading such files and playing
//! them is left to others.
//!
//! * [`default_font`]: the file.
//! * [`sf2`]: a model of such files and a writer, for any other sounds.

mod bank;
mod dsp;
mod kit;
mod program;
pub mod sf2;
mod timbre;

pub use bank::default_font;
