//! What the engine hears from the clock that it follows: pulses that were counted and smoothed before.

use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick, pulse};

/// What the transport does when the clock that it follows is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum OnLoss {
    /// It plays on at the last tempo.
    #[default]
    Keep,
    /// It stops.
    Stop,
}

/// A clock to follow.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Follow {
    /// The name of its input, for messages to the user.
    pub name: String,
    /// What to do when it is lost.
    pub on_loss: OnLoss,
}

/// The smoothed pulses as a line: one pulse, and how long a quarter lasts from there on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// The number of the pulse, 24 to the quarter, from 0 at bar one.
    pub pulse: i64,
    /// When it falls, in nanoseconds on the shared monotonic clock.
    pub ns: Ns,
    /// The length of a quarter in nanoseconds, more than 0.
    pub quarter: Ns,
    /// Whether the line is reliable; `false` while there are too few pulses to tell.
    pub locked: bool,
}

impl Line {
    /// When a transport tick falls on it.
    pub fn ns_at(&self, at: Tick) -> Ns {
        let ticks = i128::from((at - pulse::tick_of(self.pulse)).0);
        let after = (ticks * i128::from(self.quarter)).div_euclid(i128::from(TICKS_PER_QUARTER));
        self.ns + after as Ns
    }

    /// The tempo to the nearest microsecond, kept in range.
    pub fn tempo(&self) -> Tempo {
        tempo_of(self.quarter)
    }
}

/// The tempo at which a quarter lasts this many nanoseconds, kept in range.
pub(crate) fn tempo_of(quarter: Ns) -> Tempo {
    let (fastest, slowest) = (Tempo::FASTEST.micros(), Tempo::SLOWEST.micros());
    let micros = ((quarter + 500) / 1000).clamp(i64::from(fastest), i64::from(slowest));
    Tempo::from_micros(micros as u32).unwrap_or(Tempo::DEFAULT)
}

/// News from the clock that is followed, the leader.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lead {
    /// A pulse came while the leader is stopped.
    Idle(Line),
    /// The leader, stopped, went to a position from which it will play on.
    Locate {
        /// The pulse, from 0 at bar one.
        pulse: i64,
    },
    /// The leader started with this pulse, which has just come.
    Roll {
        /// The pulse, from 0 at bar one.
        pulse: i64,
        /// When it fell, in nanoseconds.
        ns: Ns,
        /// The length of a quarter in nanoseconds, if known.
        quarter: Option<Ns>,
    },
    /// A pulse came while the leader plays; the line holds from the next pulse on.
    Pulse(Line),
    /// The leader stopped.
    Stop {
        /// When its Stop came, in nanoseconds.
        ns: Ns,
    },
    /// No pulse has come for too long.
    Lost,
}

#[cfg(test)]
mod tests {
    use super::*;

    const MS: Ns = 1_000_000;

    /// MIDI clock has 24 pulses to the quarter (MIDI 1.0, "System Real Time"): pulse 48 is tick 1920.
    #[test]
    fn a_line_goes_through_its_pulse_at_its_tempo_in_both_directions() {
        let line = Line { pulse: 48, ns: 5000 * MS, quarter: 500 * MS, locked: true };
        for (tick, ms) in [(1920, 5000), (2880, 5500), (1440, 4750), (0, 4000), (-960, 3500)] {
            assert_eq!(line.ns_at(Tick(tick)), ms * MS, "tick {tick}");
        }
    }

    #[test]
    fn a_tick_between_two_nanoseconds_falls_on_the_earlier_one() {
        // A tick lasts 520,833.33 ns.
        let line = Line { pulse: 0, ns: 0, quarter: 500 * MS, locked: true };
        assert_eq!([-1, 1, 2].map(|tick| line.ns_at(Tick(tick))), [-520_834, 520_833, 1_041_666]);
    }

    /// A tempo is a whole number of microseconds (docs/time.md, "From tempo to time").
    #[test]
    fn the_tempo_is_the_nearest_microsecond_in_range() {
        let micros = |quarter| tempo_of(quarter).micros();
        assert_eq!([500_000_499, 500_000_500].map(micros), [500_000, 500_001]);
        assert_eq!([1, 59_999_000, 7_000 * MS].map(micros), [60_000, 60_000, 6_000_000]);
        let line = Line { pulse: 0, ns: 0, quarter: 640_342_000, locked: false };
        assert_eq!(line.tempo().to_string(), "93.7");
    }
}
