//! What the lane under the notes shows, mark by mark: the velocities of the notes that start there, or
//! the value of a controller.
//!
//! In: a sheet, a scale, and what the lane is to show. Out: a value for each mark. Like the cells of the
//! notes they are kept for as long as nothing in them changes.

use crate::axis::Scale;
use crate::cells::Source;
use crate::sheet::{Sheet, SheetLayer};
use chaconne_song::{Channel, Control, Curve, Pass, PassId, Point, PointId, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What the lane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum InLane {
    /// The velocities of the notes.
    #[default]
    Velocity,
    /// A controller. Without a channel, on the one that the layer's notes have.
    Control(Control, Option<Channel>),
    /// Nothing: there is no lane.
    Nothing,
}

impl InLane {
    /// The controller in a pass; `None` if another thing is shown. `track` is the channel of the track.
    pub fn curve(self, pass: &Pass, track: Option<Channel>) -> Option<Curve> {
        let InLane::Control(control, channel) = self else { return None };
        let held = || {
            let lane = pass.lanes().iter().find(|lane| lane.control == control);
            lane.map(|lane| lane.channel)
        };
        let notes = || pass.notes().first().map(|note| note.channel);
        let channel = channel.or_else(held).or_else(notes).or(track).unwrap_or_default();
        Some(Curve { channel, control })
    }

    /// Its name: that of the standards, or else the number.
    pub fn name(self) -> String {
        match self {
            InLane::Velocity => "velocity".to_string(),
            InLane::Nothing => "no lane".to_string(),
            InLane::Control(control, None) => control_name(control),
            InLane::Control(control, Some(channel)) => {
                format!("{}, ch {}", control_name(control), channel.number())
            }
        }
    }

    /// Its name where there is room for all of it.
    pub fn long_name(self) -> String {
        match self {
            InLane::Control(control, None) => {
                control.name().map_or_else(|| self.name(), str::to_string)
            }
            _ => self.name(),
        }
    }

    /// The highest value.
    pub fn highest(self) -> u16 {
        match self {
            InLane::Control(control, _) => control.highest(),
            InLane::Velocity | InLane::Nothing => 127,
        }
    }

    /// The lowest value: a note has a velocity of 1 at least.
    pub fn lowest(self) -> u16 {
        u16::from(self == InLane::Velocity)
    }

    /// How much one step changes: finer values have coarser steps.
    pub fn step(self) -> i32 {
        if self.highest() > 127 { 64 } else { 1 }
    }

    /// A value as it is said: from the middle if it can be above or below.
    pub fn value(self, value: U14) -> i32 {
        let value = i32::from(value.get());
        if self.is_centred() { value - i32::from(U14::CENTRE.get()) } else { value }
    }

    /// The value that is said so; as near as the controller goes.
    pub fn said(self, value: i32) -> U14 {
        let middle = if self.is_centred() { i32::from(U14::CENTRE.get()) } else { 0 };
        let value = (value + middle).clamp(i32::from(self.lowest()), i32::from(self.highest()));
        u16::try_from(value).ok().and_then(U14::new).unwrap_or_default()
    }

    /// A value in words, with its sign if it can be above or below.
    pub fn value_words(self, value: U14) -> String {
        match self.is_centred() {
            true => format!("{:+}", self.value(value)),
            false => self.value(value).to_string(),
        }
    }

    /// The unit of its values.
    pub fn unit(self) -> String {
        match self {
            InLane::Control(Control::Bend, _) => "of 8191".to_string(),
            _ => format!("of {}", self.highest()),
        }
    }

    fn is_centred(self) -> bool {
        matches!(self, InLane::Control(Control::Bend, _))
    }
}

/// A controller by the name that MIDI gives it, or else by its number.
pub fn control_name(control: Control) -> String {
    match (control.name(), control) {
        (Some("sustain pedal"), _) => "pedal".to_string(),
        (Some("sostenuto pedal"), _) => "sostenuto".to_string(),
        (Some(name), _) => name.to_string(),
        (None, Control::Change(number)) => format!("CC {number}"),
        (None, Control::KeyPressure(key)) => format!("press {}", crate::key_names::pitch(key)),
        (None, Control::Registered(number)) => format!("RPN {}", number.get()),
        (None, Control::NonRegistered(number)) => format!("NRPN {}", number.get()),
        (None, control) => control.to_string(),
    }
}

/// What a mark of the lane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LaneBar {
    /// The value, 0..=[`InLane::highest`].
    pub value: U14,
    /// Whether it does not sound.
    pub silent: bool,
    /// Whether a point of the controller lies in the mark.
    pub point: bool,
}

/// Bars, and what they were made from.
#[derive(Debug, Default)]
pub struct KeptBars {
    kept: Option<Kept>,
}

#[derive(Debug)]
struct Kept {
    sheet: Arc<Sheet>,
    scale: Scale,
    base: Tick,
    silent: BTreeSet<PassId>,
    shown: InLane,
    target: Option<PassId>,
    bars: Vec<Option<LaneBar>>,
}

