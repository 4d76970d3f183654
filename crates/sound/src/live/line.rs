//! The scheduler's end of the instrument: accepts messages with the time at which they should
//! sound.

use super::pending::Event;
use chaconne_time::Ns;
use rtrb::Producer;

/// Sends messages to the instrument. Does not wait, lock or allocate.
#[derive(Debug)]
pub struct SoundLine {
    pub(super) events: Producer<Event>,
    pub(super) ahead: Ns,
}

impl SoundLine {
    /// Sends one whole MIDI message, due to sound at `due` in nanoseconds on the clock that the
    /// device was opened with. An overdue message sounds as soon as possible; one that no
    /// instrument understands is skipped. Returns `false` if there was no room.
    pub fn send(&mut self, due: Ns, message: &[u8]) -> bool {
        Event::message(due, message).is_none_or(|event| self.push(event))
    }

    /// Sends a click. Returns `false` if there was no room.
    pub fn strike(&mut self, due: Ns, accent: bool) -> bool {
        self.push(Event::strike(due, accent))
    }

    /// How early a message must be sent, in nanoseconds before its due time.
    pub fn ahead(&self) -> Ns {
        self.ahead
    }

    /// Whether the callback is gone, so that nothing will be played.
    pub fn is_dead(&self) -> bool {
        self.events.is_abandoned()
    }

    /// Whether the callback has collected everything sent.
    pub fn is_drained(&self) -> bool {
        self.events.slots() == self.events.buffer().capacity()
    }

    fn push(&mut self, event: Event) -> bool {
        self.events.push(event).is_ok()
    }
}
