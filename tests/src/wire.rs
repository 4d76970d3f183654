//! A reader of MIDI bytes for the tests, independent of the program's own.
//!
//! In: the bytes that came out of a port, in pieces of any size. Out: messages. Written from
//! the tables of the MIDI 1.0 Detailed Specification 4.2 ("Summary of MIDI Messages"; running
//! status and real-time bytes: "Data Format").

use std::collections::BTreeMap;

/// A message that a reader found in the bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heard {
    /// A note-on: channel from 1, key, velocity from 1.
    On(u8, u8, u8),
    /// A note-off: channel from 1, key.
    Off(u8, u8),
    /// Another channel message: status, first data byte, second or 0.
    Other(u8, u8, u8),
    /// A pulse of MIDI clock.
    Pulse,
    /// Start.
    Start,
    /// Stop.
    Stop,
    /// Continue.
    Continue,
    /// A song position, in sixteenths.
    Position(u16),
}

/// A reader of one stream; it remembers incomplete messages and the running status.
#[derive(Debug, Default)]
pub struct Reader {
    status: Option<u8>,
    data: Vec<u8>,
    exclusive: bool,
}

impl Reader {
    /// Reads more bytes, and appends complete messages to `heard`.
    ///
    /// # Panics
    /// On a byte that belongs to no message, and on a system common message other than a song position: the
    /// program sends neither in these tests.
    pub fn read(&mut self, bytes: &[u8], heard: &mut Vec<Heard>) {
        for &byte in bytes {
            match byte {
                0xF8 => heard.push(Heard::Pulse),
                0xFA => heard.push(Heard::Start),
                0xFC => heard.push(Heard::Stop),
                0xFB => heard.push(Heard::Continue),
                0xFE | 0xFF => {}
                0xF0 => (self.exclusive, self.status) = (true, None),
                0xF7 => self.exclusive = false,
                0xF1 | 0xF3..=0xF6 => panic!("an unexpected system common message {byte:02X}"),
                0x80..=0xEF | 0xF2 => {
                    assert!(self.data.is_empty(), "a message is cut short by {byte:02X}");
                    (self.exclusive, self.status) = (false, Some(byte));
                }
                _ if self.exclusive => {}
                _ => self.data_byte(byte, heard),
            }
        }
    }

    /// Whether the last message is complete.
    fn is_between(&self) -> bool {
        self.data.is_empty() && !self.exclusive
    }

    fn data_byte(&mut self, byte: u8, heard: &mut Vec<Heard>) {
        let status = self.status.expect("data bytes follow a status");
        self.data.push(byte);
        let needed = if matches!(status >> 4, 0xC | 0xD) { 1 } else { 2 };
        if self.data.len() < needed {
            return;
        }
        let (first, second) = (self.data[0], self.data.get(1).copied().unwrap_or(0));
        self.data.clear();
        if status == 0xF2 {
            // A system common message ends running status.
            self.status = None;
            heard.push(Heard::Position(u16::from(second) << 7 | u16::from(first)));
            return;
        }
        let channel = (status & 0x0F) + 1;
        heard.push(match (status >> 4, second) {
            (0x9, 1..) => Heard::On(channel, first, second),
            (0x8 | 0x9, _) => Heard::Off(channel, first),
            _ => Heard::Other(status, first, second),
        });
    }
}

/// The messages of a whole stream.
pub fn read_all(bytes: &[u8]) -> Vec<Heard> {
    let (mut reader, mut heard) = (Reader::default(), Vec::new());
    reader.read(bytes, &mut heard);
    assert!(reader.is_between(), "the stream ends inside a message");
    heard
}

/// The notes that are down at the end of `heard`: channel and key.
///
/// # Panics
/// If a key is struck that is already down.
pub fn down(heard: &[Heard]) -> Vec<(u8, u8)> {
    let mut keys: BTreeMap<(u8, u8), bool> = BTreeMap::new();
    for message in heard {
        match *message {
            Heard::On(channel, key, _) => {
                let was_down = keys.insert((channel, key), true) == Some(true);
                assert!(!was_down, "channel {channel} key {key} is struck while it is down");
            }
            Heard::Off(channel, key) => {
                keys.insert((channel, key), false);
            }
            _ => {}
        }
    }
    keys.into_iter().filter(|&(_, is_down)| is_down).map(|(key, _)| key).collect()
}

/// Asserts that every strike has exactly one release.
///
/// # Panics
/// If one has none or several.
pub fn assert_balanced(heard: &[Heard]) {
    assert_eq!(down(heard), [], "these are still down");
    let ons = heard.iter().filter(|message| matches!(message, Heard::On(..))).count();
    let mut is_down = std::collections::BTreeSet::new();
    let mut released = 0;
    for message in heard {
        match *message {
            Heard::On(channel, key, _) => {
                is_down.insert((channel, key));
            }
            Heard::Off(channel, key) => {
                assert!(is_down.remove(&(channel, key)), "{channel} {key} is released twice");
                released += 1;
            }
            _ => {}
        }
    }
    assert_eq!(ons, released);
}

/// The strikes on one channel: key and velocity, in order.
pub fn strikes(heard: &[Heard], wanted: u8) -> Vec<(u8, u8)> {
    let strike = |message: &Heard| match *message {
        Heard::On(channel, key, velocity) if channel == wanted => Some((key, velocity)),
        _ => None,
    };
    heard.iter().filter_map(strike).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn running_status_and_real_time_bytes_are_read() {
        let bytes = [0x90, 60, 0xF8, 100, 62, 1, 60, 0, 0xFA, 0x82, 62, 64, 0xC0, 5, 6, 0xFC];
        let heard = [
            Heard::Pulse,
            Heard::On(1, 60, 100),
            Heard::On(1, 62, 1),
            Heard::Off(1, 60),
            Heard::Start,
            Heard::Off(3, 62),
            Heard::Other(0xC0, 5, 0),
            Heard::Other(0xC0, 6, 0),
            Heard::Stop,
        ];
        assert_eq!(read_all(&bytes), heard);
        assert_eq!(down(&heard), [(1, 62)]);
        assert_eq!(strikes(&heard, 1), [(60, 100), (62, 1)]);
    }

    #[test]
    #[should_panic(expected = "released twice")]
    fn a_second_release_is_detected() {
        assert_balanced(&[Heard::On(1, 60, 9), Heard::Off(1, 60), Heard::Off(1, 60)]);
    }
}
