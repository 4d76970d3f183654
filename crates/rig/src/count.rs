//! Which round is being played, counted along the route.
//!
//! In: one status after another. Out: the start of each round, once. A status that comes late
//! skips the rounds it missed, and the count stays right.

use chaconne_engine::{Route, Status, Transport};
use chaconne_song::{Letter, Song};
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
    /// Rounds and bars before the stay that is seen first.
    before: (u64, u64),
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
    /// The tick at which a bar of a route begins, counted along it from 1, and the count for who
    /// begins there. Of a loop without an end it is a bar of the first time round.
    ///
    /// # Errors
    /// Where the route has no such bar: how many it has.
    pub fn from_bar(song: &Song, route: &Route, bar: u64) -> Result<(Tick, RoundCount), String> {
        let (mut rounds, mut bars) = (0, 0);
        for entry in &route.entries {
            let Some(section) = song.section(entry.section) else { break };
            let times = match entry.until {
                Tick::MAX => 1,
                until => ((until - entry.at).0 / section.length().0.max(1)) as u64,
            };
            let own = times * u64::from(section.metre.bars());
            if bars < bar && bar <= bars + own {
                let at = entry.at + section.metre.bar_start((bar - bars) as i64);
                return Ok((at, RoundCount { stay: None, before: (rounds, bars) }));
            }
            (rounds, bars) = (rounds + times, bars + own);
        }
        Err(format!("there is no bar {bar}: it is 1 to {bars}"))
    }

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
            Some(_) => (0, 0),
            None => self.before,
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

    #[test]
    fn a_bar_is_found_along_a_route_and_counted_from_there() {
        let song = song_of("form", &[("A", 2), ("B", 1)]);
        let letters: Vec<Letter> =
            "AABBA".chars().map(|c| c.to_string().parse().unwrap()).collect();
        let route = Route::of(&song, &letters).unwrap();
        let from = |bar| RoundCount::from_bar(&song, &route, bar);
        for bar in 1..=8 {
            assert_eq!(from(bar).unwrap().0, Tick(3840 * (bar as i64 - 1)));
        }
        for bar in [0, 9] {
            let error = from(bar).unwrap_err();
            assert_eq!(error, format!("there is no bar {bar}: it is 1 to 8"));
        }
        let open = Route::open(Letter::A);
        assert!(RoundCount::from_bar(&song, &open, 2).is_ok());
        assert!(RoundCount::from_bar(&song, &open, 3).is_err());
        // Bar 6 is the second round of B, the fourth of all.
        let (at, mut count) = from(6).unwrap();
        let config = Config { lead: 0, ..Config::default() };
        let mut engine = Engine::new(Arc::new(song.clone()), config);
        engine.command(0, Command::PlayFrom(route.clone(), at)).unwrap();
        let mut told = Vec::new();
        for second in [0, 1, 2, 3] {
            let now = second * 1_000_000_000 + 1;
            engine.poll(now);
            told.extend(
                count
                    .follow(&engine.status(now))
                    .map(|start| (start.number, start.section.to_string(), start.bar)),
            );
        }
        let expected = [(4, "B", 6), (5, "A", 7)];
        assert_eq!(told, expected.map(|(n, s, b)| (n, s.to_string(), b)));
    }
}
