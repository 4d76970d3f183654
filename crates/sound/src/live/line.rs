//! The scheduler's end: messages go in, each with the moment it is to be heard.

use super::pending::Event;
use chaconne_time::Ns;
use rtrb::Producer;

/// Gives messages to the instrument. Neither waits, locks, nor allocates.
#[derive(Debug)]
pub struct Line {
    pub(super) events: Producer<Event>,
    pub(super) ahead: Ns,
}

impl Line {
    /// Hands over one whole MIDI message that is to be heard at `due`, in nanoseconds on the
    /// clock that the device was opened with; what is due already, as soon as may be. What no
    /// instrument knows is left out. Whether there was room.
    pub fn send(&mut self, due: Ns, message: &[u8]) -> bool {
        Event::message(due, message).is_none_or(|event| self.push(event))
    }

    /// Hands over a strike of the click. Whether there was room.
    pub fn strike(&mut self, due: Ns, accent: bool) -> bool {
        self.push(Event::strike(due, accent))
    }

    /// How long before it is heard a message must be handed over, in nanoseconds.
    pub fn ahead(&self) -> Ns {
        self.ahead
    }

    /// Whether there is no callback any more that could take something up.
    pub fn is_dead(&self) -> bool {
        self.events.is_abandoned()
    }

    /// Whether the callback has taken up all that was handed over.
    pub fn is_drained(&self) -> bool {
        self.events.slots() == self.events.buffer().capacity()
    }

    fn push(&mut self, event: Event) -> bool {
        self.events.push(event).is_ok()
    }
}
