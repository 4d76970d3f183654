//! The figures for the view of ports and timing.

use chaconne_rig::{Snapshot, Spread};
use chaconne_tui::{Health, Lateness, PortFacts};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The most seconds that are kept.
const MOST: usize = 240;

/// The latest message of each second while the transport moves.
#[derive(Debug, Default)]
pub struct Seconds {
    all: Arc<[u64]>,
    /// When the second began that is not over, and its latest message, in nanoseconds.
    open: Option<(Instant, u64)>,
}

impl Seconds {
    /// Takes the latest message since the last call. While nothing `moves`, no second passes.
    pub fn look(&mut self, worst: u64, moves: bool, now: Instant) {
        if !moves {
            self.open = None;
            return;
        }
        let (began, sofar) = self.open.unwrap_or((now, 0));
        if now.duration_since(began) < Duration::from_secs(1) {
            self.open = Some((began, sofar.max(worst)));
            return;
        }
        let keep = self.all.len().saturating_sub(MOST - 1);
        self.all = self.all[keep..].iter().copied().chain([sofar.max(worst)]).collect();
        self.open = Some((now, 0));
    }

    /// Those that are over, the oldest first.
    pub fn all(&self) -> Arc<[u64]> {
        self.all.clone()
    }
}

/// The figures as the screen takes them.
pub fn health(snapshot: &Snapshot, ports: Vec<PortFacts>, seconds: Arc<[u64]>) -> Health {
    let stats = &snapshot.stats;
    let counted = Duration::from_secs(snapshot.counted.max(0) as u64 / 1_000_000_000);
    let priority = match stats.urgency.priority {
        0 if stats.urgency.asked => "no real-time priority".to_string(),
        0 => String::new(),
        priority => format!("real-time priority {priority}"),
    };
    Health {
        ports,
        notes: lateness(&stats.notes),
        pulses: lateness(&stats.pulses),
        through: lateness(&stats.through),
        counted,
        seconds,
        priority,
    }
}

/// A spread as the screen takes it: nothing is earlier than punctual.
fn lateness(spread: &Spread) -> Lateness {
    let ns = |late: i64| late.max(0) as u64;
    let [p50_ns, p99_ns, worst_ns] = [spread.p50, spread.p99, spread.worst].map(ns);
    Lateness { count: spread.count, p50_ns, p99_ns, worst_ns, bins: spread.bins }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn screen_and_scheduler_have_the_same_bins() {
        let edges = chaconne_rig::EDGES.map(|edge| edge as u64);
        assert_eq!(edges, Lateness::LIMITS_NS);
    }

    #[test]
    fn the_worst_of_each_second_is_kept() {
        let (mut seconds, start) = (Seconds::default(), Instant::now());
        for (ms, worst) in [(0, 5), (400, 90), (999, 20), (1000, 30), (1500, 7), (2100, 1)] {
            seconds.look(worst, true, start + Duration::from_millis(ms));
        }
        assert_eq!(*seconds.all(), [90, 7]);
        // A stop ends the second, and nothing passes until the next start.
        seconds.look(0, false, start + Duration::from_millis(2200));
        seconds.look(3, true, start + Duration::from_secs(60));
        seconds.look(4, true, start + Duration::from_millis(60_900));
        assert_eq!(*seconds.all(), [90, 7]);
        for second in 61..400 {
            seconds.look(second, true, start + Duration::from_secs(second));
        }
        assert_eq!((seconds.all().len(), seconds.all().last()), (MOST, Some(&399)));
    }
}
