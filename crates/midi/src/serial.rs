//! A model of a serial MIDI cable: 31,250 baud, ten bits per byte, so 320 microseconds per byte.
//!
//! In: items to send, and the time. Out: the bytes that may be written now. The line has no clock
//! and no port: the caller asks [`SerialLine::peek`], writes the bytes, and reports that with
//! [`SerialLine::took`]. The next byte is offered once the last has been transmitted. A real port
//! and a prediction therefore get the same bytes at the same times.
//!
//! | sent | what | must not overtake |
//! | --- | --- | --- |
//! | as the very next byte | real-time: pulses, start, stop, continue | each other; start and continue: a song position |
//! | as the next message | system common, quarter frames, time code, machine control | each other |
//! | then | anything that has waited for [`PATIENCE`] | as below |
//! | then | note-offs, pedals going up, percussion | notes of its key; state of its channel |
//! | then | other note-ons | the same |
//! | then | state: bank, program, parameters, switches, channel mode | all notes and state of its channel |
//! | then | other system-exclusive messages | everything above, on every channel |
//! | last | other controllers, bend, pressure: only the newest waits | state of its channel |
//!
//! Note-ons, state and system-exclusive messages have equal priority: first in, first out. Only
//! note-offs, pedals going up and sound-off overtake a system-exclusive message. A note-on may
//! overtake a bend or a volume that arrived before it, because a late note is easier to hear.
//!
//! Bounds. A real-time byte starts at most one byte (320 us) late, plus 320 us for each real-time
//! byte before it. A start or continue behind a song position waits for that, and pulses wait
//! behind it. Once an item has waited for [`PATIENCE`], only system messages overtake it, so it is
//! sent as soon as everything that arrived before it has been. A value that replaces another
//! inherits its waiting time.
//!
//! Running status is used for channel messages ([`Grain::Bytes`] only). The status byte is repeated
//! after [`RENEW`], so that a cable plugged in later is understood. Nothing is allocated or freed
//! after [`SerialLine::new`]; system-exclusive bytes are returned once they are transmitted.

mod choose;
mod item;
mod queue;

pub use item::{Item, PATIENCE};

use crate::{Message, U7, Wire};
use chaconne_time::Ns;
use item::{Kind, is_real_time, kind_of, silences};
use queue::{Queue, is_cue};
use std::collections::VecDeque;

/// The time one byte takes: 320 us (MIDI 1.0, "Hardware": 31,250 baud, a start bit, eight data
/// bits, a stop bit).
pub const BYTE: Ns = 320_000;
/// The longest time running status is used before the status byte is repeated: 200 ms.
pub const RENEW: Ns = 200_000_000;
/// The default number of places in a port's queue.
pub const PLACES: usize = 512;
/// How many real-time bytes can wait; the last quarter is kept for a stop.
const REAL_TIME: usize = 64;

/// The unit in which a port accepts data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grain {
    /// Single bytes: a raw serial port. Running status is used, and real-time bytes go between the
    /// bytes of other messages.
    Bytes,
    /// Whole messages: a port of a MIDI service. Real-time messages go between other messages.
    Messages,
}

/// What to remove from the queue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clear {
    /// Note-ons, and system-exclusive messages other than time code and machine control: for
    /// silence while the clock continues.
    Presses,
    /// Everything except messages that end a sound, real-time and system messages: for silence at
    /// the end.
    Music,
    /// Everything, because the port is gone. The line is free, and running status starts over.
    Everything,
}

/// A message whose first byte was just sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Began<T> {
    /// The message; `None` if it is system-exclusive.
    pub message: Option<Message>,
    /// When it was due.
    pub due: Ns,
    /// The caller's tag.
    pub tag: T,
}

/// A message whose last byte was just sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ended<T> {
    /// What it was.
    pub item: Item<T>,
    /// When its last byte will have been transmitted.
    pub at: Ns,
}

/// What a write started and finished.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Took<T> {
    /// The message that started, if any.
    pub began: Option<Began<T>>,
    /// The message that finished, if any.
    pub ended: Option<Ended<T>>,
}

/// Counts since the line was created.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LineCounts {
    /// Values that newer ones replaced before they were sent.
    pub thinned: u64,
    /// The longest time from due time to the end of the last byte, in ns.
    pub worst: Ns,
}

/// What the last `peek` offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Offer {
    #[default]
    Nothing,
    RealTime,
    Message,
}

/// The message that is being sent, or will be next.
#[derive(Debug)]
struct Current<T> {
    item: Item<T>,
    /// Its bytes under running status; unused for a system-exclusive message.
    encoded: [u8; 3],
    length: usize,
    taken: usize,
    /// End this system-exclusive message with its next byte.
    cut: bool,
}

