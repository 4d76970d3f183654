//! How late repeated events were, and medians of several rounds.

use chaconne_rig::Spread;

/// Lateness of one round, in nanoseconds.
#[derive(Debug, Clone, Copy, Default)]
pub struct Lates {
    pub p50: i64,
    pub p99: i64,
    pub worst: i64,
}

impl Lates {
    /// From the lateness of each event.
    pub fn of(mut lates: Vec<i64>) -> Lates {
        lates.sort_unstable();
        let at = |percent: usize| {
            let rank = (lates.len() * percent).div_ceil(100).max(1);
            lates.get(rank - 1).copied().unwrap_or_default()
        };
        Lates { p50: at(50), p99: at(99), worst: at(100) }
    }

    /// From pairs: when an event was due, and when it happened. Counts like `cyclictest`, for which an
    /// event that fell due while the one before it was held up is not a wake-up.
    pub fn of_wakes(wakes: impl IntoIterator<Item = (i64, i64)>) -> Lates {
        let mut last = i64::MIN;
        let late = |(due, at): (i64, i64)| {
            let is_own = due >= last;
            last = at;
            is_own.then_some(at - due)
        };
        Lates::of(wakes.into_iter().filter_map(late).collect())
    }

    /// The median of several rounds, for each figure separately.
    pub fn median(rounds: &[Lates]) -> Lates {
        let middle = |figure: fn(&Lates) -> i64| {
            let mut all: Vec<i64> = rounds.iter().map(figure).collect();
            all.sort_unstable();
            all.get(all.len() / 2).copied().unwrap_or_default()
        };
        Lates {
            p50: middle(|lates| lates.p50),
            p99: middle(|lates| lates.p99),
            worst: middle(|lates| lates.worst),
        }
    }
}

impl From<Spread> for Lates {
    fn from(spread: Spread) -> Lates {
        Lates { p50: spread.p50, p99: spread.p99, worst: spread.worst }
    }
}

impl std::fmt::Display for Lates {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let us = |ns: i64| ns as f64 / 1000.0;
        let Lates { p50, p99, worst } = *self;
        write!(f, "p50 {:.1} µs, p99 {:.1} µs, worst {:.0} µs", us(p50), us(p99), us(worst))
    }
}
