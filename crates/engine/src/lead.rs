//! What a clock that is followed says, as far as the engine has to know: pulses that have been
//! counted and evened out already.

use chaconne_time::{Ns, TICKS_PER_QUARTER, Tempo, Tick, pulse};

/// What becomes of a run that follows a clock when no pulse comes any more.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum OnLoss {
    /// It goes on at the last tempo.
    #[default]
    Keep,
    /// It stops.
    Stop,
}

/// A clock that is to be followed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Follow {
    /// What it is called when it is spoken of: the input's name.
    pub name: String,
    /// What happens when it is lost.
    pub on_loss: OnLoss,
}

/// The pulses as an even line: one of them, and how long a quarter lasts from there on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Line {
    /// The pulse, 24 to the quarter, counted from bar one.
    pub pulse: i64,
    /// When it falls, nanoseconds on the shared monotonic clock.
    pub ns: Ns,
    /// How long a quarter lasts, nanoseconds; more than 0.
    pub quarter: Ns,
    /// Whether the line has been found, and is not only being looked for.
    pub locked: bool,
}

impl Line {
    /// When a transport tick falls on it.
    pub fn ns_at(&self, at: Tick) -> Ns {
        let ticks = i128::from((at - pulse::tick_of(self.pulse)).0);
        let after = (ticks * i128::from(self.quarter)).div_euclid(i128::from(TICKS_PER_QUARTER));
        self.ns + after as Ns
    }

    /// The tempo, as near as whole microseconds come; kept in range.
    pub fn tempo(&self) -> Tempo {
        tempo_of(self.quarter)
    }
}

/// The tempo of a quarter of so many nanoseconds, kept in range.
pub(crate) fn tempo_of(quarter: Ns) -> Tempo {
    let (fastest, slowest) = (Tempo::FASTEST.micros(), Tempo::SLOWEST.micros());
    let micros = ((quarter + 500) / 1000).clamp(i64::from(fastest), i64::from(slowest));
    Tempo::from_micros(micros as u32).unwrap_or(Tempo::DEFAULT)
}

/// What a clock that is followed says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lead {
    /// Pulses come, and nothing rolls there.
    Idle(Line),
    /// Nothing rolls there, and this pulse is where it will go on.
    Locate {
        /// Counted from bar one.
        pulse: i64,
    },
    /// It rolls from this pulse, which has just come.
    Roll {
        /// Counted from bar one.
        pulse: i64,
        /// When it fell.
        ns: Ns,
        /// How long a quarter lasts, where that is known yet.
        quarter: Option<Ns>,
    },
    /// It rolls, and a pulse has come: the line from the next one on.
    Pulse(Line),
    /// It has stopped.
    Stop {
        /// When it said so.
        ns: Ns,
    },
    /// No pulse has come for too long.
    Lost,
}