/// The line. See the [module](self).
#[derive(Debug)]
pub struct SerialLine<T> {
    grain: Grain,
    /// How long before the line is free the next byte is offered, in ns.
    ahead: Ns,
    real_time: VecDeque<Item<T>>,
    queue: Queue<T>,
    current: Option<Current<T>>,
    offer: Offer,
    real_time_byte: [u8; 1],
    free_at: Ns,
    /// The running status (0 for none), and when it was sent.
    status: u8,
    status_at: Ns,
    worst: Ns,
}

impl<T: Copy> SerialLine<T> {
    /// An idle line with places for this many waiting items (at least 4), and 64 more for real-time
    /// bytes. A quarter of the places is reserved for note-offs and other messages that end a
    /// sound.
    pub fn new(grain: Grain, places: usize) -> SerialLine<T> {
        SerialLine {
            grain,
            ahead: 0,
            real_time: VecDeque::with_capacity(REAL_TIME),
            queue: Queue::new(places),
            current: None,
            offer: Offer::Nothing,
            real_time_byte: [0],
            free_at: Ns::MIN,
            status: 0,
            status_at: 0,
            worst: 0,
        }
    }

    /// Offers bytes this many nanoseconds (0 to 320,000) before the line is free, for ports that
    /// buffer a byte themselves: a caller that is late then leaves no gap. Real-time messages can
    /// be late by as much.
    pub fn ahead(mut self, ahead: Ns) -> SerialLine<T> {
        self.ahead = ahead.clamp(0, BYTE);
        self
    }

    /// Queues an item.
    ///
    /// # Errors
    /// Returns the item if there is no place for it, or if it is a system-exclusive message that
    /// lacks its F0 or F7.
    pub fn push(&mut self, now: Ns, item: Item<T>) -> Result<(), Item<T>> {
        if !is_real_time(&item.wire) {
            return self.queue.push(now, item);
        }
        let kept = if silences(&item.wire) { 0 } else { REAL_TIME / 4 };
        if self.real_time.len() + kept >= REAL_TIME {
            return Err(item);
        }
        self.real_time.push_back(item);
        Ok(())
    }

    /// What may be sent now: a byte or a message, depending on the grain. `None` while the previous
    /// byte is still being transmitted, or if nothing waits.
    pub fn peek(&mut self, now: Ns) -> Option<&[u8]> {
        self.offer = Offer::Nothing;
        if now < self.free_at.saturating_sub(self.ahead) {
            return None;
        }
        if let Some(byte) = self.next_real_time() {
            self.offer = Offer::RealTime;
            self.real_time_byte = [byte];
            return Some(&self.real_time_byte);
        }
        if self.current.is_none() {
            self.current = self.queue.next(now).map(Current::new);
        }
        self.encode(now);
        let current = self.current.as_ref()?;
        self.offer = Offer::Message;
        Some(current.rest(self.grain))
    }

    /// Reports that the bytes from the last [`SerialLine::peek`] were written at `now`.
    pub fn took(&mut self, now: Ns) -> Took<T> {
        match std::mem::take(&mut self.offer) {
            Offer::Nothing => Took { began: None, ended: None },
            Offer::RealTime => self.took_real_time(now),
            Offer::Message => self.took_message(now),
        }
    }

    /// When to call [`SerialLine::peek`] next; `None` if nothing waits. May be in the past.
    pub fn next_deadline(&self) -> Option<Ns> {
        (!self.is_empty()).then(|| self.free_at.saturating_sub(self.ahead))
    }

    /// Whether nothing is waiting or half sent.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// How many items are waiting or half sent.
    pub fn len(&self) -> usize {
        self.real_time.len() + self.queue.len() + usize::from(self.current.is_some())
    }

    /// Counts since the line was created.
    pub fn counts(&self) -> LineCounts {
        LineCounts { thinned: self.queue.thinned(), worst: self.worst }
    }

    /// Removes waiting items and passes them to `back`. A half-sent message is finished; a
    /// half-sent system-exclusive message ends with its next byte and is returned by
    /// [`SerialLine::took`]. Note-offs stay, even if their note-on is removed.
    pub fn clear(&mut self, what: Clear, mut back: impl FnMut(Item<T>)) {
        self.offer = Offer::Nothing;
        let stays = |item: &Item<T>| what.spares(item);
        self.queue.give_back(stays, &mut back);
        if let Some(mut current) = self.current.take() {
            if what == Clear::Everything || (current.taken == 0 && !stays(&current.item)) {
                back(current.item);
            } else {
                let is_sysex = matches!(current.item.wire, Wire::SysEx(_));
                current.cut |= is_sysex && !stays(&current.item);
                self.current = Some(current);
            }
        }
        if what == Clear::Everything {
            self.real_time.drain(..).for_each(back);
            (self.free_at, self.status) = (Ns::MIN, 0);
        }
    }

