//! The key book: the one place that knows whether a key is down.
//!
//! In: presses and lifts by voice, and the state of each message on its way: it waits, it is on a
//! serial line, the port has taken it, or the port is still owed it. Out: the messages that a press
//! or a lift needs, whether a release is needed at all, and the messages that silence a port.
//!
//! A key is *held* while voices hold it ([`Ledger`]), and *down* from when its port has taken a press
//! until it has taken the release. In between, a press may be waiting or on a serial line. When a
//! port is lost, one call clears everything about it ([`KeyBook::lose`]).
//!
//! Nothing is allocated after [`KeyBook::new`].

mod owed;
mod sounding;

pub use sounding::Sounding;
pub(crate) use sounding::{SUSTAIN, channels};

use chaconne_engine::{Address, Hand, Ledger, PortIx, Releases, Slot, Voice};
use chaconne_midi::{Channel, Message, U7};
use owed::Owed;
use std::sync::Arc;

/// The keys of a port: 16 channels of 128.
const KEYS: usize = 16 * 128;

/// What to send for a press.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Press {
    /// These messages, in order: the release of the key if it is already held, then the note-on.
    Send([Option<Message>; 2]),
    /// Nothing: the voice holds the key already.
    Held,
    /// Nothing: there is no such port, or no room for another voice.
    Refused,
}

/// The messages of one port's keys that are on their way.
#[derive(Debug)]
struct OnTheWay {
    /// How many presses of each key are waiting.
    waiting: Box<[u8]>,
    /// The number of presses of each key on the serial line, minus its releases there.
    line: Box<[i8]>,
    owed: Owed,
    /// The channels on which a key was ever struck, a bit each.
    used: u16,
}

/// The key book of all ports.
#[derive(Debug)]
pub(crate) struct KeyBook {
    ledger: Ledger,
    ports: Box<[OnTheWay]>,
    /// The ports that may be owed something, a bit each. It is read for every message, so it is kept
    /// apart from the long tables.
    owing: u32,
    /// The keys and pedals that are down, which other threads read too.
    sounding: Arc<Sounding>,
    down: usize,
}

impl KeyBook {
    /// A book for this many ports, and this many voices at a time.
    pub fn new(ports: usize, voices: usize) -> KeyBook {
        let port = |_| OnTheWay {
            waiting: vec![0; KEYS].into(),
            line: vec![0; KEYS].into(),
            owed: Owed::new(),
            used: 0,
        };
        KeyBook {
            ledger: Ledger::new(ports, voices),
            ports: (0..ports).map(port).collect(),
            owing: 0,
            sounding: Arc::new(Sounding::new(ports)),
            down: 0,
        }
    }

    /// A voice presses a key. Returns what to send.
    pub fn press(&mut self, address: Address, velocity: U7, slot: Slot, voice: Voice) -> Press {
        let (mut messages, refused) = ([None; 2], self.ledger.refused());
        let mut places = messages.iter_mut();
        let taken = self.ledger.press(address, velocity, slot, voice, &mut |_, message| {
            if let Some(place) = places.next() {
                *place = Some(message);
            }
        });
        match taken {
            true => Press::Send(messages),
            false if self.ledger.refused() == refused => Press::Held,
            false => Press::Refused,
        }
    }

    /// A voice lifts a key. Returns the release, if it was the last voice to hold the key.
    pub fn lift(
        &mut self,
        address: Address,
        velocity: U7,
        slot: Slot,
        voice: Voice,
    ) -> Option<Message> {
        let mut release = None;
        self.ledger.lift(address, velocity, slot, voice, &mut |_, message| {
            release = Some(message);
        });
        release
    }

    /// Records a message other than a note, so that controllers can be brought to rest at the end.
    /// Returns the message to send; `None` if a pedal does not move because the song or the player
    /// still holds it.
    pub fn note(&mut self, port: PortIx, message: Message, hand: Hand) -> Option<Message> {
        self.ledger.resolve(port, message, hand)
    }

    /// Starts a new epoch of a slot: of what it holds, only what [`KeyBook::keep`] names continues.
    pub fn revise(&mut self, slot: Slot) {
        self.ledger.revise(slot);
    }

    /// This voice continues in the new epoch, on this key. Returns whether it holds the key.
    pub fn keep(&mut self, slot: Slot, voice: Voice, address: Address) -> bool {
        self.ledger.keep(slot, voice, address)
    }

