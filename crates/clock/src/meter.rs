//! What the scheduler counts, readable from any thread at any time.
//!
//! In: one call an event, from the scheduler thread: a few atomic additions, nothing else; and from
//! the porter what keeps a port from being opened, which the scheduler never asks for. Out:
//! [`Stats`], a copy of all counts. A copy taken while events go out can be a few events apart
//! from one field to the next.

use crate::port_state::PortState;
use crate::urgency::Urgency;
use chaconne_time::Ns;
use std::sync::atomic::{AtomicI64, AtomicU8, AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError};

/// Later than this is counted as late: 1 ms.
pub const LATE: Ns = 1_000_000;

/// Of what kind a sent event is, for its place in the figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A clock pulse.
    Pulse,
    /// A press or a lift of a cue.
    Note,
    /// Anything a played key or controller caused.
    Through,
    /// Anything else that was due at a moment.
    Other,
    /// A release that nothing was due for: stop, edit, panic.
    Release,
    /// A message that was asked for at once, and so is due at no moment.
    Prompt,
}

impl Kind {
    /// Whether it is due at a moment that was known before.
    pub fn is_timed(self) -> bool {
        matches!(self, Kind::Pulse | Kind::Note | Kind::Other)
    }

    /// How late something of this kind is.
    pub fn late(self, moment: Ns, due: Ns) -> Ns {
        if matches!(self, Kind::Release | Kind::Prompt) { 0 } else { moment - due }
    }
}

/// Buckets an octave of lateness: a bucket is at most an eighth wider than its lower end.
const STEPS: u32 = 8;
/// The lower end of the second bucket, as a power of two: 128 ns.
const FLOOR: u32 = 7;
/// The top octave: 2^40 ns, 18 minutes.
const CEILING: u32 = 40;
const BUCKETS: usize = ((CEILING - FLOOR) * STEPS + 2) as usize;

/// How many events came how late.
#[derive(Debug)]
struct Histogram {
    buckets: Box<[AtomicU64]>,
    worst: AtomicI64,
}

impl Histogram {
    fn new() -> Histogram {
        let buckets = (0..BUCKETS).map(|_| AtomicU64::new(0)).collect();
        Histogram { buckets, worst: AtomicI64::new(0) }
    }

    fn count(&self, late: Ns) {
        self.buckets[bucket(late)].fetch_add(1, Relaxed);
        self.worst.fetch_max(late, Relaxed);
    }

    fn spread(&self) -> Spread {
        let counts: Vec<u64> = self.buckets.iter().map(|bucket| bucket.load(Relaxed)).collect();
        let count: u64 = counts.iter().sum();
        let worst = self.worst.load(Relaxed);
        let at = |percent: u64| {
            // The smallest rank that has so many percent at or below it.
            let rank = (count * percent).div_ceil(100);
            let mut seen = 0;
            let found = counts.iter().position(|here| {
                seen += here;
                seen >= rank
            });
            found.map_or(0, upper_end).min(worst)
        };
        Spread { count, p50: at(50), p99: at(99), worst }
    }
}

/// The bucket of a lateness; early and punctual events are in the first.
fn bucket(late: Ns) -> usize {
    let Ok(late @ 128..) = u64::try_from(late) else { return 0 };
    let octave = late.ilog2();
    if octave >= CEILING {
        return BUCKETS - 1;
    }
    let step = (late >> (octave - FLOOR)) & 127;
    ((octave - FLOOR) * STEPS) as usize + ((step as usize * STEPS as usize) >> FLOOR) + 1
}

/// The largest lateness that falls into a bucket.
fn upper_end(bucket: usize) -> Ns {
    if bucket == 0 {
        return 127;
    }
    let octave = FLOOR + (bucket as u32 - 1) / STEPS;
    let step = i64::from((bucket as u32 - 1) % STEPS) + 1;
    (1i64 << octave) + (step << octave) / i64::from(STEPS) - 1
}

/// How late the events of one kind came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spread {
    /// How many events.
    pub count: u64,
    /// Half of them were no later than this, in nanoseconds; at most an eighth too high.
    pub p50: Ns,
    /// 99 in 100 were no later than this, in nanoseconds; at most an eighth too high.
    pub p99: Ns,
    /// The latest, in nanoseconds, exactly.
    pub worst: Ns,
}

