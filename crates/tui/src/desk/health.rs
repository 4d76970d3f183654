//! What the view of ports and timing shows beyond what every view shows.
//!
//! All of it is what the desk counted; nothing here is about a certain port or clock.

use std::sync::Arc;
use std::time::Duration;

/// The health of the ports and of the clock.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Health {
    /// More about each port, in the order of [`DeskState::ports`](crate::DeskState::ports).
    pub ports: Vec<PortFacts>,
    /// How late the song's notes were sent.
    pub notes: Lateness,
    /// How late clock pulses were sent.
    pub pulses: Lateness,
    /// How long what was played took from coming in to being sent on.
    pub through: Lateness,
    /// How long these have been counted, in whole seconds.
    pub counted: Duration,
    /// The latest message of each second in nanoseconds, the oldest first; the second that is not
    /// over is left out.
    pub seconds: Arc<[u64]>,
    /// What the system granted the thread that sends everything, in a few words.
    pub priority: String,
}

/// More about a port.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortFacts {
    /// For an output, what tracks give as their port to play on it; empty for the first output
    /// if it has no name of its own.
    pub called: String,
    /// What else goes through it and how, a word or two each: `clock`, `serial cable`.
    pub carries: Arc<[String]>,
    /// Messages sent; 0 for an input.
    pub sent: u64,
    /// Messages lost since the start: dropped because the port was full or gone; for an input,
    /// bytes that belong to no message.
    pub lost: u64,
    /// Messages sent more than a millisecond late since the start; 0 for an input.
    pub late: u64,
    /// How long it has been in its state, in whole seconds; `None` since the start.
    pub since: Option<Duration>,
}

/// How late messages of one kind were sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Lateness {
    /// How many were sent.
    pub count: u64,
    /// Half of them were at most so many nanoseconds late.
    pub p50_ns: u64,
    /// 99 in 100 were at most so many nanoseconds late.
    pub p99_ns: u64,
    /// The latest, in nanoseconds.
    pub worst_ns: u64,
    /// How many are in each bin between the [`LIMITS_NS`](Self::LIMITS_NS).
    pub bins: [u64; Lateness::BINS],
}

impl Lateness {
    /// The limits between the bins, in nanoseconds: the first bin ends before the first limit, the
    /// last one begins at the last.
    pub const LIMITS_NS: [u64; 16] = [
        1_000,
        2_000,
        5_000,
        10_000,
        20_000,
        50_000,
        100_000,
        200_000,
        500_000,
        1_000_000,
        2_000_000,
        5_000_000,
        10_000_000,
        20_000_000,
        50_000_000,
        100_000_000,
    ];
    /// The number of bins.
    pub const BINS: usize = Lateness::LIMITS_NS.len() + 1;

    /// The bin of a lateness in nanoseconds.
    pub fn bin(late_ns: u64) -> usize {
        Lateness::LIMITS_NS.partition_point(|&limit| limit <= late_ns)
    }
}
