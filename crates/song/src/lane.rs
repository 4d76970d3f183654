//! The controller moves of a pass, as lanes, and its system-exclusive messages.

use crate::{Channel, Control, U7, U14};
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

    /// Its moves as they are sent, each a step. A glide is sampled every [`spacing`] ticks from its
    /// start, and becomes a move whenever its rounded value has changed, but not closer than that to its
    /// end.
    pub fn moves(&self) -> Vec<Point> {
        let mut moves = Vec::with_capacity(self.points.len());
        for (index, &point) in self.points.iter().enumerate() {
            moves.push(Point::step(point.at, point.value));
            if let Some(next) = self.points.get(index + 1) {
                moves.extend(glide(self.control, point, *next));
            }
        }
        moves
    }
}

/// The shortest distance between two moves of a glide, in ticks: for values from 0 to 127 about 10 ms
/// at 120 BPM, for finer values half of that. A cable carries at most about a thousand messages a
/// second, and steps of 10 ms are heard as a glide (common practice; no source).
fn spacing(control: Control) -> i64 {
    if control.highest() > 127 { 10 } else { 20 }
}

/// The moves between a point and the next.
pub(crate) fn glide(control: Control, from: Point, to: Point) -> Vec<Point> {
    let (whole, spacing) = (to.at - from.at, spacing(control));
    let (mut value, mut moves) = (from.value, Vec::new());
    // The end is left out: it is a point of the lane.
    let steps = if from.shape == Shape::Step { 1 } else { whole.0 / spacing };
    for step in 1..steps {
        let into = Tick(step * spacing);
        let next = from.shape.between(from.value, to.value, into, whole);
        if next != value {
            moves.push(Point::step(from.at + into, next));
        }
        value = next;
    }
    moves
}

/// The value of a controller at rest: what "reset all controllers" sets (MMA RP-015). `None` for those
/// that it leaves alone: bank, program, volume, pan, the sound controllers.
pub fn at_rest(control: Control) -> Option<U14> {
    match control {
        Control::Bend => Some(U14::CENTRE),
        Control::Pressure | Control::KeyPressure(_) => Some(U14::default()),
        Control::Change(number) => match number.get() {
            1 | 33 | 64..=67 => Some(U14::default()),
            11 => Some(U7::MAX.into()),
            _ => None,
        },
        _ => None,
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

#[cfg(test)]
mod tests {
    use super::*;

    fn value(value: u16) -> U14 {
        U14::new(value).unwrap()
    }

    /// The values of a move from `from` to `to` that takes `whole` ticks, from its first tick to one
    /// past its last.
    fn values(shape: Shape, from: u16, to: u16, whole: i64) -> Vec<u16> {
        let at = |into| shape.between(value(from), value(to), Tick(into), Tick(whole)).get();
        (0..=whole + 1).map(at).collect()
    }

    #[test]
    fn a_step_keeps_its_value_until_the_next_point() {
        assert_eq!(values(Shape::Step, 20, 120, 3), [20, 20, 20, 120, 120]);
    }

    #[test]
    fn a_straight_move_has_one_speed_either_way() {
        assert_eq!(values(Shape::Straight, 20, 120, 4), [20, 45, 70, 95, 120, 120]);
        assert_eq!(values(Shape::Straight, 120, 20, 4), [120, 95, 70, 45, 20, 20]);
        assert_eq!(values(Shape::Straight, 7, 7, 2), [7; 4]);
        let whole = Shape::Straight.between(value(0), U14::MAX, Tick(1), Tick(16_383));
        assert_eq!(whole, value(1));
    }

    /// After a half of the time a square has made a quarter of the way, or has a quarter left.
    #[test]
    fn a_slow_start_goes_with_the_square_of_time_and_a_slow_end_backwards() {
        assert_eq!(
            values(Shape::SlowStart, 0, 100, 10),
            [0, 1, 4, 9, 16, 25, 36, 49, 64, 81, 100, 100]
        );
        assert_eq!(
            values(Shape::SlowEnd, 0, 100, 10),
            [0, 19, 36, 51, 64, 75, 84, 91, 96, 99, 100, 100]
        );
        assert_eq!(values(Shape::SlowStart, 1000, 840, 4), [1000, 990, 960, 910, 840, 840]);
        assert_eq!(values(Shape::SlowEnd, 840, 1000, 4), [840, 910, 960, 990, 1000, 1000]);
    }

    #[test]
    fn a_value_is_rounded_to_the_nearest_and_a_half_away_from_the_start() {
        // Quarters of 3: 0.75, 1.5, 2.25; and down from 5: 4.25, 3.5, 2.75.
        assert_eq!(values(Shape::Straight, 0, 3, 4), [0, 1, 2, 2, 3, 3]);
        assert_eq!(values(Shape::Straight, 5, 2, 4), [5, 4, 3, 3, 2, 2]);
    }

    #[test]
    fn a_move_without_time_is_at_its_end_and_before_its_start_at_its_start() {
        let at = |into, whole| Shape::Straight.between(value(7), value(9), Tick(into), Tick(whole));
        assert_eq!((at(0, 0), at(1, 0), at(-5, 10)), (value(7), value(9), value(7)));
    }

    #[test]
    fn a_lane_has_a_value_from_its_first_point_to_the_end_of_its_span() {
        let straight = Point { at: Tick(100), value: value(10), shape: Shape::Straight };
        let lane = Lane {
            channel: Channel::default(),
            control: Control::Bend,
            span: Span::new(Tick(50), Tick(500)),
            points: vec![
                straight,
                Point::step(Tick(140), value(50)),
                Point::step(Tick(300), value(80)),
                Point::step(Tick(300), value(90)),
            ],
        };
        for (at, expected) in [
            (49, None),
            (50, None),
            (99, None),
            (100, Some(10)),
            (110, Some(20)),
            (139, Some(49)),
            (140, Some(50)),
            (299, Some(50)),
            // Of two points at one tick, the later one counts.
            (300, Some(90)),
            (499, Some(90)),
            (500, None),
        ] {
            assert_eq!(lane.value_at(Tick(at)).map(U14::get), expected, "{at}");
        }
    }

    #[test]
    fn only_f0_data_bytes_and_f7_are_a_whole_message() {
        // MIDI 1.0, "System Exclusive".
        for whole in [&[0xF0, 0xF7][..], &[0xF0, 0x7F, 0x00, 0xF7]] {
            assert!(SysEx::is_whole(whole), "{whole:02X?}");
        }
        for part in [&[][..], &[0xF0], &[0xF7], &[0xF0, 1], &[1, 0xF7], &[0xF0, 0x80, 0xF7]] {
            assert!(!SysEx::is_whole(part), "{part:02X?}");
        }
        let of_length = |length: usize| {
            let mut bytes = vec![1; length];
            (bytes[0], bytes[length - 1]) = (0xF0, 0xF7);
            SysEx::is_whole(&bytes)
        };
        assert_eq!((of_length(SysEx::LONGEST), of_length(SysEx::LONGEST + 1)), (true, false));
    }
}
