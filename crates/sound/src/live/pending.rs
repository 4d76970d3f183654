//! What waits in the callback for its frame.
//!
//! In: messages and strikes of the click in the order in which they were handed over, each with the
//! moment it is due. Most come in the order of those; a hand, whose note is due at once while the
//! song was handed over early, goes before what is due later, unless it would change what that
//! means: nothing passes a message of its own channel but a note one of another key. Nothing is allocated after
//! [`Pending::new`].
//!
//! The clock's port of a JACK server keeps such a queue too, with another rule of what may pass
//! what: it sends pulses and messages of the system, which mean nothing here, and knows no click.
//! The only room below both is that of musical time, which has no business with the bytes of MIDI;
//! so each keeps its own.

use chaconne_time::Ns;
use std::collections::VecDeque;

/// The longest message that is taken: the system-exclusive ones an instrument knows have 8 bytes.
pub const LONGEST: usize = 8;

/// One thing that is to sound, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Event {
    /// When it is to be heard.
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
pub enum Asked<'a> {
    /// A MIDI message for the instrument.
    Message(&'a [u8]),
    /// A strike of the click; whether it is accented.
    Strike(bool),
}

impl Event {
    /// A message; `None` where it is empty or longer than any that an instrument knows.
    pub fn message(due: Ns, message: &[u8]) -> Option<Event> {
        let mut bytes = [0; LONGEST];
        let len = u8::try_from(message.len()).ok().filter(|_| !message.is_empty())?;
        bytes.get_mut(..message.len())?.copy_from_slice(message);
        Some(Event { due, what: What::Message { len, bytes } })
    }

    /// A strike of the click.
    pub fn strike(due: Ns, accent: bool) -> Event {
        Event { due, what: What::Strike { accent } }
    }

    /// What it asks for.
    pub fn asked(&self) -> Asked<'_> {
        match &self.what {
            What::Message { len, bytes } => Asked::Message(&bytes[..usize::from(*len)]),
            What::Strike { accent } => Asked::Strike(*accent),
        }
    }

    /// Whether it must stay behind `earlier`, whenever it is due.
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

/// The messages that wait, by when they are due.
#[derive(Debug)]
pub struct Pending {
    events: VecDeque<Event>,
    most: usize,
}

impl Pending {
    /// How many messages one can pass, so that a burst costs no more than it has notes.
    const FURTHEST: usize = 64;

    /// Room for so many.
    pub fn new(most: usize) -> Pending {
        Pending { events: VecDeque::with_capacity(most + 1), most }
    }

    /// Whether there is no room.
    pub fn is_full(&self) -> bool {
        self.events.len() >= self.most
    }

    /// Takes one in; the caller has looked that there is room.
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

    /// When the next is due.
    pub fn next_due(&self) -> Option<Ns> {
        self.events.front().map(|event| event.due)
    }

    /// Takes out the next, if it is due before `end`.
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
    fn a_hand_passes_the_song_that_was_handed_over_early() {
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
    fn only_what_is_due_comes_out() {
        let mut pending = Pending::new(4);
        pending.add(event(10, &[0x90, 60, 90]));
        assert_eq!(pending.take_before(10), None);
        assert!(pending.take_before(11).is_some() && pending.next_due().is_none());
        assert_eq!(Event::message(0, &[]), None);
        assert_eq!(Event::message(0, &[0xF0; 9]), None);
    }
}
