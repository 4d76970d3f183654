//! The controllers of one pass as they are heard while it goes round, for whoever draws them.
//!
//! In: a pass. Out: the value of each controller at any tick of a cycle. Other layers, covers and the
//! settings of the track are left out.

use crate::bake::moves;
use crate::gestures::{self, Gestures, Hold, at_rest};
use chaconne_song::{Control, Curve, Pass, U14};
use chaconne_time::Tick;
use std::ops::RangeInclusive;

/// What a pass does with its controllers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Curves {
    length: Tick,
    gestures: Vec<Gestures>,
}

impl Curves {
    /// The controllers of a pass.
    pub fn of(pass: &Pass) -> Curves {
        let lanes = pass.lanes().iter().map(|lane| moves(lane, 0));
        Curves { length: pass.length.max(Tick(1)), gestures: gestures::of(lanes) }
    }

    /// The value of a controller at a tick from the start of a cycle, after at least one cycle; `None`
    /// where the pass leaves it alone.
    pub fn value_at(&self, curve: Curve, at: Tick) -> Option<U14> {
        self.hold_at(curve, at).map(|(value, _)| value)
    }

    /// The same, and whether a gesture moves the controller there: else one has left it at the value, and
    /// another layer that moves it comes first.
    pub fn hold_at(&self, curve: Curve, at: Tick) -> Option<(U14, bool)> {
        let own = |gestures: &&Gestures| {
            gestures.channel == curve.channel && gestures.control == curve.control
        };
        let gestures = self.gestures.iter().find(own)?;
        let (_, at) = at.cycle(self.length);
        let mut left = None;
        for cycle in self.cycles(gestures, at).rev() {
            match gestures.at(at - self.length * cycle) {
                Hold::Moved(value) => return Some((value, true)),
                Hold::Left(value) if cycle == 0 => left = Some((value, false)),
                Hold::Left(_) | Hold::Free => {}
            }
        }
        left
    }

    /// The cycles whose gestures may move a controller at a tick of cycle 0: an early gesture belongs to
    /// the next, and one of an earlier cycle may go on.
    fn cycles(&self, gestures: &Gestures, at: Tick) -> RangeInclusive<i64> {
        let (first, last) = gestures.reach();
        let before = (at - last).0.div_euclid(self.length.0).min(0);
        let after = (at - first).0.div_euclid(self.length.0).max(0);
        before..=after
    }
}

/// The value of a controller that nothing moves: what "reset all controllers" sets (MMA RP-015), and for
/// volume and pan what a General MIDI instrument starts with (GM level 1: 100 and the middle).
pub fn rest_of(control: Control) -> U14 {
    let start = match control {
        Control::VOLUME => 100,
        Control::PAN => 64,
        _ => 0,
    };
    at_rest(control).or(U14::new(start)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::Build;
    use crate::{Message, Route, View, Wire, perform};
    use chaconne_song::{Channel, Lane, Point, Shape, U7};
    use chaconne_time::Span;
    use proptest::prelude::*;

    const WHEEL: Curve =
        Curve { channel: Channel::from_wire(0), control: Control::Change(U7::low_bits(1)) };

    proptest! {
        /// From the second cycle on, what is performed is what is given for each tick.
        #[test]
        fn a_curve_is_what_a_pass_performs_by_itself(
            mut gestures in prop::collection::vec(
                (-900i64..1900, 1i64..2500, prop::collection::vec((0i64..600, 0u16..128), 1..4)),
                1..4,
            ),
            shape in prop::sample::select(&Shape::ALL),
        ) {
            gestures.sort_by_key(|gesture| gesture.0);
            gestures.dedup_by_key(|gesture| gesture.0);
            let mut build = Build::new(1).pass(0, 1920, &[]);
            for (from, more, points) in &mut gestures {
                points.sort_by_key(|point| point.0);
                let point = |&(at, value): &(i64, u16)| {
                    Point { at: Tick(*from + at), value: U14::new(value).unwrap(), shape }
                };
                let points: Vec<Point> = points.iter().map(point).collect();
                let end = points.last().unwrap().at + Tick(*more);
                let span = Span::new(Tick(*from), end);
                build = build.lane(0, Lane { channel: WHEEL.channel, control: WHEEL.control, span, points });
            }
            let song = build.song();
            let pass = song.passes.values().next().unwrap();
            let curves = Curves::of(pass);
            let length = Tick(1920);
            let span = Span::new(Tick::ZERO, length * 8);
            let route = Route::open(song.sections[0].letter);
            let performance = perform(&song, &route, span, View::Corrected);
            let mut heard = None;
            let mut events = performance.events.iter().peekable();
            for at in (0..span.to.0).map(Tick) {
                while let Some(event) = events.next_if(|event| event.at <= at) {
                    if let Wire::Message(Message::Change { controller, value, .. }) = event.wire
                        && controller.get() == 1
                    {
                        heard = Some(U14::from(value));
                    }
                }
                // The longest gesture here takes three cycles.
                if at >= length * 4 && at < length * 7 {
                    let drawn = curves.value_at(WHEEL, at.cycle(length).1);
                    prop_assert_eq!(drawn.or(Some(U14::default())), heard, "at {}", at.0);
                }
            }
        }
    }

    #[test]
    fn a_curve_is_that_of_its_channel_and_its_controller() {
        let other = Curve { channel: Channel::from_wire(1), control: Control::Bend };
        let curves = [
            WHEEL,
            Curve { channel: other.channel, ..WHEEL },
            Curve { channel: WHEEL.channel, ..other },
        ];
        let mut build = Build::new(1).pass(0, 1920, &[]);
        for (value, Curve { channel, control }) in (1..).zip(curves) {
            let points = vec![Point::step(Tick::ZERO, U14::new(value).unwrap())];
            let span = Span::new(Tick::ZERO, Tick(1920));
            build = build.lane(0, Lane { channel, control, span, points });
        }
        let song = build.song();
        let all = Curves::of(song.passes.values().next().unwrap());
        let value = |curve| all.value_at(curve, Tick(100)).map(U14::get);
        assert_eq!(curves.map(value), [Some(1), Some(2), Some(3)]);
        assert_eq!(value(other), None);
    }

    #[test]
    fn a_controller_that_a_pass_leaves_alone_has_no_value() {
        let pass = Pass::empty(chaconne_song::PassId(1), chaconne_song::TrackId(1), Tick(960));
        assert_eq!(Curves::of(&pass).value_at(WHEEL, Tick(0)), None);
        let rests = [Control::VOLUME, Control::PAN, Control::Bend, Control::SUSTAIN].map(rest_of);
        assert_eq!(rests.map(U14::get), [100, 64, 8192, 0]);
    }
}
