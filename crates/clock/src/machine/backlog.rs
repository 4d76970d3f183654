//! The messages that wait for one port, because they are due later or because the port is full.
//!
//! In: messages, each with the time from which it may be sent. Out: the same messages in the order
//! of those times, and in order of arrival within one time. The places are few and allocated at the
//! start; the last quarter is reserved for releases. A press, a pulse or a quarter frame that is
//! more than a tenth of a second late is not worth sending any more.

use crate::key_book::SUSTAIN;
use crate::meter::Kind;
use chaconne_midi::{Message, U7, Wire};
use chaconne_time::Ns;
use std::collections::VecDeque;

/// A press, a pulse or a quarter frame is dropped if it is later than this: 100 ms.
const STALE: Ns = 100_000_000;

/// A message that is waiting.
#[derive(Debug)]
pub(crate) struct Waiting {
    /// The time from which it may be sent.
    pub from: Ns,
    /// When it is due.
    pub due: Ns,
    pub kind: Kind,
    pub wire: Wire,
}

impl Waiting {
    pub fn message(&self) -> Option<Message> {
        self.wire.message()
    }

    /// Whether it is not worth sending any more.
    pub fn is_stale(&self, now: Ns) -> bool {
        now - self.due > STALE && self.message().is_some_and(is_momentary)
    }
}

/// Whether a message is useful only at its due time.
fn is_momentary(message: Message) -> bool {
    matches!(message, Message::NoteOn { .. } | Message::Clock | Message::QuarterFrame(_))
}

/// Whether a message releases something, and so must never be lost.
pub(crate) fn is_release(message: Message) -> bool {
    match message {
        Message::NoteOff { .. } | Message::Stop => true,
        Message::Change { controller, value: U7::MIN, .. } => controller == SUSTAIN,
        _ => false,
    }
}

/// The backlog of one port.
#[derive(Debug)]
pub(crate) struct Backlog {
    entries: VecDeque<Waiting>,
    places: usize,
}

impl Backlog {
    /// An empty backlog with room for this many messages, at least 4.
    pub fn new(places: usize) -> Backlog {
        let places = places.max(4);
        Backlog { entries: VecDeque::with_capacity(places), places }
    }

    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Adds a message, or returns it if there is no room.
    pub fn put(&mut self, waiting: Waiting) -> Result<(), Waiting> {
        let kept_free = match waiting.message() {
            Some(message) if is_release(message) => 0,
            _ => self.places / 4,
        };
        if self.entries.len() >= self.places - kept_free {
            return Err(waiting);
        }
        let later = self.entries.iter().rev().take_while(|other| other.from > waiting.from);
        let place = self.entries.len() - later.count();
        self.entries.insert(place, waiting);
        Ok(())
    }

    /// The first message, if it may be sent at `now`.
    pub fn ready(&self, now: Ns) -> Option<&Waiting> {
        self.entries.front().filter(|waiting| waiting.from <= now)
    }

    /// The time from which the first message may be sent.
    pub fn next(&self) -> Option<Ns> {
        self.entries.front().map(|waiting| waiting.from)
    }

    /// Removes and returns the first message.
    pub fn pop(&mut self) -> Option<Waiting> {
        self.entries.pop_front()
    }

    /// Puts back the message that was just removed.
    pub fn put_back(&mut self, waiting: Waiting) {
        self.entries.push_front(waiting);
    }

    /// The time until which a message of the same key waits; `None` if none does.
    pub fn key_until(&self, message: Message) -> Option<Ns> {
        let key = key_of(message)?;
        let same = |waiting: &&Waiting| waiting.message().and_then(key_of) == Some(key);
        self.entries.iter().rev().find(same).map(|waiting| waiting.from)
    }

    /// Removes messages. The cost grows with the number of entries.
    pub fn cancel(&mut self, mut which: impl FnMut(Message) -> bool) {
        self.entries.retain(|waiting| !waiting.message().is_some_and(&mut which));
    }

