//! Grooves: the timing and the loudness of a performance, step by step over a bar or several.
//!
//! A groove is data: what was taken from a performance, or typed into the song's text. The engine takes
//! it, and applies it to the parts that it is given to.

use crate::{GivenGroove, GrooveId, Pass, Song, Track};
use chaconne_time::{NoteValue, Tick};
use std::collections::BTreeMap;

/// Where the strokes of a performance lie against the grid, and how loud they are.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Groove {
    /// Its id, which never changes.
    pub id: GrooveId,
    /// What musicians call it.
    pub name: String,
    /// The distance of its steps. They count from the start of each bar.
    pub grid: NoteValue,
    /// After how many bars it repeats, 1..=[`Groove::MAX_BARS`].
    pub bars: u32,
    /// The steps on which something was played.
    pub steps: BTreeMap<StepAt, Lean>,
}

impl Groove {
    /// The most bars that a groove can have.
    pub const MAX_BARS: u32 = 16;
    /// The highest number of a step: a bar of 64 whole notes has as many 1/64 triplets.
    pub const LAST_STEP: u32 = 6144;
    /// The highest loudness of a step, in percent.
    pub const LOUDEST: u16 = 1000;

    /// How far a step can lie from the grid: half the distance of two steps.
    pub fn furthest(&self) -> Tick {
        Tick(self.grid.ticks().0 / 2)
    }
}

/// A track or a layer that a groove is given to.
#[derive(Debug, Clone, Copy)]
pub struct GivenTo<'s> {
    /// The track, or that of the layer.
    pub track: &'s Track,
    /// The layer's pass.
    pub pass: Option<&'s Pass>,
    /// How much of the groove it is given.
    pub given: GivenGroove,
}

impl Song {
    /// What a groove is given to: tracks in the order of the song, then layers.
    pub fn given(&self, groove: GrooveId) -> impl Iterator<Item = GivenTo<'_>> {
        let of_tracks = self.tracks.iter().filter_map(|track| {
            let given = track.feel.groove?;
            Some(GivenTo { track, pass: None, given })
        });
        let of_layers = self.passes.values().filter_map(|pass| {
            let given = pass.feel.as_ref()?.groove?;
            Some(GivenTo { track: self.track(pass.track)?, pass: Some(&**pass), given })
        });
        of_tracks.chain(of_layers).filter(move |to| to.given.groove == groove)
    }
}

/// The place of a step in a groove.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StepAt {
    /// The bar, from 1.
    pub bar: u32,
    /// The step of the bar, from 1.
    pub step: u32,
}

/// How what begins on a step leans: early or late, loud or soft.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Lean {
    /// How much later than the grid it is, in ticks; negative if it is earlier.
    pub timing: Tick,
    /// How much that varies in the performance: the median distance from `timing`, in ticks.
    pub timing_spread: Tick,
    /// How loud it is, in percent of the mean of the performance.
    pub loudness: u16,
    /// How much that varies in the performance: the median distance from `loudness`, in percent.
    pub loudness_spread: u16,
}

impl Default for Lean {
    /// On the grid, and as loud as the mean.
    fn default() -> Lean {
        let none = Tick::ZERO;
        Lean { timing: none, timing_spread: none, loudness: 100, loudness_spread: 0 }
    }
}
