//! Controller moves, as lanes of a pass, and system-exclusive messages.

use crate::{Channel, Control, U14};
use chaconne_time::{Span, Tick};

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