/// The state and counts of one port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortHealth {
    /// What the port is called: its [`PortSpec`](crate::PortSpec).
    pub name: String,
    /// Whether it is open.
    pub state: PortState,
    /// Messages sent.
    pub sent: u64,
    /// Bytes sent.
    pub bytes: u64,
    /// Messages dropped because the port was full or gone.
    pub dropped: u64,
    /// How many of them were dropped because nothing was connected.
    pub to_nobody: u64,
    /// Continuous values that a slow line skipped because a newer one had arrived.
    pub thinned: u64,
    /// Why a port is not opened although ports with a fitting name exist, in one sentence; else
    /// empty.
    pub ambiguity: String,
}

/// All counts at one moment.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Stats {
    /// Messages sent, all ports together.
    pub sent: u64,
    /// Messages sent more than [`LATE`] after they were due.
    pub late: u64,
    /// The latest a message was, in nanoseconds.
    pub worst: Ns,
    /// How late clock pulses were.
    pub pulses: Spread,
    /// How late presses and lifts of cues were.
    pub notes: Spread,
    /// How long after its stamp a through-played message was sent.
    pub through: Spread,
    /// Orders and cues that found a queue full.
    pub dropped: u64,
    /// Presses that the key book had no room for, and cues for a port or slot that does not exist.
    pub refused: u64,
    /// Keys now down on the wire, all ports together.
    pub sounding: usize,
    /// What the system granted the scheduler thread.
    pub urgency: Urgency,
    /// The ports, in the order in which they were given.
    pub ports: Vec<PortHealth>,
}

#[derive(Debug)]
struct PortMeter {
    name: String,
    state: AtomicU8,
    sent: AtomicU64,
    bytes: AtomicU64,
    dropped: AtomicU64,
    to_nobody: AtomicU64,
    thinned: AtomicU64,
    /// Never touched by the scheduler thread: it may have to be waited for.
    ambiguity: Mutex<String>,
}

/// The counts themselves.
#[derive(Debug)]
pub struct Meter {
    late: AtomicU64,
    worst: AtomicI64,
    pulses: Histogram,
    notes: Histogram,
    through: Histogram,
    dropped: AtomicU64,
    refused: AtomicU64,
    sounding: AtomicUsize,
    urgency: AtomicU64,
    early: AtomicI64,
    ports: Box<[PortMeter]>,
}

impl Meter {
    /// Counts for ports of these names, all open.
    pub fn new(names: impl IntoIterator<Item = String>) -> Meter {
        let port = |name| PortMeter {
            name,
            state: AtomicU8::new(PortState::Open as u8),
            sent: AtomicU64::new(0),
            bytes: AtomicU64::new(0),
            dropped: AtomicU64::new(0),
            to_nobody: AtomicU64::new(0),
            thinned: AtomicU64::new(0),
            ambiguity: Mutex::new(String::new()),
        };
        Meter {
            late: AtomicU64::new(0),
            worst: AtomicI64::new(0),
            pulses: Histogram::new(),
            notes: Histogram::new(),
            through: Histogram::new(),
            dropped: AtomicU64::new(0),
            refused: AtomicU64::new(0),
            sounding: AtomicUsize::new(0),
            urgency: AtomicU64::new(0),
            early: AtomicI64::new(0),
            ports: names.into_iter().map(port).collect(),
        }
    }

    /// A copy of all counts.
    pub fn stats(&self) -> Stats {
        let port = |port: &PortMeter| PortHealth {
            name: port.name.clone(),
            state: PortState::from_code(port.state.load(Relaxed)),
            sent: port.sent.load(Relaxed),
            bytes: port.bytes.load(Relaxed),
            dropped: port.dropped.load(Relaxed),
            to_nobody: port.to_nobody.load(Relaxed),
            thinned: port.thinned.load(Relaxed),
            ambiguity: port.ambiguity.lock().unwrap_or_else(PoisonError::into_inner).clone(),
        };
        let ports: Vec<PortHealth> = self.ports.iter().map(port).collect();
        Stats {
            sent: ports.iter().map(|port| port.sent).sum(),
            late: self.late.load(Relaxed),
            worst: self.worst.load(Relaxed),
            pulses: self.pulses.spread(),
            notes: self.notes.spread(),
            through: self.through.spread(),
            dropped: self.dropped.load(Relaxed),
            refused: self.refused.load(Relaxed),
            sounding: self.sounding.load(Relaxed),
            urgency: Urgency::from_code(self.urgency.load(Relaxed)),
            ports,
        }
    }

    /// What keeps a port from being opened; nothing where it is empty. May wait: not for the
    /// scheduler thread.
    pub fn set_ambiguity(&self, port: usize, sentence: String) {
        if let Some(port) = self.ports.get(port) {
            *port.ambiguity.lock().unwrap_or_else(PoisonError::into_inner) = sentence;
        }
    }

