//! The silence switch, which works without a queue.
//!
//! In: a call from any thread. Out: a flag that the scheduler checks before anything else, and its
//! answer.

use crate::spares::Spares;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::SeqCst};
use std::thread::{self, Thread};
use std::time::{Duration, Instant};

/// The flags that the switch and the scheduler share.
#[derive(Debug, Default)]
pub(crate) struct Flags {
    asked: AtomicU64,
    answered: AtomicU64,
    shut: AtomicBool,
    over: AtomicBool,
}

impl Flags {
    /// The newest request, if it has not been answered yet.
    pub(crate) fn pending(&self) -> Option<u64> {
        let asked = self.asked.load(SeqCst);
        (asked != self.answered.load(SeqCst)).then_some(asked)
    }

    pub(crate) fn answer(&self, request: u64) {
        self.answered.store(request, SeqCst);
    }

    pub(crate) fn is_shut(&self) -> bool {
        self.shut.load(SeqCst)
    }

    /// Asks the scheduler to end.
    pub(crate) fn end(&self) {
        self.over.store(true, SeqCst);
    }

    pub(crate) fn is_over(&self) -> bool {
        self.over.load(SeqCst)
    }
}

/// Silences the scheduler from any thread, even a signal's, bypassing every queue.
#[derive(Debug, Clone)]
pub struct Switch {
    flags: Arc<Flags>,
    spares: Arc<Spares>,
    scheduler: Thread,
}

impl Switch {
    pub(crate) fn new(flags: Arc<Flags>, spares: Arc<Spares>, scheduler: Thread) -> Switch {
        Switch { flags, spares, scheduler }
    }

    /// Releases all keys and pedals on all ports and empties the queue. Until [`Switch::resume`]
    /// only releases are sent. Returns at once.
    pub fn silence_now(&self) {
        self.flags.shut.store(true, SeqCst);
        self.flags.asked.fetch_add(1, SeqCst);
        self.scheduler.unpark();
    }

    /// Waits until the last [`Switch::silence_now`] is complete, on full ports too; returns whether
    /// that happened in time.
    pub fn wait_silent(&self, timeout: Duration) -> bool {
        let start = Instant::now();
        while self.flags.pending().is_some() {
            if start.elapsed() >= timeout {
                return false;
            }
            thread::sleep(Duration::from_millis(1));
        }
        true
    }

    /// The last resort if the scheduler does not answer: writes the releases of all sounding keys
    /// and pedals directly to the byte ports. Ports of the system's MIDI service cannot be reached
    /// this way. Returns how many messages were written.
    pub fn force_note_offs(&self) -> usize {
        self.spares.force_note_offs()
    }

    /// Lets the scheduler send messages again.
    pub fn resume(&self) {
        self.flags.shut.store(false, SeqCst);
    }
}
