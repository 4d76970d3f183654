//! Musical time, in whole numbers only.
//!
//! In: tick counts, metres, tempi, nanoseconds. Out: exact conversions between them. There is no I/O
//! here, no thread, no clock, and no floating point for a position.
//!
//! * [`Tick`]: a signed position or length, 960 to the quarter note.
//! * [`Metre`], [`MetreMap`], [`Place`]: bars, beats and ticks.
//! * [`Tempo`], [`TempoMap`]: microseconds per quarter note, as in a Standard MIDI File.
//! * [`Timeline`]: ticks to nanoseconds and back, anchored at the last tempo change.
//! * [`NoteValue`]: the grids, from quarters to sixty-fourths.
//! * [`TimeCode`], [`FrameRate`]: SMPTE time.
//! * [`pulse`]: MIDI clock pulses, 24 to the quarter note.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod beats;
mod grid;
mod metre;
pub mod pulse;
mod smpte;
mod tempo;
mod tick;
mod timeline;
mod written;

pub use grid::{NoteKind, NoteValue};
pub use metre::{Metre, MetreChange, MetreMap, Place};
pub use smpte::{FrameRate, TimeCode};
pub use tempo::{Tempo, TempoMap, TempoPoint};
pub use tick::{Span, TICKS_PER_QUARTER, Tick};
pub use timeline::{Ns, Timeline};

/// What is wrong with a value of musical time, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TimeError {
    /// The metre is not `n/d` with n in 1..=64 and d a power of two up to 32.
    #[error("'{0}' is not a metre: write it as 4/4, with 1 to 64 beats over 1, 2, 4, 8, 16 or 32")]
    Metre(String),
    /// The groups do not add up to the number of beats in the bar.
    #[error("the groups add up to {sum}, but the bar has {count} beats")]
    Groups {
        /// The sum of the groups.
        sum: u32,
        /// The beats in the bar.
        count: u8,
    },
    /// The tempo is outside the range of [`Tempo`].
    #[error("tempo {0} is outside 10 to 1000 quarter notes per minute")]
    Tempo(String),
    /// The text is not a number with up to three decimals.
    #[error("'{0}' is not a tempo: use a number from 10 to 1000, with up to three decimals")]
    NotATempo(String),
    /// The note value is not a [`NoteValue`].
    #[error(
        "'{0}' is not a note value: use 1/1 to 1/64, alone or followed by 'triplet' or 'dotted'"
    )]
    NoteValue(String),
    /// The number of bars is outside 1..=999.
    #[error("{0} bars is outside 1 to 999")]
    Bars(u32),
    /// A metre or tempo change is at a position where there cannot be one.
    #[error("{0}")]
    Change(String),
    /// The place is not `bar.beat.tick`, or its bar does not have that beat or tick.
    #[error("place '{0}' is not bar.beat.tick within its bar")]
    Place(String),
    /// MIDI Time Code has no such rate.
    #[error("'{0}' is not a frame rate: use 24, 25, 29.97 or 30")]
    FrameRate(String),
    /// No frame of the day has these numbers.
    #[error("there is no time code {0} at {1} frames per second")]
    TimeCode(String, FrameRate),
}
