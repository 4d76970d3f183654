//! The settings of a feel: their names, what they do, and their values one step on.

use crate::action::Side;
use chaconne_song::{Feel, GivenGroove, Human, Swing};
use chaconne_time::{NoteKind, NoteValue};

/// A setting of the feel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeelField {
    /// Whether a layer has a feel of its own.
    Whose,
    /// The grid, or none: as played.
    Grid,
    /// How far notes go to the grid.
    Pull,
    /// How near they must be.
    Reach,
    /// Where every second grid step starts.
    Swing,
    /// Whether rolls keep together.
    Rolls,
    /// The groove it is given, or none.
    Groove,
    /// How much of the groove's timing.
    Timing,
    /// How much of the groove's loudness.
    Loudness,
    /// How much human variation in time.
    Human,
    /// How much human variation in loudness.
    Dynamics,
    /// Which variation.
    Seed,
}

impl FeelField {
    /// All of them, in the order on the screen: first those of quantise, then those of groove and variation.
    pub(super) const ALL: [FeelField; 12] = [
        FeelField::Whose,
        FeelField::Grid,
        FeelField::Pull,
        FeelField::Reach,
        FeelField::Swing,
        FeelField::Rolls,
        FeelField::Groove,
        FeelField::Timing,
        FeelField::Loudness,
        FeelField::Human,
        FeelField::Dynamics,
        FeelField::Seed,
    ];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            FeelField::Whose => "feel",
            FeelField::Grid => "grid",
            FeelField::Pull => "pull",
            FeelField::Reach => "reach",
            FeelField::Swing => "swing",
            FeelField::Rolls => "rolls",
            FeelField::Groove => "groove",
            FeelField::Timing => "timing",
            FeelField::Loudness => "loudness",
            FeelField::Human => "human",
            FeelField::Dynamics => "dynamics",
            FeelField::Seed => "seed",
        }
    }

    /// What it does, in one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            FeelField::Whose => "Whether the layer has a feel of its own.",
            FeelField::Grid => "Notes move to this grid. It can be typed: 1/8, 1/8t, 1/8d.",
            FeelField::Pull => "How far notes move to the grid: 100 % is all the way.",
            FeelField::Reach => "How near notes must be to move: 100 % moves them all.",
            FeelField::Swing => "Delays every second step: 50 % is even, 67 % is triplets.",
            FeelField::Rolls => "Flams and rolls move as one.",
            FeelField::Groove => "The timing and loudness of a performance. Its name can be typed.",
            FeelField::Timing => "How much of the groove's timing: 100 % is as it was played.",
            FeelField::Loudness => "How much of the groove's loudness: 100 % is as it was played.",
            FeelField::Human => "Varies the timing as a player does: 100 % is about 20 ms.",
            FeelField::Dynamics => "Varies the loudness as a player does: 100 % is about a tenth.",
            FeelField::Seed => "Every number is another variation, and always the same one.",
        }
    }

    /// Whether it is one of groove and variation, which have a column of their own.
    pub fn is_of_groove(self) -> bool {
        use FeelField as F;
        matches!(self, F::Groove | F::Timing | F::Loudness | F::Human | F::Dynamics | F::Seed)
    }

    /// What it needs in order to do something, if a feel does not have that.
    pub fn idle(self, feel: &Feel) -> Option<&'static str> {
        match self {
            FeelField::Pull | FeelField::Reach | FeelField::Swing if feel.grid.is_none() => {
                Some("No effect as played: choose a grid first.")
            }
            FeelField::Rolls if !feel.is_on() => {
                Some("No effect as played: choose a grid or a groove first.")
            }
            FeelField::Timing | FeelField::Loudness if feel.groove.is_none() => {
                Some("No effect without a groove: choose one first.")
            }
            FeelField::Seed if !feel.human.is_on() => {
                Some("No effect without variation: raise human or dynamics first.")
            }
            _ => None,
        }
    }

    /// A feel in which it is one step further; the same feel at the end of its range. What is not in the feel
    /// alone, whose it is and the groove, stays.
    pub(super) fn stepped(self, feel: Feel, side: Side) -> Feel {
        let percent = |value: u8| percent(value, side, 100);
        let human = feel.human;
        match self {
            FeelField::Whose | FeelField::Groove | FeelField::Timing | FeelField::Loudness => feel,
            FeelField::Grid => Feel { grid: beside(feel.grid, side), ..feel },
            FeelField::Pull => Feel { pull: percent(feel.pull), ..feel },
            FeelField::Reach => Feel { reach: percent(feel.reach), ..feel },
            FeelField::Swing => Feel { swing: swung(feel.swing, side), ..feel },
            FeelField::Rolls => Feel { rolls: side == Side::Right, ..feel },
            FeelField::Human => {
                Feel { human: Human { timing: percent(human.timing), ..human }, ..feel }
            }
            FeelField::Dynamics => {
                Feel { human: Human { loudness: percent(human.loudness), ..human }, ..feel }
            }
            FeelField::Seed => {
                let seed = match side {
                    Side::Left => human.seed.saturating_sub(1),
                    Side::Right => (human.seed + 1).min(Human::LAST_SEED),
                };
                Feel { human: Human { seed, ..human }, ..feel }
            }
        }
    }

    /// The highest value of a percentage or number.
    pub fn highest(self) -> u16 {
        match self {
            FeelField::Timing | FeelField::Loudness => GivenGroove::MOST.into(),
            FeelField::Seed => Human::LAST_SEED,
            _ => 100,
        }
    }
}

/// How much one press changes a percentage.
const STEP: u8 = 5;
/// The same for swing, in hundredths of a percent.
const SWING_STEP: u16 = 100;

/// A percentage one step away, from 0 to the highest.
pub(super) fn percent(value: u8, side: Side, highest: u8) -> u8 {
    match side {
        Side::Left => value.saturating_sub(STEP),
        Side::Right => value.saturating_add(STEP).min(highest),
    }
}

/// The next grid, or the one before. Playing as played comes before them all.
fn beside(grid: Option<NoteValue>, side: Side) -> Option<NoteValue> {
    let at = grid.and_then(|grid| NoteValue::grids().position(|known| known == grid));
    let last = NoteValue::grids().count() - 1;
    let next = match (side, at) {
        (Side::Left, at) => at?.checked_sub(1)?,
        (Side::Right, None) => 0,
        (Side::Right, Some(at)) => (at + 1).min(last),
    };
    NoteValue::grids().nth(next)
}

/// A swing one step away, as far as swing goes. A step leads to a whole percent.
fn swung(swing: Swing, side: Side) -> Swing {
    let now = swing.hundredths();
    let next = match side {
        Side::Left => (now - 1) / SWING_STEP * SWING_STEP,
        Side::Right => (now / SWING_STEP + 1) * SWING_STEP,
    };
    Swing::from_hundredths(next).unwrap_or(swing)
}

/// What swing delays, and what stays: eighths do not swing on a grid of sixteenths.
pub(super) fn swing_sentence(grid: NoteValue) -> String {
    let straight = grid.kind() == NoteKind::Straight;
    let coarser = grid.division().checked_div(2).filter(|&division| straight && division > 1);
    match coarser {
        Some(coarser) => {
            format!("Delays every second {grid}; 1/{coarser} notes stay where they are.")
        }
        None => format!("Delays every second {grid}: 50 % is even."),
    }
}
