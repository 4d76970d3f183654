//! Which round is being played, counted along the route.
//!
//! In: one status after another. Out: the start of each round, once. A status that comes late
//! skips the rounds it missed, and the count stays right.

use chaconne_engine::{Status, Transport};
use chaconne_song::Letter;
use chaconne_time::Tick;

/// A round that has begun.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RoundStart {
    /// Which round of the route it is, from 1.
    pub number: u64,
    /// The section.
    pub section: Letter,
    /// The bar it starts at, counted along the route from 1.
    pub bar: u64,
}

/// Counts rounds.
#[derive(Debug, Clone, Copy, Default)]
pub struct RoundCount {
    stay: Option<Stay>,
}

/// The stay in a section that was last seen.
#[derive(Debug, Clone, Copy)]
struct Stay {
    section: Letter,
    entered: Tick,
    length: Tick,
    bars: u64,
    /// Rounds and bars before it.
    rounds_before: u64,
    bars_before: u64,
    /// The round of the stay that was last told.
    told: u64,
}

impl RoundCount {
    /// Takes a status; the round it is in, where that is a new one.
    pub fn follow(&mut self, status: &Status) -> Option<RoundStart> {
        if status.transport != Transport::Rolling {
            return None;
        }
        let section = status.song.section(status.section)?;
        let length = section.length();
        let entered = status.at - status.in_section - length * status.round as i64;
        let same = self.stay.filter(|s| s.entered == entered && s.section == status.section);
        if same.is_some_and(|stay| stay.told == status.round) {
            return None;
        }
        let mut stay = same.unwrap_or_else(|| self.enter(status.section, entered));
        stay.length = length;
        stay.bars = u64::from(section.metre.bars());
        stay.told = status.round;
        self.stay = Some(stay);
        Some(RoundStart {
            number: stay.rounds_before + status.round + 1,
            section: status.section,
            bar: stay.bars_before + stay.bars * status.round + 1,
        })
    }

    /// A new stay, after all the rounds of the one before.
    fn enter(&self, section: Letter, entered: Tick) -> Stay {
        let (rounds_before, bars_before) = match self.stay {
            Some(last) if entered > last.entered => {
                let rounds = ((entered - last.entered).0 / last.length.0.max(1)) as u64;
                (last.rounds_before + rounds, last.bars_before + rounds * last.bars)
            }
            _ => (0, 0),
        };
        let (length, bars, told) = (Tick(1), 1, 0);
        Stay { section, entered, length, bars, rounds_before, bars_before, told }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song_of;
    use chaconne_engine::{Command, Config, Engine, Route};
    use std::sync::Arc;

    #[test]
    fn rounds_and_bars_are_counted_across_sections_even_if_some_are_missed() {
        // A of 2 bars and B of 1 bar, in 4/4 at 120: a bar is 2 seconds.
        let song = song_of("form", &[("A", 2), ("B", 1)]);
        let letters: Vec<Letter> =
            "AABBA".chars().map(|c| c.to_string().parse().unwrap()).collect();
        let route = Route::of(&song, &letters).unwrap();
        let mut engine = Engine::new(Arc::new(song), Config { lead: 0, ..Config::default() });
        engine.command(0, Command::PlayRoute(route)).unwrap();
        let mut told = Vec::new();
        let mut count = RoundCount::default();
        for second in [0, 1, 2, 3, 4, 5, 8, 9, 10, 11, 12, 13] {
            let now = second * 1_000_000_000 + 1;
            engine.poll(now);
            told.extend(
                count
                    .follow(&engine.status(now))
                    .map(|start| (start.number, start.section.to_string(), start.bar)),
            );
        }
        let expected = [(1, "A", 1), (2, "A", 3), (3, "B", 5), (4, "B", 6), (5, "A", 7)];
        assert_eq!(told, expected.map(|(n, s, b)| (n, s.to_string(), b)));
    }
}
