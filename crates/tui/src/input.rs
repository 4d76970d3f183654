//! What comes from the terminal: keys, pastes and answers.
//!
//! In: bytes as the terminal sent them, split anywhere, and the time. Out: [`Input`]s. Nothing here
//! reads or waits; `terminal` does.

mod csi;
mod key;
mod parser;
mod strokes;

pub use key::{Code, Key, Kind};
pub use parser::{Input, Parser};
pub use strokes::{Again, Strokes};
