//! Feel: the grid to which a part is pulled when it is performed, and how far.

use crate::GrooveId;
use chaconne_time::{NoteValue, TICKS_PER_QUARTER, Tempo, Tick};
use std::fmt;

/// Where the second of a pair of grid steps starts within the pair, in hundredths of a percent:
/// 5000 (straight) to 7500 (dotted); 6667 is two to one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Swing(u16);

/// Why a feel setting was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum FeelError {
    /// Swing outside 50 to 75 percent, or with more than two decimals.
    #[error("swing {0} is outside 50 to 75 percent")]
    Swing(String),
}

impl Swing {
    /// Straight: 50 %.
    pub const STRAIGHT: Swing = Swing(5000);

    /// A swing in hundredths of a percent, 5000..=7500.
    pub fn from_hundredths(hundredths: u16) -> Result<Swing, FeelError> {
        if !(5000..=7500).contains(&hundredths) {
            return Err(FeelError::Swing(Swing(hundredths).to_string()));
        }
        Ok(Swing(hundredths))
    }

    /// The swing in hundredths of a percent.
    pub fn hundredths(self) -> u16 {
        self.0
    }
}

impl fmt::Display for Swing {
    /// Writes percent with up to two decimals.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{}.{:02}", self.0 / 100, self.0 % 100);
        f.write_str(text.trim_end_matches('0').trim_end_matches('.'))
    }
}

impl std::str::FromStr for Swing {
    type Err = FeelError;
    /// Reads percent with up to two decimals.
    fn from_str(text: &str) -> Result<Swing, FeelError> {
        let wrong = || FeelError::Swing(format!("'{text}'"));
        let (whole, part) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
        // A sign takes the place of a digit, so what is left of the number is out of range.
        if whole.len() != 2 || part.len() > 2 {
            return Err(wrong());
        }
        let hundredths = format!("{whole}{part:0<2}").parse().map_err(|_| wrong())?;
        Swing::from_hundredths(hundredths).map_err(|_| wrong())
    }
}

/// A groove that is given to a part, and how much of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct GivenGroove {
    /// The groove.
    pub groove: GrooveId,
    /// How much of its timing, 0..=[`GivenGroove::MOST`] percent.
    pub timing: u8,
    /// How much of its loudness, 0..=[`GivenGroove::MOST`] percent.
    pub loudness: u8,
}

impl GivenGroove {
    /// The highest percentage: twice as far as was played.
    pub const MOST: u8 = 200;

    /// The whole groove: 100 % of its timing and loudness.
    pub fn whole(groove: GrooveId) -> GivenGroove {
        GivenGroove { groove, timing: 100, loudness: 100 }
    }
}

/// Human variation: small deviations that go on from note to note, as a player's do. The same song always
/// has the same ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Human {
    /// How much in time, 0..=100 percent; 0 for none.
    pub timing: u8,
    /// How much in loudness, 0..=100 percent; 0 for none.
    pub loudness: u8,
    /// Which of many variations it is, 0..=[`Human::LAST_SEED`].
    pub seed: u16,
}

impl Human {
    /// No variation.
    pub const NONE: Human = Human { timing: 0, loudness: 0, seed: 0 };
    /// The highest seed.
    pub const LAST_SEED: u16 = 9999;

    /// Whether it changes anything.
    pub fn is_on(&self) -> bool {
        self.timing > 0 || self.loudness > 0
    }
}

/// How a part is corrected when it is performed. The notes as played never change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Feel {
    /// The grid; `None` performs the part as played.
    pub grid: Option<NoteValue>,
    /// How far notes move towards the grid, 0..=100 percent.
    pub pull: u8,
    /// Where every second grid step starts.
    pub swing: Swing,
    /// How near to the grid a note must be to be moved, 0..=100 percent of half a step;
    /// 100 moves every note.
    pub reach: u8,
    /// Whether strokes of one drum less than 50 ms apart move together and keep their spacing.
    pub rolls: bool,
    /// The timing and loudness of another performance, applied after the grid.
    pub groove: Option<GivenGroove>,
    /// Human variation, applied last.
    pub human: Human,
}

/// Strokes of one drum closer than this are a roll, in nanoseconds (common practice; no source: the strokes of
/// flams and drags are 10 to 50 ms apart).
pub const ROLL_NANOS: u64 = 50_000_000;

/// Whether two strokes of one drum are a roll: so many ticks apart, at the tempo of the first.
pub fn is_roll(apart: Tick, tempo: Tempo) -> bool {
    let most = (ROLL_NANOS / 1000) as i64 * TICKS_PER_QUARTER;
    apart.0.saturating_mul(i64::from(tempo.micros())) < most
}

impl Feel {
    /// A feel that performs the part as played. Pass true for `rolls` on drum tracks.
    pub fn off(rolls: bool) -> Feel {
        let (groove, human) = (None, Human::NONE);
        Feel { grid: None, pull: 100, swing: Swing::STRAIGHT, reach: 100, rolls, groove, human }
    }

    /// Whether it changes where or how loud anything sounds.
    pub fn is_on(&self) -> bool {
        self.grid.is_some() || self.groove.is_some() || self.human.is_on()
    }

    /// The same feel on another grid.
    pub fn on(self, grid: NoteValue) -> Feel {
        Feel { grid: Some(grid), ..self }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn swing_reads_and_writes_percent() {
        for (text, hundredths) in [("50", 5000), ("66.67", 6667), ("62.5", 6250), ("75", 7500)] {
            let swing: Swing = text.parse().unwrap();
            assert_eq!(swing.hundredths(), hundredths);
            assert_eq!(swing.to_string(), text);
        }
        for text in
            ["49.99", "75.01", "8", "050", "05.000", "66.667", "+5.5", "50.+1", "5.é", "swung", ""]
        {
            assert!(text.parse::<Swing>().is_err(), "{text}");
        }
    }

    #[test]
    fn a_feel_on_another_grid_keeps_the_rest() {
        let feel = Feel { pull: 70, ..Feel::off(true) };
        let gridded = feel.on(NoteValue::SIXTEENTH);
        assert_eq!(gridded, Feel { grid: Some(NoteValue::SIXTEENTH), pull: 70, ..Feel::off(true) });
    }
}
