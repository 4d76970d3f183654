//! What a pass does with a controller over one cycle: its gestures, and where they leave it.
//!
//! In: lanes whose points are all steps. Out: for any tick of a cycle, whether a gesture moves the
//! controller, has left it away from rest, or does not affect it.

pub(crate) use chaconne_song::at_rest;
use chaconne_song::{Channel, Control, Lane, U14};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// What a pass does with a controller at a tick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hold {
    /// A gesture is in progress, and gives it this value.
    Moved(U14),
    /// The last gesture left it at this value, away from rest.
    Left(U14),
    /// Nothing.
    Free,
}

/// The gestures of a pass with one controller of one channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Gestures {
    pub channel: Channel,
    pub control: Control,
    /// Each change, by its tick from the cycle's start, in order; not empty. The last of several at
    /// one tick counts.
    holds: Vec<(Tick, Hold)>,
}

impl Gestures {
    /// The first and the last tick at which anything changes.
    pub fn reach(&self) -> (Tick, Tick) {
        let tick = |hold: Option<&(Tick, Hold)>| hold.map_or(Tick::ZERO, |&(at, _)| at);
        (tick(self.holds.first()), tick(self.holds.last()))
    }

    /// What the pass does with the controller at a tick of the cycle.
    pub fn at(&self, at: Tick) -> Hold {
        let after = self.holds.partition_point(|&(from, _)| from <= at);
        let hold = after.checked_sub(1).and_then(|index| self.holds.get(index));
        hold.map_or(Hold::Free, |&(_, hold)| hold)
    }

    /// The ticks inside a span at which something changes.
    pub fn changes(&self, span: Span) -> impl Iterator<Item = Tick> + '_ {
        let first = self.holds.partition_point(|&(at, _)| at < span.from);
        let rest = self.holds.get(first..).unwrap_or_default().iter();
        rest.map(|&(at, _)| at).take_while(move |&at| at < span.to)
    }

    /// The value of the first move.
    pub fn first(&self) -> Option<U14> {
        self.holds.iter().find_map(|&(_, hold)| match hold {
            Hold::Moved(value) => Some(value),
            Hold::Left(_) | Hold::Free => None,
        })
    }
}

/// Collects lanes into gestures, one for each controller of each channel. If lanes of one controller
/// overlap, the later one takes over.
pub(crate) fn of(lanes: impl Iterator<Item = Lane>) -> Vec<Gestures> {
    let mut all: BTreeMap<(Channel, Control), Vec<Lane>> = BTreeMap::new();
    for lane in lanes.filter(|lane| !lane.points.is_empty()) {
        all.entry((lane.channel, lane.control)).or_default().push(lane);
    }
    let whole = |((channel, control), lanes): ((Channel, Control), Vec<Lane>)| Gestures {
        channel,
        control,
        holds: holds(control, lanes),
    };
    all.into_iter().map(whole).collect()
}

fn holds(control: Control, mut lanes: Vec<Lane>) -> Vec<(Tick, Hold)> {
    let start = |lane: &Lane| lane.points.first().map_or(lane.span.from, |point| point.at);
    lanes.sort_by_key(start);
    let mut holds = Vec::new();
    for (index, lane) in lanes.iter().enumerate() {
        let next = lanes.get(index + 1).map_or(Tick::MAX, start);
        let points = lane.points.iter().take_while(|point| point.at < next);
        holds.extend(points.map(|point| (point.at, Hold::Moved(point.value))));
        if lane.span.to <= next
            && let Some(last) = lane.points.last()
        {
            let rests = at_rest(control) == Some(last.value);
            holds.push((lane.span.to, if rests { Hold::Free } else { Hold::Left(last.value) }));
        }
    }
    holds
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Point, U7};

    fn lane(control: Control, span: (i64, i64), points: &[(i64, u16)]) -> Lane {
        let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
        let span = Span::new(Tick(span.0), Tick(span.1));
        let points = points.iter().map(point).collect();
        Lane { channel: Channel::default(), control, span, points }
    }

    #[test]
    fn a_gesture_moves_a_controller_and_may_leave_it_away_from_rest() {
        let wheel = Control::Change(U7::low_bits(1));
        let lanes = [
            lane(wheel, (-10, 101), &[(-10, 5), (100, 0)]),
            lane(wheel, (200, 400), &[(200, 40), (300, 80)]),
        ];
        let all = of(lanes.into_iter());
        let value = |value| U14::new(value).unwrap();
        let expected = [
            (-11, Hold::Free),
            (-10, Hold::Moved(value(5))),
            (100, Hold::Moved(value(0))),
            (101, Hold::Free),
            (299, Hold::Moved(value(40))),
            (399, Hold::Moved(value(80))),
            (9000, Hold::Left(value(80))),
        ];
        for (at, hold) in expected {
            assert_eq!(all[0].at(Tick(at)), hold, "at {at}");
        }
        assert_eq!(all[0].reach(), (Tick(-10), Tick(400)));
        assert_eq!(all[0].first(), Some(value(5)));
        let inside: Vec<Tick> = all[0].changes(Span::new(Tick(100), Tick(300))).collect();
        assert_eq!(inside, [Tick(100), Tick(101), Tick(200)]);
    }

    /// What "reset all controllers" sets, and what it leaves alone (MMA RP-015).
    #[test]
    fn controllers_rest_where_a_reset_of_all_controllers_puts_them() {
        let rest = |control| at_rest(control).map(U14::get);
        let change = |number| rest(Control::Change(U7::low_bits(number)));
        assert_eq!(rest(Control::Bend), Some(0x2000));
        assert_eq!(rest(Control::Pressure), Some(0));
        assert_eq!(rest(Control::KeyPressure(Default::default())), Some(0));
        for zero in [1, 33, 64, 65, 66, 67] {
            assert_eq!(change(zero), Some(0), "{zero}");
        }
        assert_eq!(change(11), Some(127), "expression");
        for alone in [0, 7, 10, 32, 63, 68, 70, 74, 79, 91, 95] {
            assert_eq!(change(alone), None, "{alone}");
        }
    }

    #[test]
    fn a_later_lane_takes_over_from_one_that_it_overlaps() {
        let lanes = [
            lane(Control::Bend, (0, 500), &[(0, 9000), (300, 9500), (499, 8192)]),
            lane(Control::Bend, (200, 250), &[(200, 100)]),
        ];
        let all = of(lanes.into_iter());
        let at = |at| all[0].at(Tick(at));
        let value = |value| U14::new(value).unwrap();
        assert_eq!(at(199), Hold::Moved(value(9000)));
        assert_eq!((at(200), at(499)), (Hold::Moved(value(100)), Hold::Left(value(100))));
    }
}
