//! A model of a serial MIDI cable: 31,250 baud, ten bits to the byte, so 320 microseconds a byte.
//!
//! In: items to send, and the moment. Out: the bytes that may be put on the line now. The line
//! has no clock and no port: the caller asks [`SerialLine::peek`], writes, and reports that with
//! [`SerialLine::took`]; the next byte is offered when the one before has been transmitted. So a real
//! port and a forecast get the same bytes at the same moments.
//!
//! | goes out | what | must not overtake |
//! | --- | --- | --- |
//! | as the very next byte | real-time: pulses, start, stop, continue | each other; start and continue: a song position |
//! | as the next message | system common, quarter frames, time code and machine control | each other |
//! | then | what has waited [`PATIENCE`] | as below |
//! | then | releases, pedals going up, percussion | notes of its key; state of its channel |
//! | then | other presses | the same |
//! | then | state: bank, program, parameters, switches, channel mode | all notes and state of its channel |
//! | then | other system-exclusive messages | all that is above, on every channel |
//! | last | other controllers, bend, pressures: only the newest waits | state of its channel |
//!
//! (Presses, state and system-exclusive messages are of one favour: first come, first gone.)
//! Nothing but releases, pedals going up and sound-off overtakes a system-exclusive message.
//! A press may overtake a bend or a level that came before it: notes are in time first.
//!
//! Bounds. A real-time byte starts at most one byte (320 us) late, plus 320 us for each
//! real-time byte before it; a start or continue behind a song position waits for that, and
//! pulses behind it. Whatever has waited [`PATIENCE`] is overtaken by system messages alone:
//! so it is out after that and the time the line needs for what came before it. A value that
//! replaces another inherits its waiting time.
//!
//! Running status is used on channel messages ([`Grain::Bytes`] only); the status is repeated
//! after [`RENEW`], so that a cable plugged in later is understood. Nothing
//! is allocated or freed after [`SerialLine::new`]; system-exclusive bytes are returned once they
//! are transmitted.

mod choose;
mod item;
mod queue;

pub use item::{Item, PATIENCE};

use crate::{Message, U7, Wire};
use chaconne_time::Ns;
use item::{Kind, is_real_time, kind_of, silences};
use queue::{Queue, is_cue};
use std::collections::VecDeque;

/// How long the line takes for a byte: 320 us (MIDI 1.0, "Hardware": 31,250 baud, a start bit, eight
/// data bits, a stop bit).
pub const BYTE: Ns = 320_000;
/// How long running status is used at most before the status byte is repeated: 200 ms.
pub const RENEW: Ns = 200_000_000;
/// The default number of places on a port's line.
pub const PLACES: usize = 512;
/// How many real-time bytes can wait; the last quarter is for a stop.
const REAL_TIME: usize = 64;

/// The pieces in which a port accepts data.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Grain {
    /// Byte by byte: a raw serial port. Running status is used, and real-time bytes go between
    /// the bytes of other messages.
    Bytes,
    /// Whole messages: a port of a MIDI service. Real-time messages go between messages.
    Messages,
}

/// What to remove from the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Clear {
    /// Presses, and system-exclusive messages that are no time code or machine control: for
    /// silence while the music continues.
    Presses,
    /// All but what ends sound, real-time and system messages: for silence at the end.
    Music,
    /// Everything: the port is gone. The line is free, and running status starts afresh.
    Everything,
}

/// Something whose first byte has gone out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Began<T> {
    /// The message; none where it is system-exclusive.
    pub message: Option<Message>,
    /// When it was due.
    pub due: Ns,
    /// The caller's tag.
    pub tag: T,
}

/// Something whose last byte has been offered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ended<T> {
    /// What it was.
    pub item: Item<T>,
    /// When its last byte has been transmitted.
    pub at: Ns,
}

/// The outcome of a write.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Took<T> {
    /// What began.
    pub began: Option<Began<T>>,
    /// What ended.
    pub ended: Option<Ended<T>>,
}

/// What the line has counted so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LineCounts {
    /// Continuous values that newer ones replaced before they were sent.
    pub thinned: u64,
    /// The longest from the moment something was due to the end of its last byte, in ns.
    pub worst: Ns,
}

/// What was last offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Offer {
    #[default]
    Nothing,
    RealTime,
    Message,
}

/// The message that is being sent, or is the next to be.
#[derive(Debug)]
struct Current<T> {
    item: Item<T>,
    /// Its bytes under running status, unless it is system-exclusive.
    said: [u8; 3],
    length: usize,
    taken: usize,
    /// A system-exclusive message that must end with its next byte.
    cut: bool,
}

