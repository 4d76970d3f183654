//! Exchanges music with other programs: Standard MIDI Files out and in, and the text listing.
//!
//! In: a song and a route, or the bytes of a file. Out: bytes, a song, a raw performance, or text.
//! [`perform`](chaconne_engine::perform) decides what a song plays; this crate only writes it down. It
//! knows no disk, no clock and no port.
//!
//! * [`export`]: writes a route as a Standard MIDI File of format 1; [`export_track`]: one track of it.
//! * [`import`]: reads a Standard MIDI File of format 0 or 1 as a song.
//! * [`take`]: reads the same file as one performance, for the recorder.
//! * [`listing`]: writes one line for each event that plays.
//! * [`curves`], [`curve`]: write grooves, one line for each step.
//! * [`outline`], [`key_outline`]: write the chords or the written keys, the likely keys and the range of each part,
//!   section by section.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod comparison;
mod curves;
mod error;
mod export;
mod import;
mod listing;
mod outline;
mod pairs;
mod reader;
mod scale;
mod take;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod worked;

pub use comparison::differences;
pub use curves::{curve, curves};
pub use error::{ExportError, ImportError};
pub use export::{export, export_track};
pub use import::{Imported, import};
pub use listing::listing;
pub use outline::{compass_advice, key_outline, outline};
pub use take::{Take, TakeEvent, take};
