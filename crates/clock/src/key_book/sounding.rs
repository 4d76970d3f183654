//! The keys and pedals that are down at the ports, readable from any thread.
//!
//! In: one call for each note-on, note-off or pedal that a port has taken, from the scheduler thread
//! only. Out: what is down, to that thread and to the last-resort silence, which must work even if
//! the scheduler does not answer.

use chaconne_midi::{Channel, Message, U7};
use std::sync::atomic::{AtomicU16, AtomicU64, Ordering::Relaxed};

/// The 64-bit words of a port, a bit for each key: 16 channels of 128 keys.
pub(crate) const WORDS: usize = 32;

/// The controller of the sustain pedal.
pub(crate) const SUSTAIN: U7 = U7::low_bits(64);

#[derive(Debug)]
struct Port {
    keys: [AtomicU64; WORDS],
    pedals: AtomicU16,
}

/// A bit for each key and each pedal of every port.
#[derive(Debug)]
pub struct Sounding(Box<[Port]>);

/// The index of a key's word, and its bit in the word.
pub(crate) fn place(channel: Channel, key: U7) -> (usize, u64) {
    let index = usize::from(channel.wire()) * 128 + usize::from(key.get());
    (index / 64, 1 << (index % 64))
}

/// The note-offs of the bits set in a word.
pub(crate) fn offs(word: usize, mut bits: u64) -> impl Iterator<Item = Message> {
    std::iter::from_fn(move || {
        let bit = (bits != 0).then(|| bits.trailing_zeros() as usize)?;
        bits &= bits - 1;
        let index = word * 64 + bit;
        let channel = Channel::from_wire((index / 128) as u8);
        let key = U7::low_bits((index % 128) as u8);
        Some(Message::NoteOff { channel, key, velocity: U7::CENTRE })
    })
}

/// The message that lifts the sustain pedal of a channel.
pub(crate) fn pedal_up(channel: Channel) -> Message {
    Message::Change { channel, controller: SUSTAIN, value: U7::MIN }
}

/// The channels of a mask, lowest first.
pub(crate) fn channels(mask: u16) -> impl Iterator<Item = Channel> {
    (0..16).filter(move |bit| mask >> bit & 1 == 1).map(Channel::from_wire)
}

impl Sounding {
    /// A map for this many ports, with nothing down.
    pub fn new(ports: usize) -> Sounding {
        let port =
            || Port { keys: std::array::from_fn(|_| AtomicU64::new(0)), pedals: AtomicU16::new(0) };
        Sounding((0..ports).map(|_| port()).collect())
    }

    /// Whether a key is down.
    pub fn is_down(&self, port: usize, channel: Channel, key: U7) -> bool {
        let (word, bit) = place(channel, key);
        self.0.get(port).is_some_and(|port| port.keys[word].load(Relaxed) & bit != 0)
    }

    /// Records a message that a port has taken. Returns by how many the number of keys down changes.
    pub fn note(&self, port: usize, message: Message) -> isize {
        let Some(port) = self.0.get(port) else { return 0 };
        match message {
            Message::NoteOn { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                isize::from(port.keys[word].fetch_or(bit, Relaxed) & bit == 0)
            }
            Message::NoteOff { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                -isize::from(port.keys[word].fetch_and(!bit, Relaxed) & bit != 0)
            }
            Message::Change { channel, controller: SUSTAIN, value } => {
                let bit = 1 << channel.wire();
                if value == U7::MIN {
                    port.pedals.fetch_and(!bit, Relaxed);
                } else {
                    port.pedals.fetch_or(bit, Relaxed);
                }
                0
            }
            _ => 0,
        }
    }

    /// Clears a port. Returns how many keys were down.
    pub fn forget(&self, port: usize) -> usize {
        let Some(port) = self.0.get(port) else { return 0 };
        port.pedals.store(0, Relaxed);
        port.keys.iter().map(|word| word.swap(0, Relaxed).count_ones() as usize).sum()
    }

    /// The messages that silence a port: its note-offs, then its pedals going up.
    pub fn releases(&self, port: usize) -> impl Iterator<Item = Message> + '_ {
        let port = self.0.get(port);
        let keys = port
            .into_iter()
            .flat_map(|port| (0..WORDS).flat_map(|word| offs(word, port.keys[word].load(Relaxed))));
        let pedals = port.map_or(0, |port| port.pedals.load(Relaxed));
        keys.chain(channels(pedals).map(pedal_up))
    }
}
