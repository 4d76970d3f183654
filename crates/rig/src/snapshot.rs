//! Snapshots: how things stand, for whoever watches; and the closing summary.

use crate::PortReport;
use chaconne_clock::Stats;
use chaconne_engine::Status;
use chaconne_time::Ns;
use std::path::PathBuf;
use std::sync::Arc;

/// How things stand at a moment.
#[derive(Debug, Clone)]
pub struct Snapshot {
    /// The engine.
    pub status: Arc<Status>,
    /// The ports: outputs in the order in which they were given, then inputs.
    pub ports: Vec<PortReport>,
    /// The song's file.
    pub disk: Disk,
    /// What the scheduler counted.
    pub stats: Stats,
    /// Orders to the scheduler that wait for room in its queue.
    pub waiting: usize,
    /// Played messages that found the queue to the engine full, and were heard but not recorded.
    pub unheard: u64,
}

impl Snapshot {
    /// Whether the song holds something that is not in its file.
    pub fn is_unsaved(&self) -> bool {
        self.status.revision != self.disk.saved
    }
}

/// The song's file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Disk {
    /// Where it is saved; `None` where it never was.
    pub path: Option<PathBuf>,
    /// The revision that is in the file, or that there was to begin with.
    pub saved: u64,
    /// What went wrong at the last save, in one sentence; `None` once one went well.
    pub error: Option<String>,
    /// Goes up by one whenever a save has ended, well or not.
    pub attempts: u64,
}

impl Disk {
    /// The revision of a song whose file is not there yet; no song ever has it.
    pub const NEVER: u64 = u64::MAX;
}

/// What a run came to, once everything is released and the scheduler has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Summary {
    /// Messages sent, all ports together.
    pub sent: u64,
    /// Messages sent more than a millisecond after they were due.
    pub late: u64,
    /// The latest a message was, in nanoseconds.
    pub worst: Ns,
    /// Keys still down on the wire: 0, unless a port would not take its releases.
    pub sounding: usize,
    /// Messages and orders that found a port or a queue full.
    pub dropped: u64,
}

impl Summary {
    /// The summary of what was counted.
    pub fn of(stats: &Stats) -> Summary {
        let at_ports: u64 = stats.ports.iter().map(|port| port.dropped).sum();
        Summary {
            sent: stats.sent,
            late: stats.late,
            worst: stats.worst,
            sounding: stats.sounding,
            dropped: stats.dropped + at_ports,
        }
    }
}

impl std::fmt::Display for Summary {
    /// One line: `events sent 120, late 0, worst lateness 0.12 ms, notes left sounding: 0`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Summary { sent, late, worst, sounding, dropped } = self;
        let (whole, part) = (worst / 1_000_000, worst / 10_000 % 100);
        write!(f, "events sent {sent}, late {late}, worst lateness {whole}.{part:02} ms, ")?;
        if *dropped > 0 {
            write!(f, "dropped {dropped}, ")?;
        }
        write!(f, "notes left sounding: {sounding}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_summary_is_one_line() {
        let mut summary = Summary { sent: 120, worst: 1_234_567, ..Summary::default() };
        assert_eq!(
            summary.to_string(),
            "events sent 120, late 0, worst lateness 1.23 ms, notes left sounding: 0"
        );
        (summary.dropped, summary.sounding) = (3, 1);
        assert!(summary.to_string().ends_with("dropped 3, notes left sounding: 1"));
    }
}
