//! The scheduler's counts, readable from any thread at any time.
//!
//! In: one call per event from the scheduler thread, which makes a few atomic additions and nothing
//! else; and from the porter the reason why a port cannot be opened. Out: [`Stats`], a copy of all
//! counts. If events go out while a copy is taken, its fields may differ by a few events.

mod histogram;

use crate::port_state::PortState;
use crate::urgency::Urgency;
use chaconne_time::Ns;
use histogram::Histogram;
use std::sync::atomic::{AtomicI64, AtomicU8, AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError};

pub use histogram::{EDGES, Spread};

/// A message later than this counts as late: 1 ms.
pub const LATE: Ns = 1_000_000;

/// The kind of a sent event, which decides where it is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A clock pulse.
    Pulse,
    /// A press or a lift of a cue.
    Note,
    /// Anything caused by a played key or controller.
    Through,
    /// Anything else that had a due time.
    Other,
    /// A release without a due time: after a stop, an edit or a panic.
    Release,
    /// A message to be sent at once, and so without a due time.
    Prompt,
}

impl Kind {
    /// Whether its due time was known before.
    pub fn is_timed(self) -> bool {
        matches!(self, Kind::Pulse | Kind::Note | Kind::Other)
    }

    /// How late an event of this kind is, in nanoseconds; 0 if it has no due time.
    pub fn late(self, moment: Ns, due: Ns) -> Ns {
        if matches!(self, Kind::Release | Kind::Prompt) { 0 } else { moment - due }
    }
}

/// The state and counts of one port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortHealth {
    /// The port's name, as the user wrote it.
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
    /// Messages sent more than [`LATE`] after they were due.
    pub late: u64,
    /// Continuous values that a slow line skipped because a newer one had arrived.
    pub thinned: u64,
    /// Why the port cannot be opened although ports with a matching name exist, in one sentence;
    /// otherwise empty.
    pub ambiguity: String,
}

/// All counts at one moment.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Stats {
    /// Messages sent, all ports together.
    pub sent: u64,
    /// Messages sent more than [`LATE`] after they were due.
    pub late: u64,
    /// The greatest lateness of a message, in nanoseconds.
    pub worst: Ns,
    /// How late clock pulses were.
    pub pulses: Spread,
    /// How late presses and lifts of cues were.
    pub notes: Spread,
    /// How long after its stamp a through-played message was sent.
    pub through: Spread,
    /// Orders and cues that found a queue full.
    pub dropped: u64,
    /// Presses that found the key book full, and cues for a port or slot that does not exist.
    pub refused: u64,
    /// Keys now down, all ports together.
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
    late: AtomicU64,
    thinned: AtomicU64,
    /// The scheduler thread never touches this, because a lock can block.
    ambiguity: Mutex<String>,
}

/// The counts, which the scheduler thread updates.
#[derive(Debug)]
pub struct Meter {
    late: AtomicU64,
    worst: AtomicI64,
    fresh: AtomicI64,
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
            late: AtomicU64::new(0),
            thinned: AtomicU64::new(0),
            ambiguity: Mutex::new(String::new()),
        };
        Meter {
            late: AtomicU64::new(0),
            worst: AtomicI64::new(0),
            fresh: AtomicI64::new(0),
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
            late: port.late.load(Relaxed),
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

    /// The greatest lateness of a message since the last call, in nanoseconds.
    pub fn take_worst(&self) -> Ns {
        self.fresh.swap(0, Relaxed)
    }

    /// Counts the lateness of pulses, notes and through-played messages afresh. The other counts go
    /// on.
    pub fn restart(&self) {
        [&self.pulses, &self.notes, &self.through].into_iter().for_each(Histogram::restart);
    }

    /// Sets the reason why a port cannot be opened; empty if there is none. It takes a lock, so the
    /// scheduler thread must not call it.
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
        self.fresh.fetch_max(late, Relaxed);
        if late > LATE {
            self.late.fetch_add(1, Relaxed);
            if let Some(port) = self.ports.get(port) {
                port.late.fetch_add(1, Relaxed);
            }
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

    /// Counts a message that was dropped because its port is full or not connected.
    pub fn drop_message(&self, port: usize) {
        if let Some(port) = self.ports.get(port) {
            port.dropped.fetch_add(1, Relaxed);
            if PortState::from_code(port.state.load(Relaxed)) != PortState::Open {
                port.to_nobody.fetch_add(1, Relaxed);
            }
        }
    }

    /// Counts an order or cue that found a queue full.
    pub fn drop_order(&self) {
        self.dropped.fetch_add(1, Relaxed);
    }

    /// Counts a press that found the key book full, or a cue for a port or slot that does not exist.
    pub fn refuse(&self) {
        self.refused.fetch_add(1, Relaxed);
    }

    pub(crate) fn set_sounding(&self, keys: usize) {
        self.sounding.store(keys, Relaxed);
    }

    /// Records what the system granted the scheduler's thread.
    pub fn set_urgency(&self, urgency: Urgency) {
        self.urgency.store(urgency.code(), Relaxed);
    }

    pub(crate) fn set_early(&self, early: Ns) {
        self.early.store(early, Relaxed);
    }

    /// How long before a message is due the earliest port gets it, in nanoseconds.
    pub fn early(&self) -> Ns {
        self.early.load(Relaxed)
    }

    /// Records whether a port is connected.
    pub fn set_state(&self, port: usize, state: PortState) {
        if let Some(port) = self.ports.get(port) {
            port.state.store(state as u8, Relaxed);
        }
    }

    /// Whether a port is connected; [`PortState::Silent`] for a port that does not exist.
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
    fn drops_at_a_full_port_are_told_from_drops_at_an_unconnected_one() {
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
    fn a_restart_keeps_the_counts_of_the_whole_run() {
        let meter = Meter::new(["desk".to_string(), "bells".to_string()]);
        for (port, late) in [(0, 300_000), (1, 4 * LATE), (1, LATE)] {
            meter.sent(port, 3, Kind::Note, late);
        }
        assert_eq!((meter.take_worst(), meter.take_worst()), (4 * LATE, 0));
        meter.restart();
        let stats = meter.stats();
        assert_eq!((stats.notes, stats.late, stats.worst), (Spread::default(), 1, 4 * LATE));
        assert_eq!(stats.ports.iter().map(|port| port.late).collect::<Vec<_>>(), [0, 1]);
    }
}
