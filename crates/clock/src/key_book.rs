//! The key book: the one place that knows whether a key is down.
//!
//! In: presses and lifts by voice, and what becomes of each message on its way: it waits, it is on
//! a serial line, the port has taken it, the port owes it. Out: which messages a press or a lift
//! means, whether a release is needed at all, and what must go out before a port is silent.
//!
//! A key is *held* while voices hold it ([`Ledger`]), and *down* from when its port has taken a press
//! until it has taken the release. Between the two are presses that wait and presses on a serial line.
//! When a port is lost, one call clears all of them ([`KeyBook::lose`]).
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

/// Keys of a port: 16 channels of 128.
const KEYS: usize = 16 * 128;

/// What a press means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Press {
    /// These messages, in order: the release of a key that is held already, then the note-on.
    Send([Option<Message>; 2]),
    /// Nothing: the voice holds the key already.
    Held,
    /// Nothing: there is no such port, or no room for another voice.
    Refused,
}

/// The messages of one port's keys that are on their way.
#[derive(Debug)]
struct OnTheWay {
    /// How many presses of each key wait.
    waiting: Box<[u8]>,
    /// Presses less releases of each key that are on the serial line.
    line: Box<[i8]>,
    owed: Owed,
    /// Channels on which a key was ever struck.
    used: u16,
}

/// The book of all ports.
#[derive(Debug)]
pub(crate) struct KeyBook {
    ledger: Ledger,
    ports: Box<[OnTheWay]>,
    /// The ports that may be owed something, a bit each: asked for every message, and so kept apart
    /// from the long tables.
    owing: u32,
    /// What the ports have taken, which other threads read too.
    sounding: Arc<Sounding>,
    down: usize,
}

impl KeyBook {
    /// A book for so many ports and so many voices at a time.
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

    /// A voice takes a key.
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

    /// A voice lets a key go; the release, where it was the last to hold it.
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

    /// Notes a message that is no key's, so that controllers go to rest at the end. Returns what is to
    /// be sent for it; `None` where a pedal that both the song and the player hold stays as it is.
    pub fn note(&mut self, port: PortIx, message: Message, hand: Hand) -> Option<Message> {
        self.ledger.resolve(port, message, hand)
    }

    /// A new epoch of a slot: nothing it holds is kept until [`KeyBook::keep`] says so.
    pub fn revise(&mut self, slot: Slot) {
        self.ledger.revise(slot);
    }

    /// This voice goes on in the new epoch, on this key. Returns whether it holds it.
    pub fn keep(&mut self, slot: Slot, voice: Voice, address: Address) -> bool {
        self.ledger.keep(slot, voice, address)
    }

    /// The next message of `releases`; `None` once all is released.
    pub fn next_release(&mut self, releases: &mut Releases) -> Option<(PortIx, Message)> {
        self.ledger.next_release(releases)
    }

    /// A press waits for its port (`true`), or no longer does. Other messages are ignored.
    pub fn wait(&mut self, port: usize, message: Message, waits: bool) {
        let (Message::NoteOn { .. }, Some(cell)) = (message, cell_of(message)) else { return };
        let count = &mut self.ports[port].waiting[cell];
        *count = if waits { count.saturating_add(1) } else { count.saturating_sub(1) };
    }

    /// Removes the waiting presses of a message's key; returns how many there were.
    pub fn cancel(&mut self, port: usize, message: Message) -> u8 {
        let cell = cell_of(message);
        cell.map_or(0, |cell| std::mem::take(&mut self.ports[port].waiting[cell]))
    }

    /// No press waits for a port any more.
    pub fn cancel_all(&mut self, port: usize) {
        self.ports[port].waiting.fill(0);
    }

    /// A message has come onto a serial line.
    pub fn enter_line(&mut self, port: usize, message: Message) {
        self.weigh(port, message, 1);
    }

    /// A message has left a serial line, through its end or not.
    pub fn leave_line(&mut self, port: usize, message: Message) {
        self.weigh(port, message, -1);
    }

    /// A port has taken a message.
    pub fn took(&mut self, port: usize, message: Message) {
        if let Message::NoteOn { channel, .. } = message {
            self.ports[port].used |= 1 << channel.wire();
        }
        self.down = self.down.saturating_add_signed(self.sounding.note(port, message));
    }

    /// Whether a message releases a key that is not down, nor will be after what is on the serial
    /// line: then it is not needed, unless a press still [waits](KeyBook::is_waiting).
    pub fn is_idle(&self, port: usize, message: Message) -> bool {
        let Message::NoteOff { channel, key, .. } = message else { return false };
        let down = i8::from(self.sounding.is_down(port, channel, key));
        let line = cell_of(message).map_or(0, |cell| self.ports[port].line[cell]);
        down.saturating_add(line) <= 0
    }

    /// Whether a press of a message's key waits.
    pub fn is_waiting(&self, port: usize, message: Message) -> bool {
        cell_of(message).is_some_and(|cell| self.ports[port].waiting[cell] > 0)
    }

    /// Notes a message that found no room anywhere; whether it is a release, and so owed from now on.
    pub fn owe(&mut self, port: usize, message: Message) -> bool {
        let is_owed = self.ports[port].owed.owe(message);
        self.owing |= u32::from(is_owed) << port;
        is_owed
    }

    /// Whether a port may be owed something.
    pub fn owes(&self, port: usize) -> bool {
        self.owing >> port & 1 == 1
    }

    /// The next message a port is owed; `None` once all is paid.
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

    /// A message that was owed is paid, or not needed any more.
    pub fn pay(&mut self, port: usize, message: Message) {
        self.ports[port].owed.pay(message);
    }

    /// A port is gone: nobody holds a key there, none is down, and nothing is on its way.
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

    /// The channels of a port on which a key was ever struck, a bit each.
    pub fn used(&self, port: usize) -> u16 {
        self.ports[port].used
    }

    /// What is down, readable from any thread.
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

/// The place of a message's key; `None` where it is no key's.
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
    fn a_release_is_needed_only_where_its_press_is_down_or_on_its_way() {
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
        assert!(book.is_idle(0, off), "its release is, too");
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
    fn a_lost_port_is_crossed_out_everywhere_and_the_others_stay() {
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
