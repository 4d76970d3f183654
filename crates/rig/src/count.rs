//! Counts the rounds along the route.
//!
//! In: one status after another. Out: the start of each round, once. The engine says where it is
//! on its route, so after a gap between two statuses the count is still right.

use chaconne_engine::{Route, Status, Walk};
use chaconne_song::{Letter, Song};
use chaconne_time::Tick;

/// The start of a round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RoundStart {
    /// The number of the round along the route, from 1.
    pub number: u64,
    /// The section.
    pub section: Letter,
    /// The bar it starts at, counted along the route from 1; in the first round, the bar where
    /// playing started.
    pub bar: u64,
}

/// Counts rounds.
#[derive(Debug, Clone, Copy, Default)]
pub struct RoundCount {
    last: Option<i64>,
}

impl RoundCount {
    /// Takes a status, and returns its round if that is a new one.
    pub fn follow(&mut self, status: &Status) -> Option<RoundStart> {
        let position = status.along.filter(|position| self.last != Some(position.round))?;
        let began = self.last.replace(position.round).is_none();
        let into = if began { 0 } else { i64::from(position.bar) - 1 };
        Some(RoundStart {
            number: position.round.max(1) as u64,
            section: position.section,
            bar: (position.place.bar - into).max(1) as u64,
        })
    }
}

/// The tick at which a bar of a route starts, counted along it from 1.
///
/// # Errors
/// If the route has no such bar; the error says which it has.
pub fn tick_of_bar(song: &Song, route: &Route, bar: u64) -> Result<Tick, String> {
    let counts = Walk::along(song, route).counts();
    let found = i64::try_from(bar).ok().and_then(|bar| counts.bar_start(bar));
    found.ok_or_else(|| format!("there is no bar {bar}; bars run from 1 to {}", counts.bars()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song_of;
    use chaconne_engine::{Command, Config, Engine};
    use chaconne_time::{Metre, MetreMap, Ns};
    use std::sync::Arc;

    const SECOND: Ns = 1_000_000_000;

    fn route(song: &Song, letters: &str) -> Route {
        let letters: Vec<Letter> =
            letters.chars().map(|letter| letter.to_string().parse().unwrap()).collect();
        Route::of(song, &letters).unwrap()
    }

    /// The rounds counted at these moments, with an engine that is polled a little behind the
    /// clock, as for inputs with latency.
    fn counted(
        song: &Song,
        command: Command,
        moments: impl IntoIterator<Item = Ns>,
    ) -> Vec<(u64, String, u64)> {
        const GRACE: Ns = 60_000_000;
        let config = Config { lead: 0, lookahead: 100_000_000 + GRACE, ..Config::default() };
        let mut engine = Engine::new(Arc::new(song.clone()), config);
        engine.command(0, command).unwrap();
        let mut count = RoundCount::default();
        let starts = moments.into_iter().filter_map(|now| {
            engine.poll((now - GRACE).max(0));
            count.follow(&engine.status(now))
        });
        starts.map(|start| (start.number, start.section.to_string(), start.bar)).collect()
    }

    fn said(starts: &[(u64, &str, u64)]) -> Vec<(u64, String, u64)> {
        starts.iter().map(|&(round, section, bar)| (round, section.to_string(), bar)).collect()
    }

    #[test]
    fn rounds_and_bars_are_counted_across_sections_even_if_some_are_missed() {
        // A of 2 bars and B of 1 bar, in 4/4 at 120: a bar is 2 seconds.
        let song = song_of("form", &[("A", 2), ("B", 1)]);
        let all = said(&[(1, "A", 1), (2, "A", 3), (3, "B", 5), (4, "B", 6), (5, "A", 7)]);
        let play = || Command::PlayRoute(route(&song, "AABBA"));
        let often = (0..1800).map(|k| k * SECOND / 100 + 1);
        assert_eq!(counted(&song, play(), often), all);
        // Statuses that are far apart miss rounds, and even a whole section.
        let seldom = [1, 5, 13].map(|second| second * SECOND);
        let some = [all[0].clone(), all[1].clone(), all[4].clone()];
        assert_eq!(counted(&song, play(), seldom), some);
    }

    #[test]
    fn rounds_are_counted_from_the_bar_where_playing_starts() {
        let song = song_of("form", &[("A", 2), ("B", 1)]);
        let form = route(&song, "AABBA");
        let often = || (0..1400).map(|k| k * SECOND / 100 + 1);
        let from = |bar| {
            let at = tick_of_bar(&song, &form, bar).unwrap();
            counted(&song, Command::PlayFrom(form.clone(), at), often().take(600))
        };
        assert_eq!(from(6), said(&[(4, "B", 6), (5, "A", 7)]));
        // Inside a round: its second bar.
        assert_eq!(from(4), said(&[(2, "A", 4), (3, "B", 5), (4, "B", 6)]));
    }

    #[test]
    fn a_start_that_is_moved_to_a_whole_sixteenth_is_reported_in_the_bar_where_it_plays() {
        // A bar of 5/32 is 600 ticks, two and a half sixteenths: the sixteenth before bar 2 is in
        // bar 1.
        let mut song = song_of("odd", &[("A", 4)]);
        let metre: Metre = "5/32".parse().unwrap();
        Arc::make_mut(&mut song.sections[0]).metre = MetreMap::new(4, metre).unwrap();
        let open = Route::open(Letter::A);
        let at = tick_of_bar(&song, &Route::of(&song, &[Letter::A]).unwrap(), 2).unwrap();
        assert_eq!(at, Tick(600));
        let starts = counted(&song, Command::PlayFrom(open, at), [1]);
        assert_eq!(starts, said(&[(1, "A", 1)]));
    }

    #[test]
    fn a_bar_is_found_along_a_route() {
        let song = song_of("form", &[("A", 2), ("B", 1)]);
        let form = route(&song, "AABBA");
        for bar in 1..=8 {
            assert_eq!(tick_of_bar(&song, &form, bar), Ok(Tick(3840 * (bar as i64 - 1))));
        }
        for bar in [0, 9, u64::MAX] {
            let error = tick_of_bar(&song, &form, bar).unwrap_err();
            assert_eq!(error, format!("there is no bar {bar}; bars run from 1 to 8"));
        }
    }
}