    /// The real-time byte that may be sent now.
    fn next_real_time(&self) -> Option<u8> {
        let first = self.real_time.front()?.message()?;
        let held = matches!(first, Message::Start | Message::Continue)
            && (self.queue.has_cue() || self.current.as_ref().is_some_and(|c| is_cue(&c.item)));
        (!held).then(|| first.bytes()[0])
    }

    /// Encodes the current message, unless part of it has been sent.
    fn encode(&mut self, now: Ns) {
        let fresh = self.grain == Grain::Bytes && now.saturating_sub(self.status_at) < RENEW;
        let running = if fresh { self.status } else { 0 };
        if let Some(current) = self.current.as_mut().filter(|current| current.taken == 0) {
            current.encode(running);
        }
    }

    fn took_real_time(&mut self, now: Ns) -> Took<T> {
        let Some(item) = self.real_time.pop_front() else { return Took::nothing() };
        self.occupy(now, 1);
        Took { began: Some(Began::of(&item)), ended: Some(self.end(item)) }
    }

    fn took_message(&mut self, now: Ns) -> Took<T> {
        let Some(mut current) = self.current.take() else { return Took::nothing() };
        let bytes = current.rest(self.grain);
        let (first, count) = (bytes.first().copied().unwrap_or(0), bytes.len());
        self.occupy(now, count);
        if first >= 0x80 {
            self.status = if first < 0xF0 { first } else { 0 };
            self.status_at = now;
        }
        let began = (current.taken == 0).then(|| Began::of(&current.item));
        current.taken += count;
        if !current.cut && current.taken < current.total() {
            self.current = Some(current);
            return Took { began, ended: None };
        }
        if let Some(message) = current.item.message() {
            self.queue.hurry_fine_half(message);
        }
        Took { began, ended: Some(self.end(current.item)) }
    }

    fn occupy(&mut self, now: Ns, bytes: usize) {
        self.free_at = now.max(self.free_at).saturating_add(BYTE * bytes as Ns);
    }

    fn end(&mut self, item: Item<T>) -> Ended<T> {
        let at = self.free_at;
        self.worst = self.worst.max(at.saturating_sub(item.due));
        Ended { item, at }
    }
}

impl<T> Current<T> {
    fn new(item: Item<T>) -> Current<T> {
        Current { item, encoded: [0; 3], length: 0, taken: 0, cut: false }
    }

    /// Encodes the message under a running status (0: none).
    fn encode(&mut self, running: u8) {
        let Some(message) = self.item.message() else { return };
        let whole = match message {
            // A note-on of velocity 0 saves the status byte (MIDI 1.0, "Note-Off").
            Message::NoteOff { channel, key, velocity: U7::CENTRE }
                if running == 0x90 | channel.wire() =>
            {
                Message::NoteOn { channel, key, velocity: U7::MIN }.bytes()
            }
            message => message.bytes(),
        };
        let encoded = if whole[0] == running { &whole[1..] } else { &whole[..] };
        self.encoded[..encoded.len()].copy_from_slice(encoded);
        self.length = encoded.len();
    }

    fn bytes(&self) -> &[u8] {
        match &self.item.wire {
            Wire::Message(_) => &self.encoded[..self.length],
            Wire::SysEx(bytes) => bytes,
        }
    }

    fn total(&self) -> usize {
        self.bytes().len()
    }

    /// The bytes to write next.
    fn rest(&self, grain: Grain) -> &[u8] {
        let end = if grain == Grain::Bytes { self.taken + 1 } else { self.total() };
        if self.cut { &[0xF7] } else { &self.bytes()[self.taken..end] }
    }
}

impl Clear {
    fn spares<T>(self, item: &Item<T>) -> bool {
        let is_system = kind_of(&item.wire) == Some(Kind::System);
        match self {
            Clear::Everything => false,
            Clear::Music => is_system || silences(&item.wire),
            Clear::Presses => match &item.wire {
                Wire::Message(message) => !matches!(message, Message::NoteOn { .. }),
                Wire::SysEx(_) => is_system,
            },
        }
    }
}

impl<T: Copy> Began<T> {
    fn of(item: &Item<T>) -> Began<T> {
        Began { message: item.message(), due: item.due, tag: item.tag }
    }
}

impl<T> Took<T> {
    fn nothing() -> Took<T> {
        Took { began: None, ended: None }
    }
}

#[cfg(test)]
mod tests;
