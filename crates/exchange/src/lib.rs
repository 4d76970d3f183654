//! Handing music on: Standard MIDI Files out and in, and the text listing.
//!
//! In: a song and a route, or the bytes of a file. Out: bytes, a song, a raw performance, or
//! text. What a song plays is [`perform`](chaconne_engine::perform)'s to say; this crate only
//! writes it down. It knows no disk, no clock and no port.
//!
//! * [`export`]: a Standard MIDI File, format 1, of a route.
//! * [`import`]: a Standard MIDI File, format 0 or 1, as a song.
//! * [`take`]: the same file as one performance, for the recorder.
//! * [`listing`]: one line for each thing that is played.

mod error;
mod export;
mod import;
mod listing;
mod pairs;
mod reader;
mod scale;
mod take;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod worked;

pub use error::{ExportError, ImportError};
pub use export::export;
pub use import::{Imported, import};
pub use listing::listing;
pub use take::{Take, TakeEvent, take};
