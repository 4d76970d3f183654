//! Controllers along a route: which layer moves each at a tick, and its value.
//!
//! 1. The topmost sounding layer with a gesture in progress sets it.
//! 2. Otherwise the topmost layer whose last gesture in this cycle left it away from rest holds it
//!    there until the cycle ends.
//! 3. Otherwise it has the track's set value; without one, its value at rest, which is what "reset all
//!    controllers" sets (MMA RP-015).
//!
//! Sustain takes the highest value of any layer. A layer does not count while it is covered, nor after
//! the end of its section.

use crate::gestures::{Gestures, Hold, at_rest};
use crate::occurrences::{self, Cycles, Stay};
use crate::plan::{Item, Plan};
use crate::{PortIx, Slot};
use chaconne_song::{Channel, Control, Track, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::{BTreeMap, BTreeSet};

/// A controller of a channel of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Knob {
    pub port: PortIx,
    pub channel: Channel,
    pub control: Control,
}

/// Who moves or sets a controller in a section.
#[derive(Debug, Clone, Default)]
pub(crate) struct Owners {
    /// The layers that move it, lowest first: the index of the item, and that of its gestures.
    pub layers: Vec<(usize, usize)>,
    /// The slot whose cues move it.
    pub slot: Option<Slot>,
    /// The value that a track sets.
    pub set: Option<U14>,
}

/// All controllers a plan moves or sets.
pub(crate) type Knobs = BTreeMap<Knob, Owners>;

/// Finds which layers move each controller, and what the tracks set it to.
pub(crate) fn knobs(plan: &Plan) -> Knobs {
    let mut knobs = Knobs::new();
    for part in &plan.parts {
        for (control, value) in settings(&part.track) {
            for &channel in &part.channels {
                let owners = knobs.entry(Knob { port: part.port, channel, control }).or_default();
                owners.set = Some(value.into());
                owners.slot = Some(part.slot);
            }
        }
    }
    for (index, item) in plan.items.iter().enumerate() {
        for (place, gestures) in item.baked.gestures.iter().enumerate() {
            let channel = item.channel_of(gestures.channel);
            let knob = Knob { port: item.port, channel, control: gestures.control };
            let owners = knobs.entry(knob).or_default();
            owners.layers.push((index, place));
            owners.slot = Some(item.slot);
        }
    }
    knobs
}

/// The controllers that a track sets, and their values, in the order in which they must be sent.
pub(crate) fn settings(track: &Track) -> impl Iterator<Item = (Control, U7)> + use<> {
    let change = |number: u8, value: U7| (Control::Change(U7::low_bits(number)), value);
    let settings = [
        track.bank.map(|bank| change(0, bank.msb())),
        track.bank.map(|bank| change(32, bank.lsb())),
        track.program.map(|program| (Control::Program, program)),
        track.levels.volume.map(|volume| (Control::VOLUME, volume)),
        track.levels.pan.map(|pan| (Control::PAN, pan)),
    ];
    settings.into_iter().flatten()
}

/// The order in which moves of one tick are sent: bank, program, then the rest.
pub(crate) fn send_order(control: Control) -> (u8, Control) {
    let rank = match control {
        Control::Change(number) if number.get() == 0 => 0,
        Control::Change(number) if number.get() == 32 => 1,
        Control::Program => 2,
        _ => 3,
    };
    (rank, control)
}

impl Owners {
    /// The layers that move it, lowest first.
    fn layers<'a>(
        &'a self,
        plan: &'a Plan,
    ) -> impl DoubleEndedIterator<Item = (&'a Item, &'a Gestures)> {
        let layer = |&(item, place): &(usize, usize)| {
            let item = plan.items.get(item)?;
            Some((item, item.baked.gestures.get(place)?))
        };
        self.layers.iter().filter_map(layer)
    }

    /// The value of the top layer's first move.
    pub fn first_move(&self, plan: &Plan) -> Option<U14> {
        self.layers(plan).next_back().and_then(|(_, gestures)| gestures.first())
    }
}

