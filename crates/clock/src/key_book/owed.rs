//! Releases that a port could not take and that found no room to wait. Each is one bit, so none is
//! lost, however many there are.

use super::sounding::{SUSTAIN, WORDS, channels, offs, pedal_up, place};
use chaconne_midi::{Message, U7};

/// The releases that one port is owed.
#[derive(Debug, Clone)]
pub(crate) struct Owed {
    keys: [u64; WORDS],
    pedals: u16,
    stop: bool,
}

impl Owed {
    pub fn new() -> Owed {
        Owed { keys: [0; WORDS], pedals: 0, stop: false }
    }

    /// Adds a message if it is a release. Returns whether it is.
    pub fn owe(&mut self, message: Message) -> bool {
        match message {
            Message::NoteOff { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                self.keys[word] |= bit;
            }
            Message::Change { channel, controller: SUSTAIN, value: U7::MIN } => {
                self.pedals |= 1 << channel.wire();
            }
            Message::Stop => self.stop = true,
            _ => return false,
        }
        true
    }

    /// The next message owed: keys, then pedals, then a stop.
    pub fn next(&self) -> Option<Message> {
        let key = self.keys.iter().enumerate().find_map(|(word, &bits)| offs(word, bits).next());
        let pedal = || channels(self.pedals).next().map(pedal_up);
        key.or_else(pedal).or_else(|| self.stop.then_some(Message::Stop))
    }

    /// Removes a message that has been sent or is no longer needed.
    pub fn pay(&mut self, message: Message) {
        match message {
            Message::NoteOff { channel, key, .. } => {
                let (word, bit) = place(channel, key);
                self.keys[word] &= !bit;
            }
            Message::Change { channel, .. } => self.pedals &= !(1 << channel.wire()),
            _ => self.stop = false,
        }
    }
}
