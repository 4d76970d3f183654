//! What a mark stands for: from a single tick up to thousands of bars.

/// What a mark stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grain {
    /// So many ticks, at least 1; the last mark of a bar may be shorter.
    Ticks(i64),
    /// So many whole bars, at least 1.
    Bars(u32),
}

impl Grain {
    /// If marks stand for bars, every group of this many marks starts with a line.
    pub const GROUP: i64 = 4;

    /// In words, as in `1 mark = 1/16`.
    pub fn words(self) -> String {
        const WHOLE: i64 = 3840;
        match self {
            Grain::Ticks(1) => "1 tick".to_string(),
            Grain::Ticks(ticks) if WHOLE % ticks == 0 && ticks >= 15 => {
                format!("1/{}", WHOLE / ticks)
            }
            Grain::Ticks(ticks) => format!("{ticks} ticks"),
            Grain::Bars(1) => "1 bar".to_string(),
            Grain::Bars(bars) => format!("{bars} bars"),
        }
    }
}

/// The lengths in ticks, the finest first: from one tick to a half note.
const TICKS: [i64; 10] = [1, 5, 15, 30, 60, 120, 240, 480, 960, 1920];
/// How often a bar can be doubled: enough for more bars than any song has.
const DOUBLINGS: u8 = 24;

/// A step of the zoom, 0 the finest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Level(u8);

impl Level {
    /// One mark is a tick.
    pub const FINEST: Level = Level(0);
    /// One mark is a sixteenth.
    pub const SIXTEENTH: Level = Level(6);
    /// One mark is a quarter.
    pub const QUARTER: Level = Level(8);
    const COARSEST: Level = Level(TICKS.len() as u8 + DOUBLINGS);

    /// What a mark stands for.
    pub fn grain(self) -> Grain {
        match TICKS.get(usize::from(self.0)) {
            Some(&ticks) => Grain::Ticks(ticks),
            None => Grain::Bars(1 << (self.0 - TICKS.len() as u8).min(DOUBLINGS)),
        }
    }

    /// This many steps coarser, or finer if negative, at most to the ends.
    pub fn step(self, by: i8) -> Level {
        Level(self.0.saturating_add_signed(by)).min(Level::COARSEST)
    }

    /// How many steps this is coarser than another.
    pub fn steps_from(self, other: Level) -> i8 {
        // Both are small.
        self.0 as i8 - other.0 as i8
    }

    /// This and all coarser ones, up to another.
    pub fn up_to(self, last: Level) -> impl Iterator<Item = Level> {
        (self.0..=last.0).map(Level)
    }

    /// This and all coarser ones.
    pub fn and_up(self) -> impl Iterator<Item = Level> {
        self.up_to(Level::COARSEST)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grains_go_from_a_tick_to_many_bars() {
        let words: Vec<String> =
            Level::FINEST.and_up().take(13).map(|level| level.grain().words()).collect();
        let wanted = [
            "1 tick", "5 ticks", "1/256", "1/128", "1/64", "1/32", "1/16", "1/8", "1/4", "1/2",
            "1 bar", "2 bars", "4 bars",
        ];
        assert_eq!(words, wanted);
        assert_eq!(Level::SIXTEENTH.grain(), Grain::Ticks(240));
        assert_eq!(Level::QUARTER.grain(), Grain::Ticks(960));
    }

    #[test]
    fn steps_end_at_the_finest_and_the_coarsest() {
        assert_eq!(Level::SIXTEENTH.step(-100), Level::FINEST);
        assert_eq!(Level::SIXTEENTH.step(100), Level::COARSEST);
        let far = Level::SIXTEENTH.step(-4);
        assert_eq!(Level::SIXTEENTH.step(far.steps_from(Level::SIXTEENTH)), far);
    }
}
