//! MIDI messages as values, and their bytes (MIDI 1.0, tables I to V).

use crate::{Channel, Control, U7, U14};

/// A MIDI message of up to three bytes. [`Wire`](crate::Wire) adds system-exclusive messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Message {
    /// A key is released.
    NoteOff {
        /// 1 to 16.
        channel: Channel,
        /// 0..=127; 60 is middle C.
        key: U7,
        /// Release velocity, 0..=127.
        velocity: U7,
    },
    /// A key is struck; velocity 1..=127 (0 on the wire is a note-off).
    NoteOn {
        /// 1 to 16.
        channel: Channel,
        /// 0..=127; 60 is middle C.
        key: U7,
        /// Velocity, 1..=127.
        velocity: U7,
    },
    /// Pressure on one key.
    KeyPressure {
        /// 1 to 16.
        channel: Channel,
        /// 0..=127; 60 is middle C.
        key: U7,
        /// 0..=127; 0 is at rest.
        value: U7,
    },
    /// A control change (0..=119) or channel mode message (120..=127).
    Change {
        /// 1 to 16.
        channel: Channel,
        /// The number of the controller or mode message.
        controller: U7,
        /// 0..=127.
        value: U7,
    },
    /// A program change.
    Program {
        /// 1 to 16.
        channel: Channel,
        /// 0..=127; people count from 1.
        program: U7,
    },
    /// Pressure on a whole channel.
    Pressure {
        /// 1 to 16.
        channel: Channel,
        /// 0..=127; 0 is at rest.
        value: U7,
    },
    /// Pitch bend, centre 8192.
    Bend {
        /// 1 to 16.
        channel: Channel,
        /// 0..=16383.
        value: U14,
    },
    /// One piece of a MIDI Time Code.
    QuarterFrame(U7),
    /// Song position, in sixteenths.
    SongPosition(U14),
    /// Chooses a song by number, 0..=127.
    SongSelect(U7),
    /// Asks analogue instruments to tune themselves.
    TuneRequest,
    /// A clock pulse, 24 to the quarter note.
    Clock,
    /// Start from the beginning.
    Start,
    /// Continue from where the song stopped.
    Continue,
    /// Stop playing; the position stays.
    Stop,
    /// Says that the sender is still connected.
    ActiveSensing,
    /// Asks every receiver to return to its power-up state.
    Reset,
}

/// The bytes of a message, one to three.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bytes {
    bytes: [u8; 3],
    count: u8,
}

impl std::ops::Deref for Bytes {
    type Target = [u8];
    fn deref(&self) -> &[u8] {
        &self.bytes[..usize::from(self.count)]
    }
}

impl Message {
    /// The bytes on the wire, status byte first.
    pub fn bytes(self) -> Bytes {
        let one = |status| Bytes { bytes: [status, 0, 0], count: 1 };
        let two = |status, a: U7| Bytes { bytes: [status, a.get(), 0], count: 2 };
        let three = |status, a: U7, b: U7| Bytes { bytes: [status, a.get(), b.get()], count: 3 };
        match self {
            Message::NoteOff { channel, key, velocity } => {
                three(0x80 | channel.wire(), key, velocity)
            }
            Message::NoteOn { channel, key, velocity } => {
                three(0x90 | channel.wire(), key, velocity)
            }
            Message::KeyPressure { channel, key, value } => {
                three(0xA0 | channel.wire(), key, value)
            }
            Message::Change { channel, controller, value } => {
                three(0xB0 | channel.wire(), controller, value)
            }
            Message::Program { channel, program } => two(0xC0 | channel.wire(), program),
            Message::Pressure { channel, value } => two(0xD0 | channel.wire(), value),
            Message::Bend { channel, value } => {
                three(0xE0 | channel.wire(), value.lsb(), value.msb())
            }
            Message::QuarterFrame(piece) => two(0xF1, piece),
            Message::SongPosition(position) => three(0xF2, position.lsb(), position.msb()),
            Message::SongSelect(song) => two(0xF3, song),
            Message::TuneRequest => one(0xF6),
            Message::Clock => one(0xF8),
            Message::Start => one(0xFA),
            Message::Continue => one(0xFB),
            Message::Stop => one(0xFC),
            Message::ActiveSensing => one(0xFE),
            Message::Reset => one(0xFF),
        }
    }

