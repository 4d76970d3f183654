//! Leading the time by hand: what a beat that is given stands for, and how long the next will last.
//!
//! In: the moments at which beats were given. Out: how long a quarter lasts from there on. The estimate keeps a
//! level and a trend (an alpha-beta filter), so that it follows a ritardando without lagging behind, and an uneven
//! hand moves it by only part of its unevenness.

use chaconne_song::U7;
use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick};

/// What each beat given by hand stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum HandStep {
    /// A quarter of a bar, whatever the metre.
    QuarterBar,
    /// A beat, as the click counts it.
    #[default]
    Beat,
    /// A bar.
    Bar,
}

/// How the time is led by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct ByHand {
    /// What each beat given stands for.
    pub step: HandStep,
    /// Whether the music is as loud as the beats are struck.
    pub loudness: bool,
}

/// A velocity at which beats are struck that leaves the music as loud as it is: mezzo-forte, as many devices and
/// files have it (common practice; no source).
const USUAL: i64 = 80;

/// The velocity of a note under a beat that was struck this hard.
pub(crate) fn as_loud_as(velocity: U7, struck: U7) -> U7 {
    let scaled = (i64::from(velocity.get()) * i64::from(struck.get()) * 2 + USUAL) / (2 * USUAL);
    U7::low_bits(scaled.clamp(1, 127) as u8)
}

/// How much of a difference between what was expected and what came changes the level, in tenths.
const LEVEL: i64 = 5;
/// The same for the trend.
const TREND: i64 = 1;
/// A beat that comes this many times later than expected was held, and says nothing about the tempo.
const HELD: i64 = 2;

/// How long a quarter lasts by the beats given so far, in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Pace {
    level: Ns,
    trend: Ns,
}

impl Pace {
    /// A steady pace at a tempo.
    pub fn steady(tempo: Tempo) -> Pace {
        Pace { level: Ns::from(tempo.micros()) * 1000, trend: 0 }
    }

    /// Takes a beat that came so long after the one before it, so many ticks on.
    pub fn take(&mut self, after: Ns, ticks: Tick) {
        let quarter = after.saturating_mul(TICKS_PER_QUARTER) / ticks.0.max(1);
        let expected = self.quarter();
        if quarter > expected * HELD || quarter * HELD < expected {
            // A held beat, or one too many; from there on the pace is steady.
            self.trend = 0;
            return;
        }
        let off = quarter - expected;
        self.trend += off * TREND / 10;
        self.level = clamp(expected + off * LEVEL / 10);
    }

    /// How long the next quarter is expected to last, in nanoseconds.
    pub fn quarter(&self) -> Ns {
        clamp(self.level + self.trend)
    }
}

/// A quarter's length that is a tempo.
fn clamp(quarter: Ns) -> Ns {
    let [fastest, slowest] =
        [Tempo::FASTEST, Tempo::SLOWEST].map(|tempo| Ns::from(tempo.micros()) * 1000);
    quarter.clamp(fastest, slowest)
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Ns = 1_000_000;
    const BEAT: Tick = Tick(960);

    fn pace() -> Pace {
        Pace::steady(Tempo::parse_bpm("120").unwrap())
    }

    #[test]
    fn an_even_hand_keeps_the_tempo_whatever_its_beats_stand_for() {
        let mut pace = pace();
        for (after, ticks) in [(500, 960), (1500, 2880), (250, 480), (2000, 3840)] {
            pace.take(after * MS, Tick(ticks));
            assert_eq!(pace.quarter(), 500 * MS);
        }
    }

    /// A ritardando: each beat 3 % longer than the one before. A pace that only averaged would lag by more
    /// than the growth of a beat.
    #[test]
    fn a_ritardando_is_followed_without_lagging_behind() {
        let mut pace = pace();
        let mut beat = 500 * MS;
        for count in 0..16 {
            beat = beat * 103 / 100;
            let off = (pace.quarter() - beat).abs();
            if count > 8 {
                assert!(off * 1000 < beat * 25, "beat {count}: {off} of {beat}");
            }
            pace.take(beat, BEAT);
        }
    }

    #[test]
    fn a_held_beat_and_one_too_many_leave_the_tempo_as_it_was() {
        let mut pace = pace();
        pace.take(4000 * MS, BEAT);
        pace.take(120 * MS, BEAT);
        assert_eq!(pace.quarter(), 500 * MS);
    }

    #[test]
    fn the_music_is_as_loud_as_the_beats_are_struck() {
        let loud =
            |(velocity, struck)| as_loud_as(U7::low_bits(velocity), U7::low_bits(struck)).get();
        assert_eq!([(64, 80), (64, 40), (100, 127), (2, 1)].map(loud), [64, 32, 127, 1]);
    }
}
