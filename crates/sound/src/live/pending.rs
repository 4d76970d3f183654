//! The messages waiting in the callback for their frame.
//!
//! In: messages and clicks in sending order, each with its due time. Usually they are already
//! sorted. But the song is sent early, while a note played by hand is due at once, so that note may
//! overtake messages that are due later. It must not change their meaning: nothing overtakes a
//! message of its own channel, except that a note may overtake a note on another key. Nothing is
//! allocated after [`Pending::new`].
//!
//! A JACK port has a similar queue with other rules: it carries pulses and system messages, which
//! the instrument ignores, and no clicks.

use chaconne_time::Ns;
use std::collections::VecDeque;

/// The longest message it accepts, in bytes: the longest an instrument understands is a
/// system-exclusive message of 8.
pub const LONGEST: usize = 8;

/// A message or a click, and when it is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// When it is due to sound, in nanoseconds.
    pub due: Ns,
    what: What,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Message { len: u8, bytes: [u8; LONGEST] },
    Strike { accent: bool },
}

/// What an event asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Request<'a> {
    /// A MIDI message for the instrument.
    Message(&'a [u8]),
    /// A click, and whether it is accented.
    Strike(bool),
}

impl Event {
    /// A message; `None` if it is empty or longer than [`LONGEST`].
    pub fn message(due: Ns, message: &[u8]) -> Option<Event> {
        let mut bytes = [0; LONGEST];
        let len = u8::try_from(message.len()).ok().filter(|_| !message.is_empty())?;
        bytes.get_mut(..message.len())?.copy_from_slice(message);
        Some(Event { due, what: What::Message { len, bytes } })
    }

    /// A click.
    pub fn strike(due: Ns, accent: bool) -> Event {
        Event { due, what: What::Strike { accent } }
    }

    /// What it asks for.
    pub fn request(&self) -> Request<'_> {
        match &self.what {
            What::Message { len, bytes } => Request::Message(&bytes[..usize::from(*len)]),
            What::Strike { accent } => Request::Strike(*accent),
        }
    }

    /// Whether it must stay behind `earlier`, even if it is due before it.
    fn must_follow(&self, earlier: &Event) -> bool {
        let (What::Message { bytes: own, .. }, What::Message { bytes: other, .. }) =
            (self.what, earlier.what)
        else {
            return false;
        };
        let is_note = |bytes: [u8; LONGEST]| matches!(bytes[0] & 0xF0, 0x80 | 0x90 | 0xA0);
        let is_system = own[0] >= 0xF0 || other[0] >= 0xF0;
        let apart = is_note(own) && is_note(other) && own[1] != other[1];
        is_system || own[0] & 0x0F == other[0] & 0x0F && !apart
    }
}

/// The waiting messages, sorted by when they are due.
#[derive(Debug)]
pub struct Pending {
    events: VecDeque<Event>,
    most: usize,
}

impl Pending {
    /// The most messages that one message can overtake, which bounds the cost of a burst.
    const FURTHEST: usize = 64;

    /// A queue with room for this many messages.
    pub fn new(most: usize) -> Pending {
        Pending { events: VecDeque::with_capacity(most + 1), most }
    }

    /// Whether it has no room left.
    pub fn is_full(&self) -> bool {
        self.events.len() >= self.most
    }

    /// Adds a message. The caller must have checked that there is room.
    pub fn add(&mut self, mut event: Event) {
        let len = self.events.len();
        let least = len.saturating_sub(Self::FURTHEST);
        let mut place = len;
        while place > least
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

    /// When the next message is due.
    pub fn next_due(&self) -> Option<Ns> {
        self.events.front().map(|event| event.due)
    }

    /// Removes the next message if it is due before `end`.
    pub fn take_before(&mut self, end: Ns) -> Option<Event> {
        self.events.front().filter(|event| event.due < end)?;
        self.events.pop_front()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn event(due: Ns, bytes: &[u8]) -> Event {
        Event::message(due, bytes).unwrap()
    }

    fn order(events: &[Event]) -> Vec<Event> {
        let mut pending = Pending::new(100);
        events.iter().for_each(|&event| pending.add(event));
        std::iter::from_fn(|| pending.take_before(Ns::MAX)).collect()
    }

    #[test]
    fn a_note_played_by_hand_overtakes_the_song() {
        let song = [event(40, &[0x90, 60, 90]), event(50, &[0x91, 61, 90])];
        let hand = event(10, &[0x90, 64, 90]);
        assert_eq!(order(&[song[0], song[1], hand]), [hand, song[0], song[1]]);
        let strike = Event::strike(20, true);
        assert_eq!(order(&[song[0], strike]), [strike, song[0]]);
    }

    #[test]
    fn a_release_stays_behind_its_press_and_a_note_behind_its_program() {
        let press = event(40, &[0x90, 60, 90]);
        assert_eq!(order(&[press, event(10, &[0x80, 60, 64])])[0], press);
        let program = event(40, &[0xC0, 5]);
        assert_eq!(order(&[program, event(10, &[0x90, 60, 90])])[0], program);
        let reset = event(40, &[0xF0, 0x7E, 0x7F, 9, 1, 0xF7]);
        assert_eq!(order(&[reset, event(10, &[0x91, 60, 90])])[0], reset);
    }

    #[test]
    fn only_messages_that_are_due_come_out() {
        let mut pending = Pending::new(4);
        pending.add(event(10, &[0x90, 60, 90]));
        assert_eq!(pending.take_before(10), None);
        assert!(pending.take_before(11).is_some() && pending.next_due().is_none());
        assert_eq!(Event::message(0, &[]), None);
        assert_eq!(Event::message(0, &[0xF0; 9]), None);
    }
}
