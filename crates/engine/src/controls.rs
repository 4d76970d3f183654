//! Controllers along a route: which pass owns which, and what value holds when.
//!
//! Sustain is down if any pass (or the player's foot) holds it. Of the rest, the top pass that
//! has the controller owns it. Where none does, the value stays as it was; at the first entry
//! into a section it starts from the track's set values, or from the state that "reset all
//! controllers" stands for (MIDI recommended practice RP-015).

use crate::occurrences::{Cycles, Stay};
use crate::plan::{Item, Plan};
use crate::{PortIx, Slot};
use chaconne_song::{Channel, Control, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::{BTreeMap, BTreeSet};

/// A controller of a channel of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Knob {
    pub port: PortIx,
    pub channel: Channel,
    pub control: Control,
}

/// A controller that a section moves: the lanes that may own it, lowest first, and what it is set
/// to.
#[derive(Debug, Clone, Default)]
pub(crate) struct Owners {
    /// Items and their lanes, by index.
    pub lanes: Vec<(usize, usize)>,
    /// The slot whose cues move it.
    pub slot: Option<Slot>,
    /// The tracks' set value.
    pub set: Option<U14>,
}

/// All controllers a plan moves or sets.
pub(crate) type Knobs = BTreeMap<Knob, Owners>;

/// Finds which lanes move each controller, and what the tracks set it to.
pub(crate) fn knobs(plan: &Plan) -> Knobs {
    let mut knobs = Knobs::new();
    for part in &plan.parts {
        let track = &part.track;
        let bank = track.bank.map(|bank| [bank.msb(), bank.lsb()]);
        let change = |number: u8, value: U7| (Control::Change(U7::low_bits(number)), value);
        let settings = [
            bank.map(|[msb, _]| change(0, msb)),
            bank.map(|[_, lsb]| change(32, lsb)),
            track.program.map(|program| (Control::Program, program)),
            track.levels.volume.map(|volume| (Control::VOLUME, volume)),
            track.levels.pan.map(|pan| (Control::PAN, pan)),
        ];
        for (control, value) in settings.into_iter().flatten() {
            for &channel in &part.channels {
                let owners = knobs.entry(Knob { port: part.port, channel, control }).or_default();
                owners.set = Some(value.into());
                owners.slot = Some(part.slot);
            }
        }
    }
    for (index, item) in plan.items.iter().enumerate() {
        for (lane_index, lane) in item.baked.lanes.iter().enumerate() {
            let channel = item.channel_of(lane.channel);
            let knob = Knob { port: item.port, channel, control: lane.control };
            let owners = knobs.entry(knob).or_default();
            owners.lanes.push((index, lane_index));
            owners.slot = Some(item.slot);
        }
    }
    knobs
}

/// The order in which moves of one moment are sent: bank, program, then the rest.
pub(crate) fn send_order(control: Control) -> (u8, Control) {
    let rank = match control {
        Control::Change(number) if number.get() == 0 => 0,
        Control::Change(number) if number.get() == 32 => 1,
        Control::Program => 2,
        _ => 3,
    };
    (rank, control)
}

/// What a controller is at rest, where that is known (RP-015: what "reset all controllers"
/// sets; bank, program, volume, pan and the sound controllers are not touched).
pub(crate) fn at_rest(control: Control) -> Option<U14> {
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

/// The value of one lane at a tick, where its pass owns the controller there.
fn lane_value(item: &Item, lane: usize, stay: &Stay, at: Tick) -> Option<U14> {
    let lane = item.baked.lanes.get(lane)?;
    if at >= stay.entry.until {
        return None;
    }
    let cycles = Cycles::of(item.baked.length, item.since.as_ref(), stay);
    let span = Span::new(at, at + Tick(1));
    let reach = (lane.span.from.min(Tick::ZERO), lane.span.to.max(item.baked.length));
    // The newest cycle that covers the tick decides; a pedal held over the seam reaches on.
    let starts: Vec<Tick> = cycles.touching(reach.0, reach.1, span).collect();
    starts.iter().rev().find_map(|&cycle| lane.value_at(at - cycle))
}

/// The value in force at a tick; `None` if no pass owns the controller there.
pub(crate) fn value_at(
    control: Control,
    owners: &Owners,
    plan: &Plan,
    stay: &Stay,
    at: Tick,
) -> Option<U14> {
    let mut values = owners.lanes.iter().rev().filter_map(|&(item, lane)| {
        plan.items.get(item).and_then(|item| lane_value(item, lane, stay, at))
    });
    if control == Control::SUSTAIN { values.max() } else { values.next() }
}

/// The last value of a controller before `at` in this stay, if no pass owns it at `at`. A sustain
/// pedal that no pass holds is up.
pub(crate) fn value_left(
    control: Control,
    owners: &Owners,
    plan: &Plan,
    stay: &Stay,
    at: Tick,
) -> Option<U14> {
    if control == Control::SUSTAIN {
        return None;
    }
    let lengths = owners.lanes.iter().filter_map(|&(item, _)| plan.items.get(item));
    let longest = lengths.map(|item| item.baked.length).max()?;
    let span = Span::new(stay.entry.at.max(at - longest * 2), at);
    let moved = changes(owners, plan, stay, span);
    moved.iter().rev().find_map(|&at| value_at(control, owners, plan, stay, at))
}

/// The ticks inside `span` at which the value may change: the moves, and the ends of spans.
pub(crate) fn changes(owners: &Owners, plan: &Plan, stay: &Stay, span: Span) -> BTreeSet<Tick> {
    let mut ticks = BTreeSet::new();
    for &(index, lane) in &owners.lanes {
        let Some(item) = plan.items.get(index) else { continue };
        let Some(lane) = item.baked.lanes.get(lane) else { continue };
        let cycles = Cycles::of(item.baked.length, item.since.as_ref(), stay);
        let reach = (lane.span.from.min(Tick::ZERO), lane.span.to.max(item.baked.length));
        for cycle in cycles.touching(reach.0, reach.1 + Tick(1), span) {
            let moves = lane.points.iter().map(|point| point.at);
            let all = moves.chain([lane.span.from, lane.span.to]).map(|at| cycle + at);
            ticks.extend(all.filter(|&at| span.contains(at) && at < stay.entry.until));
        }
    }
    ticks
}
