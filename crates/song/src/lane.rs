//! The controller moves of a pass, as lanes, and its system-exclusive messages.

use crate::{Channel, Control, U14};
use chaconne_time::{Span, Tick};

/// How a controller moves from one point to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Shape {
    /// It keeps its value until the next point, then jumps.
    #[default]
    Step,
    /// It moves at a constant speed.
    Straight,
    /// It starts slowly and speeds up, with the square of time.
    SlowStart,
    /// It slows down towards the end: `SlowStart` backwards.
    SlowEnd,
}

impl Shape {
    /// Every shape.
    pub const ALL: [Shape; 4] = [Shape::Step, Shape::Straight, Shape::SlowStart, Shape::SlowEnd];

    /// Its name in a song's text.
    pub fn word(self) -> &'static str {
        match self {
            Shape::Step => "step",
            Shape::Straight => "straight",
            Shape::SlowStart => "slow start",
            Shape::SlowEnd => "slow end",
        }
    }

    /// The value `into` ticks after the start of a move that takes `whole` ticks, rounded to the
    /// nearest; a half is rounded away from `from`.
    pub fn between(self, from: U14, to: U14, into: Tick, whole: Tick) -> U14 {
        let (into, whole) = (i128::from(into.0.max(0)), i128::from(whole.0.max(1)));
        if into >= whole {
            return to;
        }
        let left = whole - into;
        let (part, of) = match self {
            Shape::Step => (0, 1),
            Shape::Straight => (into, whole),
            Shape::SlowStart => (into * into, whole * whole),
            Shape::SlowEnd => (whole * whole - left * left, whole * whole),
        };
        let (start, rise) = (i128::from(from.get()), i128::from(to.get()) - i128::from(from.get()));
        let moved = (2 * rise.abs() * part + of) / (2 * of) * rise.signum();
        u16::try_from(start + moved).ok().and_then(U14::new).unwrap_or(to)
    }
}

impl std::str::FromStr for Shape {
    type Err = String;
    fn from_str(text: &str) -> Result<Shape, String> {
        let found = Shape::ALL.into_iter().find(|shape| shape.word() == text);
        found.ok_or_else(|| {
            format!("'{text}' is not a shape: use step, straight, slow start or slow end")
        })
    }
}

/// A point of a lane: the controller takes a value at a tick.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Point {
    /// Its position, from the pass's start.
    pub at: Tick,
    /// The value that the controller takes there.
    pub value: U14,
    /// How the controller moves on to the next point; after the last one it does not move.
    pub shape: Shape,
}

impl Point {
    /// A point whose value lasts until the next point.
    pub fn step(at: Tick, value: U14) -> Point {
        Point { at, value, shape: Shape::Step }
    }
}

/// Identifies a lane within its pass: no two have the same channel, control and start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LaneId {
    /// The channel its moves came in on.
    pub channel: Channel,
    /// The controller it moves.
    pub control: Control,
    /// The start of its span, from the pass's start.
    pub from: Tick,
}

/// The moves of one controller in a pass, and the span in which the pass owns it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Lane {
    /// The channel the moves came in on.
    pub channel: Channel,
    /// The controller that is moved.
    pub control: Control,
    /// Where the pass owns the controller: one gesture, which may continue past the pass's end. It
    /// starts at most one pass length before the pass, and ends at most 1000 pass lengths after the
    /// pass's start (and never later than twice the longest possible pass).
    pub span: Span,
    /// The moves, in time order, inside the span; not empty.
    pub points: Vec<Point>,
}

impl Lane {
    /// Its id within its pass.
    pub fn id(&self) -> LaneId {
        LaneId { channel: self.channel, control: self.control, from: self.span.from }
    }

    /// The sort key of lanes in a pass.
    pub fn order(&self) -> LaneId {
        self.id()
    }

    /// The value at `at`; `None` outside the span and before the first point.
    pub fn value_at(&self, at: Tick) -> Option<U14> {
        if !self.span.contains(at) {
            return None;
        }
        let after = self.points.partition_point(|point| point.at <= at);
        let point = self.points.get(after.checked_sub(1)?)?;
        let Some(next) = self.points.get(after) else { return Some(point.value) };
        let (into, whole) = (at - point.at, next.at - point.at);
        Some(point.shape.between(point.value, next.value, into, whole))
    }
}

/// A complete system-exclusive message, including its F0 and F7.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct SysEx {
    /// Its position, from the pass's start.
    pub at: Tick,
    /// The bytes, F0 first and F7 last.
    pub bytes: Vec<u8>,
}

impl SysEx {
    /// The longest message a song keeps, in bytes.
    pub const LONGEST: usize = 65_536;

    /// Whether the bytes are one complete message: F0, data bytes, F7, at most
    /// [`LONGEST`](Self::LONGEST) in all.
    pub fn is_whole(bytes: &[u8]) -> bool {
        bytes.len() >= 2
            && bytes.len() <= Self::LONGEST
            && bytes[0] == 0xF0
            && bytes[bytes.len() - 1] == 0xF7
            && bytes[1..bytes.len() - 1].iter().all(|&byte| byte < 0x80)
    }
}