/// The line. See the [module](self).
#[derive(Debug)]
pub struct SerialLine<T> {
    grain: Grain,
    /// How long before the line is free the next byte is offered.
    ahead: Ns,
    real_time: VecDeque<Item<T>>,
    queue: Queue<T>,
    current: Option<Current<T>>,
    offer: Offer,
    real_time_byte: [u8; 1],
    free_at: Ns,
    /// The running status, and when it was sent; 0 for none.
    status: u8,
    said_at: Ns,
    worst: Ns,
}

impl<T: Copy> SerialLine<T> {
    /// An idle line with so many places for waiting items (at least 4); real-time bytes have 64
    /// places of their own. A quarter of the places is reserved for releases and other messages that
    /// end a sound.
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
            said_at: 0,
            worst: 0,
        }
    }

    /// Offers bytes so many nanoseconds (0 to 320,000) before the line is free, for ports that
    /// buffer a byte themselves: a late caller then leaves no gap. Real-time messages can be that
    /// much later.
    pub fn ahead(mut self, ahead: Ns) -> SerialLine<T> {
        self.ahead = ahead.clamp(0, BYTE);
        self
    }

    /// Queues something to send.
    ///
    /// # Errors
    /// Returns the item if there is no place for it, or if it is a system-exclusive message without
    /// its F0 or F7.
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

    /// What may be sent now: a byte or a message, by the grain. `None` while the previous byte is
    /// still being transmitted, or if nothing waits.
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
        self.spell(now);
        let current = self.current.as_ref()?;
        self.offer = Offer::Message;
        Some(current.rest(self.grain))
    }

    /// Reports that the bytes of the last [`SerialLine::peek`] were written at `now`.
    pub fn took(&mut self, now: Ns) -> Took<T> {
        match std::mem::take(&mut self.offer) {
            Offer::Nothing => Took { began: None, ended: None },
            Offer::RealTime => self.took_real_time(now),
            Offer::Message => self.took_message(now),
        }
    }

    /// When to call [`SerialLine::peek`] again; `None` if nothing waits. May be in the past.
    pub fn next_deadline(&self) -> Option<Ns> {
        (!self.is_empty()).then(|| self.free_at.saturating_sub(self.ahead))
    }

    /// Whether nothing waits and nothing is half sent.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// How many items wait or are half sent.
    pub fn len(&self) -> usize {
        self.real_time.len() + self.queue.len() + usize::from(self.current.is_some())
    }

    /// What the line has counted so far.
    pub fn counts(&self) -> LineCounts {
        LineCounts { thinned: self.queue.thinned(), worst: self.worst }
    }

    /// Removes what waits and hands it to `back`. A message that is half sent is finished; a
    /// system-exclusive message ends with its next byte and is returned by [`SerialLine::took`].
    /// Releases stay, even those whose press is removed.
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

    /// The real-time byte that may go now.
    fn next_real_time(&self) -> Option<u8> {
        let first = self.real_time.front()?.message()?;
        let held = matches!(first, Message::Start | Message::Continue)
            && (self.queue.has_cue() || self.current.as_ref().is_some_and(|c| is_cue(&c.item)));
        (!held).then(|| first.bytes()[0])
    }

    /// Encodes the current message, unless part of it has been sent.
    fn spell(&mut self, now: Ns) {
        let fresh = self.grain == Grain::Bytes && now.saturating_sub(self.said_at) < RENEW;
        let running = if fresh { self.status } else { 0 };
        if let Some(current) = self.current.as_mut().filter(|current| current.taken == 0) {
            current.spell(running);
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
            self.said_at = now;
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
        Current { item, said: [0; 3], length: 0, taken: 0, cut: false }
    }

    /// Encodes the message under a running status (0: none).
    fn spell(&mut self, running: u8) {
        let Some(message) = self.item.message() else { return };
        let whole = match message {
            // The press of velocity 0 saves the status byte (MIDI 1.0, "Note-Off").
            Message::NoteOff { channel, key, velocity: U7::CENTRE }
                if running == 0x90 | channel.wire() =>
            {
                Message::NoteOn { channel, key, velocity: U7::MIN }.bytes()
            }
            message => message.bytes(),
        };
        let said = if whole[0] == running { &whole[1..] } else { &whole[..] };
        self.said[..said.len()].copy_from_slice(said);
        self.length = said.len();
    }

    fn bytes(&self) -> &[u8] {
        match &self.item.wire {
            Wire::Message(_) => &self.said[..self.length],
            Wire::SysEx(bytes) => bytes,
        }
    }

    fn total(&self) -> usize {
        self.bytes().len()
    }

    /// What is to be written next.
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