/// What a layer does with a controller at a tick.
fn hold(item: &Item, gestures: &Gestures, stay: &Stay, at: Tick) -> Hold {
    // Where a newer round silences the pass, its gestures end as its notes do.
    let until = item.since.map_or(Tick::MAX, |since| since.until).min(stay.entry.until);
    if at >= until || occurrences::is_covered(item, stay, at) {
        return Hold::Free;
    }
    if matches!(gestures.control, Control::KeyPressure(_)) && !item.key.span.contains(at) {
        // The key is another there.
        return Hold::Free;
    }
    let length = item.baked.length;
    let cycles = Cycles::of(length, item.since.as_ref(), stay);
    let (first, last) = reach(item, gestures);
    let mut own = Hold::Free;
    // A gesture may have begun in an earlier cycle and go on into this one.
    for cycle in cycles.touching(first, last, Span::new(at, at + Tick(1))).rev() {
        match gestures.at(at - cycle) {
            moved @ Hold::Moved(_) => return moved,
            left if cycle <= at && at < cycle + length => own = left,
            _ => {}
        }
    }
    own
}

/// The range of ticks from a cycle's start in which a layer can affect a controller.
fn reach(item: &Item, gestures: &Gestures) -> (Tick, Tick) {
    let (first, last) = gestures.reach();
    (first.min(Tick::ZERO), last.max(item.baked.length))
}

/// The value of a controller at a tick; `None` if nothing moves or sets it and its rest is unknown.
pub(crate) fn value_at(
    control: Control,
    owners: &Owners,
    plan: &Plan,
    stay: &Stay,
    at: Tick,
) -> Option<U14> {
    let holds = owners.layers(plan).rev().map(|(item, gestures)| hold(item, gestures, stay, at));
    if control == Control::SUSTAIN {
        let value = |hold| match hold {
            Hold::Moved(value) | Hold::Left(value) => value,
            Hold::Free => U14::default(),
        };
        return Some(holds.map(value).max().unwrap_or_default());
    }
    let mut left = None;
    for hold in holds {
        match hold {
            Hold::Moved(value) => return Some(value),
            Hold::Left(value) => left = left.or(Some(value)),
            Hold::Free => {}
        }
    }
    left.or(owners.set).or_else(|| at_rest(control))
}

/// The ticks inside `span` at which the value may change: moves, the ends of gestures, the starts of
/// cycles (where those before end), the edges of covers, and where a newer round mutes a pass.
pub(crate) fn changes(owners: &Owners, plan: &Plan, stay: &Stay, span: Span) -> BTreeSet<Tick> {
    let mut ticks = BTreeSet::new();
    let span = Span::new(span.from, span.to.min(stay.entry.until));
    for (item, gestures) in owners.layers(plan) {
        let cycles = Cycles::of(item.baked.length, item.since.as_ref(), stay);
        let (first, last) = reach(item, gestures);
        for cycle in cycles.touching(first, last, span) {
            let from = span.from - cycle;
            let inside = Span::new(from, span.to - cycle);
            ticks.extend(gestures.changes(inside).map(|at| cycle + at));
            ticks.insert(cycle);
        }
        occurrences::cover_edges(item, stay, span, &mut ticks);
        ticks.extend(item.since.map(|since| since.until));
        if matches!(gestures.control, Control::KeyPressure(_)) {
            ticks.extend([item.key.span.from, item.key.span.to]);
        }
    }
    ticks.retain(|&at| span.contains(at));
    ticks
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{Build, spell};
    use crate::{Route, View, perform};
    use chaconne_song::{Lane, Point};

    #[test]
    fn a_controller_that_a_gesture_left_away_from_rest_stays_there_until_the_cycle_ends() {
        let wheel = Lane {
            channel: Channel::default(),
            control: Control::Change(U7::low_bits(1)),
            span: Span::new(Tick(500), Tick(1001)),
            points: [(500, 40), (1000, 90)]
                .map(|(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
                .into(),
        };
        let song = Build::new(1).pass(0, 1920, &[]).lane(0, wheel).song();
        let route = Route::form(&song).unwrap();
        let heard = spell(&perform(&song, &route, route.span(), View::Corrected));
        assert_eq!(heard, "0c1=0 500c1=40 1000c1=90 1920c1=0 2420c1=40 2920c1=90");
    }

    /// Bank Select is sent before the program it is for, its first byte, 0, before its second, 32 (MIDI
    /// 1.0, "Bank Select").
    #[test]
    fn of_one_tick_the_bank_goes_out_first_then_the_program_then_the_rest() {
        let change = |number| Control::Change(U7::low_bits(number));
        let rest = [Control::Bend, change(1), change(7), change(31), change(33), change(64)];
        for other in rest {
            let mut moves = [other, Control::Program, change(32), change(0)];
            moves.sort_by_key(|&control| send_order(control));
            assert_eq!(moves, [change(0), change(32), Control::Program, other]);
        }
    }
}
