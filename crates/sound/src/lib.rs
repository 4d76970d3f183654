//! The built-in instrument: everything between MIDI bytes and samples.
//!
//! In: whole MIDI messages, clicks, levels. Out: samples and meter readings. Only [`Live`] opens a
//! device, and nothing here reads a clock. Once created, nothing except the bounce allocates, locks,
//! waits or starts threads, so a device's callback can own it, and the same code renders files.
//!
//! * [`Font`]: the sounds, read from a SoundFont 2 file; it refuses broken files.
//! * [`Instrument`]: sixteen MIDI channels that play a font.
//! * [`Click`]: the metronome's own sound.
//! * [`Mix`] and [`Desk`]: instrument and click together, their levels, the limiter and the meters.
//! * [`bounce`]: timed messages as WAV files, a mix and its stems.
//! * [`Live`]: a device that plays a mix, and [`SoundLine`]s to it for the scheduler.
//!
//! Samples are `f32`, full scale is 1.0, and left and right are separate slices of one length.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

pub mod bounce;
mod click;
mod error;
mod font;
mod instrument;
mod live;
mod mix;

pub use click::Click;
pub use error::SoundError;
pub use font::{Font, MAX_FONT_BYTES};
pub use instrument::{DELAY, Instrument, POLYPHONY, RATES};
pub use live::{Live, LiveError, OnEnd, SoundLine};
pub use mix::{CEILING_DB, CLICK_DB, DEFAULT_DB, Decibels, Desk, FLOOR_DB, Limiter, Meters, Mix};

#[cfg(test)]
#[global_allocator]
static ALLOCATOR: chaconne_counting::Counting = chaconne_counting::Counting;