    /// A channel message from its status byte and data bytes. A note-on of velocity 0 becomes a
    /// note-off of velocity 64 (MIDI 1.0, "Note-Off"). `None` if the status byte is not a channel
    /// message's.
    pub fn channel_voice(status: u8, a: U7, b: U7) -> Option<Message> {
        let channel = Channel::from_wire(status);
        Some(match status & 0xF0 {
            0x80 => Message::NoteOff { channel, key: a, velocity: b },
            0x90 if b == U7::MIN => Message::NoteOff { channel, key: a, velocity: U7::CENTRE },
            0x90 => Message::NoteOn { channel, key: a, velocity: b },
            0xA0 => Message::KeyPressure { channel, key: a, value: b },
            0xB0 => Message::Change { channel, controller: a, value: b },
            0xC0 => Message::Program { channel, program: a },
            0xD0 => Message::Pressure { channel, value: a },
            0xE0 => Message::Bend { channel, value: U14::from_parts(b, a) },
            _ => return None,
        })
    }

    /// The channel; `None` for system messages.
    pub fn channel(self) -> Option<Channel> {
        match self {
            Message::NoteOff { channel, .. }
            | Message::NoteOn { channel, .. }
            | Message::KeyPressure { channel, .. }
            | Message::Change { channel, .. }
            | Message::Program { channel, .. }
            | Message::Pressure { channel, .. }
            | Message::Bend { channel, .. } => Some(channel),
            _ => None,
        }
    }

    /// The same message on another channel; system messages are returned unchanged.
    pub fn on_channel(self, channel: Channel) -> Message {
        match self {
            Message::NoteOff { key, velocity, .. } => Message::NoteOff { channel, key, velocity },
            Message::NoteOn { key, velocity, .. } => Message::NoteOn { channel, key, velocity },
            Message::KeyPressure { key, value, .. } => Message::KeyPressure { channel, key, value },
            Message::Change { controller, value, .. } => {
                Message::Change { channel, controller, value }
            }
            Message::Program { program, .. } => Message::Program { channel, program },
            Message::Pressure { value, .. } => Message::Pressure { channel, value },
            Message::Bend { value, .. } => Message::Bend { channel, value },
            other => other,
        }
    }

    /// The control that this message changes, and its new value; `None` for other messages. A
    /// registered parameter takes several messages: see [`Parameters`](crate::Parameters).
    pub fn control(self) -> Option<(Control, U14)> {
        match self {
            Message::KeyPressure { key, value, .. } => {
                Some((Control::KeyPressure(key), value.into()))
            }
            Message::Change { controller, value, .. } if controller.get() < 120 => {
                Some((Control::Change(controller), value.into()))
            }
            Message::Program { program, .. } => Some((Control::Program, program.into())),
            Message::Pressure { value, .. } => Some((Control::Pressure, value.into())),
            Message::Bend { value, .. } => Some((Control::Bend, value)),
            _ => None,
        }
    }
}

