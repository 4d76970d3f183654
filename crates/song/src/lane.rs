//! Controller moves, as lanes of a pass, and system-exclusive messages.

use crate::{Channel, U7, U14};
use chaconne_time::{Span, Tick};

/// What a lane moves. Values are 0..=127 but for the bend and the registered parameters, which
/// are 0..=16383.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Control {
    /// A program change.
    Program,
    /// A control change 0..=119.
    Change(U7),
    /// Pitch bend, centre 8192.
    Bend,
    /// Channel pressure.
    Pressure,
    /// Polyphonic pressure of one key.
    KeyPressure(U7),
    /// A registered parameter (RPN) with its number; sent whole, as one group.
    Registered(U14),
    /// A non-registered parameter (NRPN) with its number; sent whole, as one group.
    NonRegistered(U14),
}

impl Control {
    /// The sustain pedal, control change 64.
    pub const SUSTAIN: Control = Control::Change(U7::low_bits(64));
    /// Channel volume, control change 7.
    pub const VOLUME: Control = Control::Change(U7::low_bits(7));
    /// Pan, control change 10.
    pub const PAN: Control = Control::Change(U7::low_bits(10));

    /// The highest value it takes.
    pub fn highest(self) -> u16 {
        match self {
            Control::Bend | Control::Registered(_) | Control::NonRegistered(_) => U14::MAX.get(),
            _ => 127,
        }
    }
}

/// A move to a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Point {
    /// When, from the pass's start.
    pub at: Tick,
    /// The value from then on.
    pub value: U14,
}

/// The moves of one controller in a pass, and the span in which the pass owns it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Lane {
    /// The channel the moves came in on.
    pub channel: Channel,
    /// What is moved.
    pub control: Control,
    /// Where the pass owns the controller; may reach past the pass's end where a pedal was
    /// held over the seam. From a pass length early at most, to a pass length past the end.
    pub span: Span,
    /// The moves, in order of time, inside the span; not empty.
    pub points: Vec<Point>,
}

impl Lane {
    /// The order in which lanes of a pass are kept and written.
    pub fn order(&self) -> (Channel, Control, Tick) {
        (self.channel, self.control, self.span.from)
    }

    /// The value in force at `at`, where the lane covers it.
    pub fn value_at(&self, at: Tick) -> Option<U14> {
        if !self.span.contains(at) {
            return None;
        }
        let after = self.points.partition_point(|point| point.at <= at);
        after.checked_sub(1).map(|index| self.points[index].value)
    }
}

/// A system-exclusive message, whole: from F0 to F7, both included.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SysEx {
    /// When, from the pass's start.
    pub at: Tick,
    /// The bytes, F0 first and F7 last.
    pub bytes: Vec<u8>,
}

impl SysEx {
    /// The longest message a song keeps, in bytes.
    pub const LONGEST: usize = 65_536;

    /// Whether the bytes are one whole message: F0, data bytes, F7.
    pub fn is_whole(bytes: &[u8]) -> bool {
        bytes.len() >= 2
            && bytes.len() <= Self::LONGEST
            && bytes[0] == 0xF0
            && bytes[bytes.len() - 1] == 0xF7
            && bytes[1..bytes.len() - 1].iter().all(|&byte| byte < 0x80)
    }
}
