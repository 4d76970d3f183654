//! The queue of cues, ordered by when they are due.
//!
//! The order is (tick, [`Cue::rank`], arrival): pulses, then lifts, then controllers, then presses,
//! and within a rank in order of arrival. A lift whose voice does not hold the key yet is moved
//! behind the presses of its tick, once ([`Queue::defer`]). So a note without length is struck and
//! then released, while a key that is struck again is released first.
//!
//! Nothing is allocated after [`Queue::new`]. The last quarter of the places is reserved for lifts.

use chaconne_engine::{Action, Cue};
use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

/// The rank of a lift that was moved behind the presses of its tick.
const DEFERRED: u8 = 5;

/// A cue in the queue.
#[derive(Debug)]
pub(crate) struct Entry {
    pub cue: Cue,
    rank: u8,
    sequence: u64,
}

impl Entry {
    /// Whether it was moved behind the presses of its tick.
    pub fn is_deferred(&self) -> bool {
        self.rank == DEFERRED
    }

    fn key(&self) -> (i64, u8, u64) {
        (self.cue.at.0, self.rank, self.sequence)
    }
}

impl PartialEq for Entry {
    fn eq(&self, other: &Entry) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Entry {}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Entry) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Entry {
    fn cmp(&self, other: &Entry) -> Ordering {
        self.key().cmp(&other.key())
    }
}

/// The cues that wait for their time.
#[derive(Debug)]
pub(crate) struct Queue {
    heap: BinaryHeap<Reverse<Entry>>,
    places: usize,
    sequence: u64,
}

impl Queue {
    /// An empty queue with room for `places` cues, at least 4.
    pub fn new(places: usize) -> Queue {
        let places = places.max(4);
        Queue { heap: BinaryHeap::with_capacity(places), places, sequence: 0 }
    }

    /// Whether there is room for this cue.
    pub fn has_room(&self, cue: &Cue) -> bool {
        let kept_free = match cue.action {
            Action::Lift { .. } => 0,
            _ => self.places / 4,
        };
        self.heap.len() < self.places - kept_free
    }

    /// Adds a cue, or returns it if there is no room.
    pub fn push(&mut self, cue: Cue) -> Result<(), Cue> {
        if !self.has_room(&cue) {
            return Err(cue);
        }
        let (rank, sequence) = (cue.rank(), self.sequence);
        self.sequence += 1;
        self.heap.push(Reverse(Entry { cue, rank, sequence }));
        Ok(())
    }

    /// Puts back a cue that was just removed, behind the presses of its tick.
    pub fn defer(&mut self, entry: Entry) {
        self.heap.push(Reverse(Entry { rank: DEFERRED, ..entry }));
    }

    /// The next cue.
    pub fn peek(&self) -> Option<&Cue> {
        self.heap.peek().map(|Reverse(entry)| &entry.cue)
    }

    /// Removes and returns the next cue.
    pub fn pop(&mut self) -> Option<Entry> {
        self.heap.pop().map(|Reverse(entry)| entry)
    }

    /// Keeps only these cues. The cost grows with the number of cues.
    pub fn retain(&mut self, mut keep: impl FnMut(&Cue) -> bool) {
        self.heap.retain(|Reverse(entry)| keep(&entry.cue));
    }

    /// Removes all cues, in no particular order.
    pub fn drain(&mut self) -> impl Iterator<Item = Cue> + '_ {
        self.heap.drain().map(|Reverse(entry)| entry.cue)
    }

    pub fn len(&self) -> usize {
        self.heap.len()
    }
}
