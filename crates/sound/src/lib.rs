//! The built-in instrument: everything between MIDI bytes and samples.
//!
//! In: whole MIDI messages, strikes of the click, levels. Out: samples, and what the meters show.
//! But for [`Live`], which opens a device, there is no device or clock here, and but for the bounce
//! nothing allocates, locks, waits or has threads once it is made: the callback of a device may own
//! it, and a file is rendered by the same code.
//!
//! * [`Font`]: the sounds, read from a SoundFont 2 file; a broken one is refused.
//! * [`Instrument`]: sixteen MIDI channels that play a font.
//! * [`Click`]: the metronome's own sound.
//! * [`Mix`] and [`Desk`]: both together, their levels, the limiter and the meters.
//! * [`bounce`]: timed messages as files of sound, stems among them.
//! * [`Live`]: a device that plays a mix, and [`Line`]s to it for the scheduler.
//!
//! Samples are `f32`, full scale is 1.0, and left and right are separate slices of one length.

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
pub use live::{Line, Live, LiveError, OnEnd};
pub use mix::{CEILING_DB, CLICK_DB, DEFAULT_DB, Decibels, Desk, FLOOR_DB, Limiter, Meters, Mix};

#[cfg(test)]
#[global_allocator]
static ALLOCATOR: chaconne_counting::Counting = chaconne_counting::Counting;