/// The messages that set `control` to `value` on a channel, in sending order. A registered
/// parameter is one group: its number, its value, then the null number, so that no later data entry
/// can change it (MIDI 1.0, "RPN").
pub fn moves(channel: Channel, control: Control, value: U14) -> impl Iterator<Item = Message> {
    let change = |number: u8, value: U7| Message::Change {
        channel,
        controller: U7::low_bits(number),
        value,
    };
    let group = |msb: u8, lsb: u8, number: U14| {
        [
            Some(change(msb, number.msb())),
            Some(change(lsb, number.lsb())),
            Some(change(6, value.msb())),
            Some(change(38, value.lsb())),
            Some(change(101, U7::MAX)),
            Some(change(100, U7::MAX)),
        ]
    };
    let single = |message| [Some(message), None, None, None, None, None];
    let messages = match control {
        Control::Program => single(Message::Program { channel, program: value.lsb() }),
        Control::Change(controller) => {
            single(Message::Change { channel, controller, value: value.lsb() })
        }
        Control::Bend => single(Message::Bend { channel, value }),
        Control::Pressure => single(Message::Pressure { channel, value: value.lsb() }),
        Control::KeyPressure(key) => {
            single(Message::KeyPressure { channel, key, value: value.lsb() })
        }
        Control::Registered(number) => group(101, 100, number),
        Control::NonRegistered(number) => group(99, 98, number),
    };
    messages.into_iter().flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wire(message: Message) -> Vec<u8> {
        message.bytes().to_vec()
    }

    #[test]
    fn messages_encode_as_the_standard_says() {
        // MIDI 1.0 Detailed Specification, tables I and V; bend centre En 00 40.
        let channel = Channel::from_number(3).unwrap();
        let seven = |value| U7::new(value).unwrap();
        assert_eq!(wire(Message::Bend { channel, value: U14::CENTRE }), [0xE2, 0x00, 0x40]);
        assert_eq!(
            wire(Message::NoteOn { channel, key: seven(60), velocity: seven(100) }),
            [0x92, 60, 100]
        );
        assert_eq!(wire(Message::SongPosition(U14::new(128).unwrap())), [0xF2, 0x00, 0x01]);
        assert_eq!(wire(Message::Program { channel, program: seven(5) }), [0xC2, 5]);
        assert_eq!(wire(Message::Clock), [0xF8]);
    }

    #[test]
    fn channel_messages_decode_from_their_bytes() {
        for status in 0x80..0xF0u8 {
            let message = Message::channel_voice(status, U7::low_bits(17), U7::low_bits(99));
            let message = message.unwrap();
            assert_eq!(wire(message)[0], status);
            assert_eq!(message.channel().unwrap().wire(), status & 15);
        }
        let quiet = Message::channel_voice(0x90, U7::low_bits(60), U7::MIN).unwrap();
        assert_eq!(wire(quiet), [0x80, 60, 64]);
        assert!(Message::channel_voice(0xF0, U7::MIN, U7::MIN).is_none());
    }

    /// Control changes are 0 to 119; the numbers from 120 on are channel mode messages (MIDI 1.0,
    /// "Channel Mode Messages").
    #[test]
    fn a_message_gives_the_control_that_it_changes() {
        let channel = Channel::default();
        let (key, value) = (U7::low_bits(60), U7::low_bits(5));
        let change =
            |number| Message::Change { channel, controller: U7::low_bits(number), value }.control();
        for number in [0, 64, 119] {
            let control = Control::Change(U7::low_bits(number));
            assert_eq!(change(number), Some((control, value.into())));
        }
        assert!((120..128).all(|number| change(number).is_none()));
        let bend = Message::Bend { channel, value: U14::CENTRE };
        assert_eq!(bend.control(), Some((Control::Bend, U14::CENTRE)));
        let program = Message::Program { channel, program: value };
        assert_eq!(program.control(), Some((Control::Program, value.into())));
        let pressure = Message::Pressure { channel, value };
        assert_eq!(pressure.control(), Some((Control::Pressure, value.into())));
        let pressed = Message::KeyPressure { channel, key, value };
        assert_eq!(pressed.control(), Some((Control::KeyPressure(key), value.into())));
        assert_eq!(Message::NoteOn { channel, key, velocity: value }.control(), None);
    }

    /// A bend and a parameter have 14 bits, everything else seven (MIDI 1.0, tables II and III).
    #[test]
    fn a_control_has_seven_or_fourteen_bits() {
        let wide = [Control::Bend, Control::Registered(U14::MAX), Control::NonRegistered(U14::MAX)];
        assert!(wide.iter().all(|control| control.highest() == 16_383));
        let key = U7::low_bits(60);
        let narrow =
            [Control::Program, Control::SUSTAIN, Control::Pressure, Control::KeyPressure(key)];
        assert!(narrow.iter().all(|control| control.highest() == 127));
    }

    #[test]
    fn a_bend_range_is_sent_as_one_group() {
        // MIDI 1.0, "RPN": bend range of 12 semitones on channel 1.
        let range = U14::from_parts(U7::low_bits(12), U7::MIN);
        let control = Control::Registered(U14::default());
        let bytes: Vec<u8> = moves(Channel::default(), control, range)
            .flat_map(|message| message.bytes().to_vec())
            .collect();
        let expected =
            [0xB0, 101, 0, 0xB0, 100, 0, 0xB0, 6, 12, 0xB0, 38, 0, 0xB0, 101, 127, 0xB0, 100, 127];
        assert_eq!(bytes, expected);
    }
}
