//! Choices that are typed as a word, with what each word means.

use chaconne_engine::{Mode, Rounds, View};
use chaconne_rig::Bits;
use clap::ValueEnum;

/// Which rounds to keep, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum KeepRounds {
    /// All: each round adds a layer
    All,
    /// The newest: each round with notes replaces the one before, which is muted
    Newest,
    /// The whole take as one long pass
    One,
}

impl From<KeepRounds> for Rounds {
    fn from(keep: KeepRounds) -> Rounds {
        match keep {
            KeepRounds::All => Rounds::All,
            KeepRounds::Newest => Rounds::Newest,
            KeepRounds::One => Rounds::One,
        }
    }
}

/// What a pass does to the layers under it, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LayMode {
    /// Add a layer
    Layer,
    /// Replace bar by bar: the first note in a bar silences the layers below to the end of that bar
    Replace,
    /// Punch: silence the layers below as long as the take lasts
    Punch,
}

impl From<LayMode> for Mode {
    fn from(mode: LayMode) -> Mode {
        match mode {
            LayMode::Layer => Mode::Layer,
            LayMode::Replace => Mode::Replace,
            LayMode::Punch => Mode::Punch,
        }
    }
}

/// Sample formats, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum BitsOfSample {
    /// 16-bit integers, as on a CD
    #[value(name = "16")]
    Sixteen,
    /// 24-bit integers
    #[value(name = "24")]
    TwentyFour,
    /// 32-bit floats
    #[value(name = "32f")]
    Float,
}

impl From<BitsOfSample> for Bits {
    fn from(bits: BitsOfSample) -> Bits {
        match bits {
            BitsOfSample::Sixteen => Bits::Sixteen,
            BitsOfSample::TwentyFour => Bits::TwentyFour,
            BitsOfSample::Float => Bits::Float,
        }
    }
}

/// Views, as typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ListView {
    /// As played, or as edited by hand
    Played,
    /// As heard, with feel applied
    Corrected,
    /// Straight on the grid, for print
    Straight,
}

impl From<ListView> for View {
    fn from(view: ListView) -> View {
        match view {
            ListView::Played => View::Played,
            ListView::Corrected => View::Corrected,
            ListView::Straight => View::Straight,
        }
    }
}
