//! The queue inside the process callback: messages waiting for their frame, in sending order.
//!
//! In: messages in the order the scheduler handed them over, each with its due time. Most arrive in
//! due order. A message that is due before some that are already waiting (such as a live note, due at
//! once, while the song was handed over early) passes them, unless that would change what they mean.
//! A message never passes one for the same key, and a note never passes a controller of its channel.
//! Nothing passes a system message, except that notes and controllers pass clock pulses. Nothing is
//! allocated after [`Pending::new`].
//!
//! The instrument's own callback has a similar queue, with different rules about which message may
//! pass another.

use chaconne_time::Ns;
use std::collections::VecDeque;

/// A message, or the notice of one in the queue of long messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Event {
    pub due: Ns,
    /// Its length in bytes; more than three if it is in the queue of long messages.
    pub len: u32,
    /// Its bytes, if it is short.
    pub bytes: [u8; 3],
}

impl Event {
    pub fn is_long(&self) -> bool {
        self.len as usize > self.bytes.len()
    }

    fn status(&self) -> u8 {
        if self.is_long() { 0xF0 } else { self.bytes[0] }
    }

    fn is_clock(&self) -> bool {
        self.status() == 0xF8
    }

    fn is_note(&self) -> bool {
        matches!(self.status() & 0xF0, 0x80 | 0x90 | 0xA0)
    }

    /// Whether it must stay behind `earlier`, whatever their due times.
    fn must_follow(&self, earlier: &Event) -> bool {
        let (own, other) = (self.status(), earlier.status());
        if own >= 0xF0 || other >= 0xF0 {
            // Notes and controllers may pass a pulse; nothing else may pass a system message.
            return own >= 0xF0 || !earlier.is_clock();
        }
        let same_key = self.bytes[1] == earlier.bytes[1];
        own & 0x0F == other & 0x0F && (same_key || !self.is_note() || !earlier.is_note())
    }
}

/// The waiting messages, in order of their due times.
#[derive(Debug)]
pub(crate) struct Pending {
    events: VecDeque<Event>,
    most: usize,
}

impl Pending {
    /// How many waiting messages a new one can pass, which bounds the cost of a burst.
    const FURTHEST: usize = 64;

    /// Room for `most` messages.
    pub fn new(most: usize) -> Pending {
        Pending { events: VecDeque::with_capacity(most + 1), most }
    }

    pub fn is_full(&self) -> bool {
        self.events.len() >= self.most
    }

    /// Adds a message. The caller has checked that there is room.
    pub fn add(&mut self, mut event: Event) {
        let len = self.events.len();
        let mut place = len;
        while place > len.saturating_sub(Self::FURTHEST)
            && self.events[place - 1].due > event.due
            && !event.must_follow(&self.events[place - 1])
        {
            place -= 1;
        }
        if place > 0 {
            event.due = event.due.max(self.events[place - 1].due);
        }
        self.events.insert(place, event);
    }

    /// The next message to go out.
    pub fn first(&self) -> Option<&Event> {
        self.events.front()
    }

    /// Removes the next message.
    pub fn pop(&mut self) {
        self.events.pop_front();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn event(due: Ns, bytes: [u8; 3]) -> Event {
        Event { due, len: 3, bytes }
    }

    fn order(events: &[Event]) -> Vec<Event> {
        let mut pending = Pending::new(10_000);
        events.iter().for_each(|&event| pending.add(event));
        let mut out = Vec::new();
        while let Some(&event) = pending.first() {
            out.push(event);
            pending.pop();
        }
        out
    }

    #[test]
    fn a_live_note_passes_song_messages_that_were_handed_over_early() {
        let (pulse, song) = (event(30, [0xF8, 0, 0]), event(40, [0x90, 60, 90]));
        let hand = event(10, [0x90, 64, 90]);
        assert_eq!(order(&[pulse, song, hand]), [hand, pulse, song]);
    }

    #[test]
    fn a_note_off_never_passes_its_note_on_nor_a_note_a_controller_of_its_channel() {
        let press = event(40, [0x90, 60, 90]);
        let release = event(10, [0x80, 60, 64]);
        assert_eq!(order(&[press, release]), [press, event(40, [0x80, 60, 64])]);
        let program = event(40, [0xC0, 5, 0]);
        let (same, other) = (event(10, [0x90, 60, 90]), event(10, [0x91, 60, 90]));
        assert_eq!(order(&[program, same, other])[0], other);
        assert_eq!(order(&[program, same]), [program, event(40, [0x90, 60, 90])]);
        // A mode message silences the notes handed over before it.
        let off = event(10, [0xB0, 123, 0]);
        assert_eq!(order(&[press, off]), [press, event(40, [0xB0, 123, 0])]);
    }

    #[test]
    fn system_messages_keep_their_order_and_only_pulses_are_passed() {
        let pulse = event(40, [0xF8, 0, 0]);
        let stop = event(10, [0xFC, 0, 0]);
        assert_eq!(order(&[pulse, stop]), [pulse, event(40, [0xFC, 0, 0])]);
        let long = Event { due: 40, len: 11, bytes: [0; 3] };
        let note = event(10, [0x90, 60, 90]);
        assert_eq!(order(&[long, note]), [long, event(40, [0x90, 60, 90])]);
        assert_eq!(order(&[pulse, note]), [note, pulse]);
    }

    fn any_event() -> impl Strategy<Value = Event> {
        let status = prop::sample::select(vec![0x80, 0x90, 0x91, 0xB0, 0xC1, 0xF8, 0xFA]);
        (0i64..2000, status, 0u8..4).prop_map(|(due, status, key)| Event {
            due,
            len: 3,
            bytes: [status, key, 1],
        })
    }

    proptest! {
        #[test]
        fn each_message_goes_out_once_in_due_order_and_each_key_keeps_its_order(
            events in prop::collection::vec(any_event(), 0..300)
        ) {
            let out = order(&events);
            prop_assert!(out.is_sorted_by_key(|event| event.due));
            let of = |events: &[Event], one: &Event| -> Vec<u8> {
                let same = |other: &&Event| {
                    other.bytes[1] == one.bytes[1] && other.status() & 0x0F == one.status() & 0x0F
                };
                events.iter().filter(same).map(|event| event.status()).collect()
            };
            for one in &events {
                prop_assert_eq!(of(&events, one), of(&out, one));
            }
            prop_assert_eq!(events.len(), out.len());
        }
    }
}
