//! How positions are written: in a song as bar.beat.tick, in an edit in ticks, so that the edit can
//! be read without its song.

use super::length;
use super::line::quoted;
use chaconne_time::{MetreMap, Tick};

/// The unit of positions and pass lengths.
#[derive(Debug, Clone, Copy)]
pub(super) enum Scale<'m> {
    /// Bars, beats and ticks of a section.
    Bars(&'m MetreMap),
    /// Ticks.
    Ticks,
}

impl Scale<'_> {
    /// The text of a position.
    pub(super) fn at(self, at: Tick) -> String {
        match self {
            Scale::Bars(metre) => quoted(&metre.place(at).to_string()),
            Scale::Ticks => at.0.to_string(),
        }
    }

    /// The text of a pass's length.
    pub(super) fn length(self, length: Tick) -> String {
        match self {
            Scale::Bars(metre) => quoted(&length::words(metre, length)),
            Scale::Ticks => length.0.to_string(),
        }
    }
}
