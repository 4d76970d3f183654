//! The scheduler's end of a JACK port: two wait-free queues to the process callback.
//!
//! Short messages go through one queue with their due time. For a longer one that queue holds a
//! notice, and its bytes go through the other. Neither end waits or allocates. A message that does
//! not fit is refused as a whole.

use super::frames;
use super::pending::Event;
use super::rest::Rest;
use chaconne_clock::Sent;
use chaconne_midi::parser::SYSEX_MOST;
use chaconne_time::Ns;
use rtrb::{Consumer, Producer, RingBuffer};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, AtomicUsize, Ordering::Relaxed};
use std::time::Duration;

/// How many messages the queue holds: a note-off for every key of every channel and three mode
/// messages per channel, as a panic sends, and a busy song besides.
pub(crate) const EVENTS: usize = 8192;
/// How many bytes of long messages the queue holds.
const BYTES: usize = 4 * SYSEX_MOST;
/// Messages are handed over at least this early: 4 ms before their due time.
pub(crate) const LEAST_AHEAD: Ns = 4_000_000;
/// Added to the length of two blocks: 1 ms.
const MARGIN: Ns = 1_000_000;

/// The state that the callback shares with the other threads.
#[derive(Debug, Default)]
pub(crate) struct CallbackState {
    /// The length of a block, in nanoseconds.
    period: AtomicI64,
    /// How many blocks there have been. If the count stops, the server is gone.
    pub blocks: AtomicU64,
    /// The length of the longest message that fits into a block.
    pub longest: AtomicUsize,
    /// How many messages the callback has written or dropped.
    pub done: AtomicU64,
    /// How many messages were too long for any block.
    pub dropped: AtomicU64,
    /// The server is gone: nothing more will be played.
    pub gone: AtomicBool,
    /// Asks the callback to rest before the client is closed.
    pub rest: Rest,
}

impl CallbackState {
    pub fn new(frames: u32, rate: u32) -> Arc<CallbackState> {
        let shared =
            CallbackState { longest: AtomicUsize::new(SYSEX_MOST), ..CallbackState::default() };
        shared.set_period(frames::length(frames, rate));
        Arc::new(shared)
    }

    pub fn set_period(&self, period: Ns) {
        self.period.store(period, Relaxed);
    }

    pub fn period(&self) -> Ns {
        self.period.load(Relaxed)
    }
}

/// How early messages are handed over to a server with blocks of this length, in nanoseconds before
/// their due time: early enough to reach their block, however late the scheduler or JACK wakes.
pub(crate) fn ahead(period: Ns) -> Ns {
    (2 * period + MARGIN).max(LEAST_AHEAD)
}

/// The scheduler's end.
pub(crate) struct JackLine {
    events: Producer<Event>,
    bytes: Producer<u8>,
    shared: Arc<CallbackState>,
    /// How many messages were handed over.
    sent: u64,
}

/// The callback's end.
#[derive(Debug)]
pub(crate) struct FarEnd {
    pub events: Consumer<Event>,
    pub bytes: Consumer<u8>,
    pub shared: Arc<CallbackState>,
}

/// Both ends of a line.
pub(crate) fn line(shared: Arc<CallbackState>) -> (JackLine, FarEnd) {
    let (events, far_events) = RingBuffer::new(EVENTS);
    let (bytes, far_bytes) = RingBuffer::new(BYTES);
    let far = FarEnd { events: far_events, bytes: far_bytes, shared: shared.clone() };
    (JackLine { events, bytes, shared, sent: 0 }, far)
}

impl JackLine {
    /// Hands over one whole message that is due at `due`.
    pub fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        if self.shared.gone.load(Relaxed) {
            return Sent::Lost;
        }
        if bytes.is_empty() || bytes.len() > self.shared.longest.load(Relaxed) {
            return Sent::Full;
        }
        let mut event = Event { due, len: bytes.len() as u32, bytes: [0; 3] };
        if event.is_long() {
            if self.events.is_full() || self.bytes.push_entire_slice(bytes).is_err() {
                return Sent::Full;
            }
        } else {
            event.bytes[..bytes.len()].copy_from_slice(bytes);
        }
        if self.events.push(event).is_err() {
            return Sent::Full;
        }
        self.sent += 1;
        Sent::Done
    }

    /// How early a message should be handed over, in nanoseconds before its due time.
    pub fn ahead(&self) -> Ns {
        ahead(self.shared.period())
    }

    /// Whether everything handed over has been played, or never will be.
    pub fn is_drained(&self) -> bool {
        self.shared.gone.load(Relaxed) || self.shared.done.load(Relaxed) == self.sent
    }

    /// How long the peer may take to receive what has been played: two blocks.
    pub fn drain(&self) -> Duration {
        Duration::from_nanos(2 * self.shared.period().max(0) as u64)
    }
}

impl fmt::Debug for JackLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("JackLine").finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_full_line_refuses_whole_messages_and_reports_a_dead_server() {
        let shared = CallbackState::new(64, 48_000);
        let (mut near, mut far) = line(shared.clone());
        let long = [0xF0; 1000];
        let taken = (0..EVENTS).filter(|_| near.send(5, &long) == Sent::Done).count();
        assert_eq!(taken, BYTES / long.len());
        while near.send(6, &[0xF8]) == Sent::Done {}
        assert_eq!((far.events.slots(), far.bytes.slots()), (EVENTS, taken * long.len()));
        assert_eq!(far.events.pop(), Ok(Event { due: 5, len: 1000, bytes: [0; 3] }));
        assert_eq!(near.send(7, &[0xC0, 9]), Sent::Done);
        shared.gone.store(true, Relaxed);
        assert_eq!(near.send(8, &[0xF8]), Sent::Lost);
    }

    #[test]
    fn a_message_longer_than_a_block_is_refused() {
        let shared = CallbackState::new(64, 48_000);
        let (mut near, _far) = line(shared.clone());
        shared.longest.store(100, Relaxed);
        assert_eq!(near.send(5, &[0xF0; 101]), Sent::Full);
        assert_eq!(near.send(5, &[0xF0; 100]), Sent::Done);
    }

    #[test]
    fn messages_are_handed_over_two_blocks_and_a_little_early() {
        assert_eq!(ahead(frames::length(64, 48_000)), 4_000_000);
        assert_eq!(ahead(frames::length(480, 48_000)), 21_000_000);
    }
}
