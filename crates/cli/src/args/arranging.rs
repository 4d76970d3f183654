//! The arguments of `section` and `tempo`.

use super::WholeOp;
use super::values::{duration, milli_beats, percent, ramp_bars, section, whole};
use chaconne_song::Letter;
use chaconne_time::Ns;
use clap::{Args as Group, Subcommand};
use std::path::PathBuf;

/// Arguments of `section`.
#[derive(Debug, Group)]
pub struct Sections {
    /// The song file
    pub song: PathBuf,
    /// The operation
    #[command(subcommand)]
    pub op: Op,
}

/// The operations on sections.
#[derive(Debug, Subcommand)]
pub enum Op {
    #[command(flatten)]
    Whole(WholeOp),
    /// Split a section before a bar; the form plays both parts wherever it played the section
    #[command(after_help = "Example:\n  chaconne section waltz.ron split A --at 5\n\n\
        The bars from there on get the next free letter. Notes that sound across the cut ring on; \
        one longer than its new section gets a layer of its own, and a note just before the cut \
        that is meant for the bar after it goes there.")]
    Split {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// The first bar of the second part
        #[arg(long, value_name = "BAR", value_parser = whole::<u32>(1, 999))]
        at: u32,
    },
    /// Append a section to another one that it always follows in the form
    #[command(after_help = "Example:\n  chaconne section waltz.ron join A B")]
    Join {
        /// The section that gets longer
        #[arg(value_parser = section)]
        first: Letter,
        /// The section that is appended to it and removed
        #[arg(value_parser = section)]
        second: Letter,
    },
    /// Copy bars of a section to a new section; neither the section nor the form changes
    #[command(after_help = "Example:\n  chaconne section waltz.ron lift A --from 9 --bars 8")]
    Lift {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// The first bar to copy
        #[arg(long, value_name = "BAR", value_parser = whole::<u32>(1, 999))]
        from: u32,
        /// How many bars to copy
        #[arg(long, value_parser = whole::<u32>(1, 999))]
        bars: u32,
    },
    /// Set the number of bars: cut what comes after, or add bars
    #[command(after_help = "Example:\n  chaconne section waltz.ron bars A 6\n\n\
        In added bars short loops go on; layers as long as the section are silent there.")]
    Bars {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        /// The new number of bars
        #[arg(value_parser = whole::<u32>(1, 999))]
        bars: u32,
        #[command(flatten)]
        layers: LayersOf,
    },
    /// Make a section twice as long, with its content twice
    #[command(after_help = "Example:\n  chaconne section waltz.ron double A")]
    Double {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        layers: LayersOf,
    },
    /// Keep the first half of a section
    #[command(after_help = "Example:\n  chaconne section waltz.ron halve A --track Bass")]
    Halve {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        layers: LayersOf,
    },
    /// Play the same music over twice the bars, at the same tempo
    #[command(after_help = "Example:\n  chaconne section waltz.ron half-time A --track Drums")]
    HalfTime {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        layers: LayersOf,
    },
    /// Play the same music over half the bars, at the same tempo
    #[command(after_help = "Example:\n  chaconne section waltz.ron double-time A")]
    DoubleTime {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        layers: LayersOf,
    },
    /// Make layers that other sections share the section's own
    #[command(after_help = "Example:\n  chaconne section waltz.ron own B --track Bass\n\n\
        From then on a change to them is heard only there. Without --track all shared layers of the \
        section become its own.")]
    Own {
        /// The section
        #[arg(value_parser = section)]
        letter: Letter,
        #[command(flatten)]
        layers: LayersOf,
    },
}

/// Which layers of a section.
#[derive(Debug, Group)]
pub struct LayersOf {
    /// Change only the layers of this track, by name or number; the bars of the section stay
    #[arg(long)]
    pub track: Option<String>,
    /// Change only this layer of the track, counted from 1, the lowest
    #[arg(long, value_name = "N", requires = "track", value_parser = whole::<u32>(1, 1_000_000))]
    pub layer: Option<u32>,
}

/// Arguments of `tempo`.
#[derive(Debug, Group)]
pub struct TempoOf {
    /// The song file
    pub song: PathBuf,
    #[command(flatten)]
    pub how: HowFast,
    /// Change only this section; its tempo, or how long it lasts once through
    #[arg(long, value_parser = section)]
    pub section: Option<Letter>,
    /// With --bpm: from this bar of the section on
    #[arg(long, value_name = "BAR", requires = "bpm", conflicts_with = "ramp")]
    #[arg(value_parser = whole::<u32>(1, 999))]
    pub at: Option<u32>,
    /// With --bpm: reach that tempo evenly over these bars of the section, the last included
    #[arg(long, value_name = "FIRST-LAST", requires = "bpm", value_parser = ramp_bars)]
    pub ramp: Option<RampBars>,
}

/// How to change the tempo.
#[derive(Debug, Group)]
#[group(multiple = false)]
pub struct HowFast {
    /// The tempo in beats per minute as the section counts its beats, with up to three decimals
    #[arg(long, value_parser = milli_beats)]
    pub bpm: Option<u64>,
    /// Faster by so many percent, or slower if negative
    #[arg(long, allow_negative_numbers = true, value_parser = percent)]
    pub percent: Option<i64>,
    /// Make the form (or the section) last this long, in minutes and seconds, such as 3:20
    #[arg(long, value_name = "M:SS", value_parser = duration)]
    pub fit: Option<Ns>,
    /// Remove the ramp that this bar of the section is part of
    #[arg(long, value_name = "BAR", value_parser = whole::<u32>(1, 999))]
    pub no_ramp: Option<u32>,
}

/// The bars of a ramp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RampBars {
    /// The first.
    pub first: u32,
    /// The last, which is included.
    pub last: u32,
}