    /// How many ports it counts for.
    pub fn ports(&self) -> usize {
        self.ports.len()
    }

    pub(crate) fn sent(&self, port: usize, bytes: usize, kind: Kind, late: Ns) {
        if let Some(port) = self.ports.get(port) {
            port.sent.fetch_add(1, Relaxed);
            port.bytes.fetch_add(bytes as u64, Relaxed);
        }
        match kind {
            Kind::Pulse => self.pulses.count(late),
            Kind::Note => self.notes.count(late),
            Kind::Through => return self.through.count(late),
            Kind::Other => {}
            Kind::Release | Kind::Prompt => return,
        }
        self.worst.fetch_max(late, Relaxed);
        if late > LATE {
            self.late.fetch_add(1, Relaxed);
        }
    }

    pub(crate) fn add_bytes(&self, port: usize, bytes: usize) {
        if let Some(port) = self.ports.get(port) {
            port.bytes.fetch_add(bytes as u64, Relaxed);
        }
    }

    pub(crate) fn set_thinned(&self, port: usize, thinned: u64) {
        if let Some(port) = self.ports.get(port) {
            port.thinned.store(thinned, Relaxed);
        }
    }

    /// A message for a port is dropped: the port is full, or nobody is there.
    pub fn drop_message(&self, port: usize) {
        if let Some(port) = self.ports.get(port) {
            port.dropped.fetch_add(1, Relaxed);
            if PortState::from_code(port.state.load(Relaxed)) != PortState::Open {
                port.to_nobody.fetch_add(1, Relaxed);
            }
        }
    }

    /// An order finds a queue full.
    pub fn drop_order(&self) {
        self.dropped.fetch_add(1, Relaxed);
    }

    /// A press finds the key book full, or a cue names a port or slot that does not exist.
    pub fn refuse(&self) {
        self.refused.fetch_add(1, Relaxed);
    }

    pub(crate) fn set_sounding(&self, keys: usize) {
        self.sounding.store(keys, Relaxed);
    }

    /// What the system granted the scheduler's thread.
    pub fn set_urgency(&self, urgency: Urgency) {
        self.urgency.store(urgency.code(), Relaxed);
    }

    pub(crate) fn set_early(&self, early: Ns) {
        self.early.store(early, Relaxed);
    }

    /// How much before it is due the earliest port is served, in nanoseconds.
    pub fn early(&self) -> Ns {
        self.early.load(Relaxed)
    }

    /// Whether a port is there.
    pub fn set_state(&self, port: usize, state: PortState) {
        if let Some(port) = self.ports.get(port) {
            port.state.store(state as u8, Relaxed);
        }
    }

    /// Whether a port is there; [`PortState::Silent`] for one that does not exist.
    pub fn state(&self, port: usize) -> PortState {
        self.ports
            .get(port)
            .map_or(PortState::Silent, |port| PortState::from_code(port.state.load(Relaxed)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lateness_lies_in_its_bucket() {
        for late in
            (0..38).flat_map(|octave| [1i64 << octave, (1 << octave) + 1, (3 << octave) - 1])
        {
            let here = bucket(late);
            assert!(late <= upper_end(here), "{late} above bucket {here}");
            assert!(here == 0 || late > upper_end(here - 1), "{late} below bucket {here}");
            assert!(late < 128 || upper_end(here) <= late + late / 8, "{late} in a wide bucket");
        }
        assert_eq!(bucket(-5), 0);
        assert_eq!(bucket(i64::MAX), BUCKETS - 1);
    }

    #[test]
    fn what_finds_a_port_full_is_told_from_what_finds_nobody() {
        let meter = Meter::new(["desk".to_string()]);
        meter.drop_message(0);
        for state in [PortState::Silent, PortState::Waiting, PortState::Lost, PortState::Open] {
            meter.set_state(0, state);
            meter.drop_message(0);
        }
        let port = meter.stats().ports.remove(0);
        assert_eq!((port.dropped, port.to_nobody), (5, 3));
    }

    #[test]
    fn percentiles_are_near_and_the_worst_is_exact() {
        let histogram = Histogram::new();
        (1..=1000).for_each(|us| histogram.count(us * 1000));
        let Spread { count, p50, p99, worst } = histogram.spread();
        assert_eq!((count, worst), (1000, 1_000_000));
        assert!((500_000..=562_500).contains(&p50), "{p50}");
        assert!((990_000..=1_000_000).contains(&p99), "{p99}");
        assert_eq!(Histogram::new().spread(), Spread::default());
    }
}