impl KeptBars {
    /// The bars, one for each mark. A controller is that of the pass `target`.
    pub fn of(
        &mut self,
        source: &Source,
        shown: InLane,
        target: Option<PassId>,
    ) -> &[Option<LaneBar>] {
        let same = self.kept.as_ref().is_some_and(|kept| {
            Arc::ptr_eq(&kept.sheet, source.sheet)
                && kept.scale == *source.scale
                && kept.base == source.base
                && kept.silent == source.silent
                && (kept.shown, kept.target) == (shown, target)
        });
        if !same {
            self.kept = None;
        }
        let fresh = || Kept {
            sheet: source.sheet.clone(),
            scale: source.scale.clone(),
            base: source.base,
            silent: source.silent.clone(),
            shown,
            target,
            bars: bars(source, shown, target),
        };
        &self.kept.get_or_insert_with(fresh).bars
    }
}

fn bars(source: &Source, shown: InLane, target: Option<PassId>) -> Vec<Option<LaneBar>> {
    let layer = source.sheet.layers.iter().find(|layer| Some(layer.pass.id) == target);
    match (shown, layer) {
        (InLane::Velocity, _) => velocities(source),
        (InLane::Control(..), Some(layer)) => {
            match shown.curve(&layer.pass, source.sheet.track.channel) {
                Some(curve) => values(source, layer, curve),
                None => vec![None; source.scale.marks.len()],
            }
        }
        (InLane::Control(..) | InLane::Nothing, _) => vec![None; source.scale.marks.len()],
    }
}

/// In each mark the highest velocity of the notes that start there; of those that sound, if any does.
fn velocities(source: &Source) -> Vec<Option<LaneBar>> {
    let (scale, early) = (source.scale, source.scale.early());
    let mut bars: Vec<Option<LaneBar>> = vec![None; scale.marks.len()];
    let page = Span::new(scale.start() - early, scale.end() - early);
    for key in source.sheet.keys() {
        for lying in source.sheet.starting(key, page, source.base) {
            let Some(mark) = scale.mark_of(lying.on + early) else { continue };
            let value = U14::from(lying.note.stroke().velocity);
            let bar = LaneBar { value, silent: source.is_silent(&lying), point: false };
            let rank = |bar: &LaneBar| (!bar.silent, bar.value);
            let higher = bars[mark].is_none_or(|known| rank(&bar) > rank(&known));
            if higher {
                bars[mark] = Some(bar);
            }
        }
    }
    bars
}

/// In each mark the value of the last point in it, or else the value at its start.
fn values(source: &Source, layer: &SheetLayer, curve: Curve) -> Vec<Option<LaneBar>> {
    let scale = source.scale;
    let muted = source.silent.contains(&layer.pass.id);
    let start = |at: Tick| layer.curves.value_at(curve, at + source.base);
    let bar = |at: Tick, value: U14, point: bool| {
        let silent = muted || layer.is_covered(at, source.base, &source.silent);
        LaneBar { value, silent, point }
    };
    let of = |at: Tick| start(at).map(|value| bar(at, value, false));
    let mut bars: Vec<Option<LaneBar>> = scale.marks.iter().map(|mark| of(mark.start)).collect();
    let page = Span::new(scale.start(), scale.end());
    for (at, point) in points_on_axis(layer, curve, page, source.base) {
        if let Some(mark) = scale.mark_of(at) {
            bars[mark] = Some(bar(at, point.value, true));
        }
    }
    bars
}

/// The points of a controller that lie in a span of an axis that begins `base` after the section was
/// entered, in order of time.
pub fn points_on_axis(
    layer: &SheetLayer,
    curve: Curve,
    span: Span,
    base: Tick,
) -> Vec<(Tick, Point)> {
    let points = curve.points_in(&layer.pass, Span::new(Tick::MIN, Tick::MAX));
    let length = layer.pass.length.0.max(1);
    let mut found: Vec<(Tick, Point)> = points
        .iter()
        .flat_map(|(_, point)| {
            let first = (span.from + base - point.at).0.div_euclid(length);
            let last = (span.to + base - point.at).0.div_euclid(length);
            (first..=last).map(|cycle| (point.at + Tick(cycle * length) - base, *point))
        })
        .filter(|(at, _)| span.contains(*at))
        .collect();
    found.sort_by_key(|(at, _)| *at);
    found
}

/// The span of a pass in which the points lie that are heard in a span of a cycle: a point may be early,
/// or belong to a gesture that goes on from an earlier cycle.
pub fn span_with_points(pass: &Pass, curve: Curve, span: Span) -> Option<Span> {
    let all: Vec<(PointId, Point)> = curve.points_in(pass, Span::new(Tick::MIN, Tick::MAX));
    let length = pass.length.0.max(1);
    let heard = |at: Tick| {
        let before = (at - span.from).0.div_euclid(length);
        let begin = span.from + Tick(before * length);
        Span::new(begin, begin + span.length())
    };
    let spans = all.iter().map(|(_, point)| (point.at, heard(point.at)));
    let mut with = spans.filter(|(at, span)| span.contains(*at)).map(|(_, span)| span);
    let first = with.next()?;
    // A point of this cycle comes before one of another.
    Some(if with.any(|other| other == span) { span } else { first })
}

/// The controllers that can be added to any layer, as MIDI names them (MIDI 1.0, table III, and the bend
/// and pressure messages).
pub const COMMON: [Control; 11] = [
    Control::Bend,
    Control::Change(U7::low_bits(1)),
    Control::Change(U7::low_bits(11)),
    Control::VOLUME,
    Control::PAN,
    Control::SUSTAIN,
    Control::Pressure,
    Control::Change(U7::low_bits(2)),
    Control::Change(U7::low_bits(4)),
    Control::Change(U7::low_bits(66)),
    Control::Change(U7::low_bits(67)),
];

#[cfg(test)]
mod tests;
