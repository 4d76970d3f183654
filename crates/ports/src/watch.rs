//! Records the messages that a port is sent, for measuring: when each was sent, and when it was due.
//!
//! In: every message the port accepted, on the scheduler thread, with the time just before it was
//! written. Out: [`Handed`]s in order, for another thread to read. Nothing allocates, locks or
//! waits. A message that finds the queue full is counted and left out.

use chaconne_time::Ns;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// A message that a port has accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Handed {
    /// When it was due, in nanoseconds on [`now`](crate::now)'s clock.
    pub due: Ns,
    /// When it was handed over: just before it was written.
    pub at: Ns,
    /// Its first three bytes, padded with zeros.
    pub bytes: [u8; 3],
}

/// The scheduler's end of the record.
#[derive(Debug)]
pub(crate) struct Watch {
    queue: rtrb::Producer<Handed>,
    missed: Arc<AtomicU64>,
}

/// The reader's end of the record.
#[derive(Debug)]
pub struct Captured {
    queue: rtrb::Consumer<Handed>,
    missed: Arc<AtomicU64>,
}

/// A watch with room for this many messages between two reads.
pub(crate) fn watch(places: usize) -> (Watch, Captured) {
    let (into, out) = rtrb::RingBuffer::new(places);
    let missed = Arc::new(AtomicU64::new(0));
    (Watch { queue: into, missed: missed.clone() }, Captured { queue: out, missed })
}

impl Watch {
    /// Records a message.
    pub fn note(&mut self, due: Ns, at: Ns, bytes: &[u8]) {
        let mut first = [0; 3];
        first.iter_mut().zip(bytes).for_each(|(place, &byte)| *place = byte);
        if self.queue.push(Handed { due, at, bytes: first }).is_err() {
            self.missed.fetch_add(1, Relaxed);
        }
    }
}

impl Captured {
    /// Everything that was handed over since the last call.
    pub fn take(&mut self) -> impl Iterator<Item = Handed> + '_ {
        std::iter::from_fn(|| self.queue.pop().ok())
    }

    /// How many messages found no room.
    pub fn missed(&self) -> u64 {
        self.missed.load(Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_are_read_in_order_and_those_without_room_are_counted() {
        let (mut watch, mut captured) = watch(2);
        watch.note(10, 12, &[0xF8]);
        watch.note(20, 20, &[0x90, 60, 1]);
        watch.note(30, 31, &[0xF0, 1, 2, 3, 0xF7]);
        let pulse = Handed { due: 10, at: 12, bytes: [0xF8, 0, 0] };
        let note = Handed { due: 20, at: 20, bytes: [0x90, 60, 1] };
        assert_eq!(captured.take().collect::<Vec<_>>(), [pulse, note]);
        assert_eq!(captured.missed(), 1);
        watch.note(40, 41, &[0xF0, 1, 2, 3]);
        assert_eq!(captured.take().next().map(|handed| handed.bytes), Some([0xF0, 1, 2]));
    }
}
