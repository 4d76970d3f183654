//! How positions are written: in a song by bar, beat and tick, in an edit in plain ticks, so that
//! it can be read without its song.

use super::length;
use super::line::quoted;
use chaconne_time::{MetreMap, Tick};

/// What positions are counted by.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scale<'m> {
    /// Bars, beats and ticks of a section.
    Bars(&'m MetreMap),
    /// Ticks.
    Ticks,
}

impl Scale<'_> {
    /// A position.
    pub(super) fn at(self, at: Tick) -> String {
        match self {
            Scale::Bars(metre) => quoted(&metre.place(at).to_string()),
            Scale::Ticks => at.0.to_string(),
        }
    }

    /// The length of a pass.
    pub(super) fn length(self, length: Tick) -> String {
        match self {
            Scale::Bars(metre) => quoted(&length::words(metre, length)),
            Scale::Ticks => length.0.to_string(),
        }
    }
}
