//! Types that hold only legal MIDI values: a data byte, a 14-bit value, a channel.

use std::fmt;

/// A value that is out of range, and the range.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} {value} is outside {low} to {high}")]
pub struct RangeError {
    /// What the value is, in words.
    pub what: &'static str,
    /// The refused value.
    pub value: i64,
    /// The lowest legal value.
    pub low: i64,
    /// The highest legal value.
    pub high: i64,
}

/// A MIDI data byte, 0..=127: a key, a velocity, a controller value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct U7(u8);

impl U7 {
    /// 0.
    pub const MIN: U7 = U7(0);
    /// 127.
    pub const MAX: U7 = U7(127);
    /// 64: the centre, and the velocity of a note-off that was not measured (MIDI 1.0, "Note-Off").
    pub const CENTRE: U7 = U7(64);

    /// The value; `None` if it is above 127.
    pub fn new(value: u8) -> Option<U7> {
        (value < 128).then_some(U7(value))
    }

    /// The low seven bits of a byte that is known to be a data byte.
    pub const fn low_bits(value: u8) -> U7 {
        U7(value & 0x7F)
    }

    /// The value as a number.
    pub const fn get(self) -> u8 {
        self.0
    }
}

impl fmt::Display for U7 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A 14-bit value, 0..=16383: pitch bend (centre 8192), registered parameters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct U14(u16);

impl U14 {
    /// 8192: the pitch wheel at rest.
    pub const CENTRE: U14 = U14(8192);
    /// 16383.
    pub const MAX: U14 = U14(16383);

    /// The value; `None` if it is above 16383.
    pub fn new(value: u16) -> Option<U14> {
        (value < 16384).then_some(U14(value))
    }

    /// The value made of two data bytes.
    pub fn from_parts(msb: U7, lsb: U7) -> U14 {
        U14(u16::from(msb.0) << 7 | u16::from(lsb.0))
    }

    /// The value as a number.
    pub const fn get(self) -> u16 {
        self.0
    }

    /// The upper seven bits.
    pub fn msb(self) -> U7 {
        U7((self.0 >> 7) as u8)
    }

    /// The lower seven bits.
    pub fn lsb(self) -> U7 {
        U7((self.0 & 0x7F) as u8)
    }
}

impl From<U7> for U14 {
    fn from(value: U7) -> U14 {
        U14(u16::from(value.0))
    }
}

impl fmt::Display for U14 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// A MIDI channel. People count 1 to 16, the wire 0 to 15.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Channel(u8);

impl Channel {
    /// The percussion channel of General MIDI: 10.
    pub const PERCUSSION: Channel = Channel(9);

    /// The channel by its number, 1..=16; `None` for any other number.
    pub fn from_number(number: u8) -> Option<Channel> {
        (1..=16).contains(&number).then(|| Channel(number - 1))
    }

    /// The channel in a status byte's low four bits.
    pub const fn from_wire(nibble: u8) -> Channel {
        Channel(nibble & 0x0F)
    }

    /// 1..=16.
    pub const fn number(self) -> u8 {
        self.0 + 1
    }

    /// 0..=15.
    pub const fn wire(self) -> u8 {
        self.0
    }
}

impl fmt::Display for Channel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.number().fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_written_as_numbers_and_channels_count_from_1() {
        assert_eq!((U7::MAX.to_string(), U14::MAX.to_string()), ("127".into(), "16383".into()));
        assert_eq!([0, 15].map(|wire| Channel::from_wire(wire).to_string()), ["1", "16"]);
    }

    #[test]
    fn seven_bits_keep_their_value_among_fourteen() {
        assert_eq!([0, 64, 127].map(|value| U14::from(U7(value)).get()), [0, 64, 127]);
    }
}