    /// Lets every message be sent at once, except those that are useful only at their due time: it
    /// removes them and passes them to `dropped`.
    pub fn hurry(&mut self, now: Ns, mut dropped: impl FnMut(Waiting)) {
        for _ in 0..self.entries.len() {
            let Some(waiting) = self.entries.pop_front() else { break };
            if waiting.message().is_some_and(is_momentary) {
                dropped(waiting);
            } else {
                self.entries.push_back(Waiting { from: waiting.from.min(now), ..waiting });
            }
        }
    }
}

fn key_of(message: Message) -> Option<(u8, u8)> {
    match message {
        Message::NoteOn { channel, key, .. } | Message::NoteOff { channel, key, .. } => {
            Some((channel.wire(), key.get()))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_midi::Channel;

    const MS: Ns = 1_000_000;

    fn on(key: u8) -> Message {
        let (channel, key) = (Channel::default(), U7::low_bits(key));
        Message::NoteOn { channel, key, velocity: U7::MAX }
    }

    fn off(key: u8) -> Message {
        let (channel, key) = (Channel::default(), U7::low_bits(key));
        Message::NoteOff { channel, key, velocity: U7::CENTRE }
    }

    fn waiting(from: Ns, message: Message) -> Waiting {
        Waiting { from, due: from, kind: Kind::Note, wire: message.into() }
    }

    fn all(backlog: &mut Backlog) -> Vec<(Ns, Message)> {
        std::iter::from_fn(|| backlog.pop())
            .filter_map(|waiting| Some((waiting.from, waiting.message()?)))
            .collect()
    }

    #[test]
    fn messages_are_ordered_by_time_and_then_by_arrival() {
        let mut backlog = Backlog::new(16);
        for (from, key) in [(20, 1), (10, 2), (20, 3), (0, 4), (10, 5)] {
            backlog.put(waiting(from, on(key))).unwrap();
        }
        assert!(backlog.ready(-1).is_none() && backlog.ready(0).is_some());
        let order = [(0, on(4)), (10, on(2)), (10, on(5)), (20, on(1)), (20, on(3))];
        assert_eq!(all(&mut backlog), order);
    }

    #[test]
    fn the_last_quarter_is_reserved_for_releases() {
        let mut backlog = Backlog::new(8);
        let taken = (0..20).filter(|&key| backlog.put(waiting(0, on(key))).is_ok()).count();
        let released = (0..20).filter(|&key| backlog.put(waiting(0, off(key))).is_ok()).count();
        assert_eq!((taken, released), (6, 2));
    }

    #[test]
    fn a_press_is_stale_after_a_tenth_of_a_second_and_a_release_never() {
        assert!(!waiting(0, on(1)).is_stale(100 * MS));
        assert!(waiting(0, on(1)).is_stale(101 * MS));
        assert!(waiting(0, Message::Clock).is_stale(101 * MS));
        for message in [off(1), Message::Stop, Message::Start] {
            assert!(!waiting(0, message).is_stale(3_600_000 * MS), "{message:?}");
        }
    }

    #[test]
    fn hurrying_drops_presses_and_pulses_and_sends_the_rest_at_once() {
        let mut backlog = Backlog::new(16);
        let program = Message::Program { channel: Channel::default(), program: U7::MAX };
        for (from, message) in [(5, off(1)), (50, on(2)), (50, Message::Clock), (60, program)] {
            backlog.put(waiting(from, message)).unwrap();
        }
        let mut dropped = Vec::new();
        backlog.hurry(20, |waiting| dropped.extend(waiting.message()));
        assert_eq!(dropped, [on(2), Message::Clock]);
        assert_eq!(all(&mut backlog), [(5, off(1)), (20, program)]);
    }

    #[test]
    fn the_last_waiting_message_of_a_key_is_found() {
        let mut backlog = Backlog::new(16);
        for (from, message) in [(5, on(1)), (7, off(1)), (9, on(2))] {
            backlog.put(waiting(from, message)).unwrap();
        }
        assert_eq!(backlog.key_until(on(1)), Some(7));
        assert_eq!(backlog.key_until(off(3)), None);
        assert_eq!(backlog.key_until(Message::Clock), None);
    }
}