    /// The next message of `releases`; `None` once all is released.
    pub fn next_release(&mut self, releases: &mut Releases) -> Option<(PortIx, Message)> {
        self.ledger.next_release(releases)
    }

    /// Records that a press is waiting for its port, or no longer is. Other messages are ignored.
    pub fn wait(&mut self, port: usize, message: Message, waits: bool) {
        let (Message::NoteOn { .. }, Some(cell)) = (message, cell_of(message)) else { return };
        let count = &mut self.ports[port].waiting[cell];
        *count = if waits { count.saturating_add(1) } else { count.saturating_sub(1) };
    }

    /// Forgets the waiting presses of a message's key; returns how many there were.
    pub fn cancel(&mut self, port: usize, message: Message) -> u8 {
        let cell = cell_of(message);
        cell.map_or(0, |cell| std::mem::take(&mut self.ports[port].waiting[cell]))
    }

    /// Forgets all waiting presses of a port.
    pub fn cancel_all(&mut self, port: usize) {
        self.ports[port].waiting.fill(0);
    }

    /// Records that a message is now on a serial line.
    pub fn enter_line(&mut self, port: usize, message: Message) {
        self.weigh(port, message, 1);
    }

    /// Records that a message has left a serial line, whether it was sent or removed.
    pub fn leave_line(&mut self, port: usize, message: Message) {
        self.weigh(port, message, -1);
    }

    /// Records that a port has taken a message.
    pub fn took(&mut self, port: usize, message: Message) {
        if let Message::NoteOn { channel, .. } = message {
            self.ports[port].used |= 1 << channel.wire();
        }
        self.down = self.down.saturating_add_signed(self.sounding.note(port, message));
    }

    /// Whether a message releases a key that is not down and will not be down after the messages on
    /// the serial line. Then it is not needed, unless a press is still
    /// [waiting](KeyBook::is_waiting).
    pub fn is_idle(&self, port: usize, message: Message) -> bool {
        let Message::NoteOff { channel, key, .. } = message else { return false };
        let down = i8::from(self.sounding.is_down(port, channel, key));
        let line = cell_of(message).map_or(0, |cell| self.ports[port].line[cell]);
        down.saturating_add(line) <= 0
    }

    /// Whether a press of a message's key is waiting.
    pub fn is_waiting(&self, port: usize, message: Message) -> bool {
        cell_of(message).is_some_and(|cell| self.ports[port].waiting[cell] > 0)
    }

    /// Takes a message that found no room anywhere. Returns whether it is a release, which the port is
    /// owed from now on.
    pub fn owe(&mut self, port: usize, message: Message) -> bool {
        let is_owed = self.ports[port].owed.owe(message);
        self.owing |= u32::from(is_owed) << port;
        is_owed
    }

    /// Whether a port may be owed something.
    pub fn owes(&self, port: usize) -> bool {
        self.owing >> port & 1 == 1
    }

    /// The next message that a port is owed; `None` if it is owed nothing.
    pub fn next_owed(&mut self, port: usize) -> Option<Message> {
        if !self.owes(port) {
            return None;
        }
        let next = self.ports[port].owed.next();
        if next.is_none() {
            self.owing &= !(1 << port);
        }
        next
    }

    /// Records that a message that was owed has been sent, or is no longer needed.
    pub fn pay(&mut self, port: usize, message: Message) {
        self.ports[port].owed.pay(message);
    }

    /// Clears everything about a port that is gone: the keys held and down there, and the messages on
    /// their way.
    pub fn lose(&mut self, port: usize) {
        let Some(way) = self.ports.get_mut(port) else { return };
        way.waiting.fill(0);
        way.line.fill(0);
        way.owed = Owed::new();
        self.owing &= !(1 << port);
        self.down -= self.sounding.forget(port);
        self.ledger.lose(PortIx(port as u8));
    }

    /// How many keys are down, on all ports.
    pub fn down(&self) -> usize {
        self.down
    }

    /// The channels of a port on which a key was ever struck, one bit each.
    pub fn used(&self, port: usize) -> u16 {
        self.ports[port].used
    }

    /// The keys and pedals that are down, readable from any thread.
    pub fn sounding(&self) -> &Arc<Sounding> {
        &self.sounding
    }

    /// Whether no voice holds any key.
    #[cfg(test)]
    pub fn is_empty(&self) -> bool {
        self.ledger.is_empty() && self.ledger.held() == 0
    }

    fn weigh(&mut self, port: usize, message: Message, change: i8) {
        let Some(cell) = cell_of(message) else { return };
        let is_press = matches!(message, Message::NoteOn { .. });
        let more = if is_press { change } else { -change };
        let line = &mut self.ports[port].line[cell];
        *line = line.saturating_add(more);
    }
}

/// The index of a message's key in the tables; `None` if it is not a note.
fn cell_of(message: Message) -> Option<usize> {
    match message {
        Message::NoteOn { channel, key, .. } | Message::NoteOff { channel, key, .. } => {
            Some(cell(channel, key))
        }
        _ => None,
    }
}

fn cell(channel: Channel, key: U7) -> usize {
    usize::from(channel.wire()) * 128 + usize::from(key.get())
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{NoteId, PassId};
    use chaconne_time::Tick;

    fn at(port: u8, key: u8) -> Address {
        Address { port: PortIx(port), channel: Channel::default(), key: U7::low_bits(key) }
    }

    fn voice(note: u32) -> Voice {
        Voice { pass: PassId(0), note: NoteId(note), cycle: Tick(0) }
    }

    fn press(book: &mut KeyBook, address: Address, note: u32) -> Vec<Message> {
        match book.press(address, U7::MAX, Slot(0), voice(note)) {
            Press::Send(messages) => messages.into_iter().flatten().collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_release_is_needed_only_if_its_press_is_down_or_on_the_line() {
        let mut book = KeyBook::new(1, 8);
        let on = press(&mut book, at(0, 60), 1)[0];
        let off = book.lift(at(0, 60), U7::MIN, Slot(0), voice(1)).unwrap();
        assert!(book.is_idle(0, off));
        book.wait(0, on, true);
        assert!(book.is_idle(0, off) && book.is_waiting(0, off));
        assert_eq!((book.cancel(0, off), book.is_waiting(0, off)), (1, false));
        book.enter_line(0, on);
        assert!(!book.is_idle(0, off), "the press is on the line");
        book.enter_line(0, off);
        assert!(book.is_idle(0, off), "its release is on the line too");
        book.leave_line(0, on);
        book.took(0, on);
        book.leave_line(0, off);
        assert!(!book.is_idle(0, off) && book.down() == 1);
        book.took(0, off);
        assert!(book.is_idle(0, off) && book.down() == 0);
    }

    #[test]
    fn a_key_held_twice_is_released_before_it_is_struck_again() {
        let mut book = KeyBook::new(1, 8);
        assert_eq!(press(&mut book, at(0, 60), 1).len(), 1);
        let again = press(&mut book, at(0, 60), 2);
        assert!(matches!(again[..], [Message::NoteOff { .. }, Message::NoteOn { .. }]));
        assert_eq!(book.press(at(0, 60), U7::MAX, Slot(0), voice(2)), Press::Held);
        assert_eq!(book.press(at(9, 60), U7::MAX, Slot(0), voice(3)), Press::Refused);
        assert_eq!(book.lift(at(0, 60), U7::MIN, Slot(0), voice(1)), None);
        assert!(book.lift(at(0, 60), U7::MIN, Slot(0), voice(2)).is_some());
    }

    #[test]
    fn losing_a_port_clears_it_everywhere_and_leaves_the_others() {
        let mut book = KeyBook::new(2, 8);
        for (note, port) in [(1, 0), (2, 1)] {
            let on = press(&mut book, at(port, 60), note)[0];
            let port = usize::from(port);
            book.wait(port, on, true);
            book.enter_line(port, on);
            book.took(port, on);
            let off = Message::NoteOff {
                channel: Channel::default(),
                key: U7::low_bits(60),
                velocity: U7::CENTRE,
            };
            assert!(book.owe(port, off));
        }
        book.lose(0);
        let off = book.next_owed(1).unwrap();
        assert!(!book.owes(0) && !book.is_waiting(0, off) && book.is_idle(0, off));
        assert!(book.is_waiting(1, off) && !book.is_idle(1, off));
        assert_eq!((book.down(), book.sounding().releases(0).count()), (1, 0));
        assert_eq!(book.next_release(&mut Releases::all()).unwrap().0, PortIx(1));
        assert!(book.is_empty());
    }
}
