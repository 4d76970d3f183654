//! What the lane under the notes shows, mark by mark: the velocities of the notes that start there, or
//! the value of a controller.
//!
//! In: a sheet, a scale, and what the lane is to show. Out: a value for each mark. Like the cells of the
//! notes they are kept for as long as nothing in them changes.

use crate::axis::{Mark, Scale};
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
        (None, Control::KeyPressure(key)) => {
            format!("press {}", crate::key_names::pitch(key, None))
        }
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
    only: Option<U7>,
    bars: Vec<Option<LaneBar>>,
}

impl KeptBars {
    /// The bars, one for each mark.
    pub fn of(&mut self, source: &Source, shown: InLane) -> &[Option<LaneBar>] {
        self.kept(source, shown, None)
    }

    /// The velocities of one key, one for each mark.
    pub fn of_key(&mut self, source: &Source, key: U7) -> &[Option<LaneBar>] {
        self.kept(source, InLane::Velocity, Some(key))
    }

    fn kept(&mut self, source: &Source, shown: InLane, only: Option<U7>) -> &[Option<LaneBar>] {
        let same = self.kept.as_ref().is_some_and(|kept| {
            Arc::ptr_eq(&kept.sheet, source.sheet)
                && kept.scale == *source.scale
                && kept.base == source.base
                && kept.silent == source.silent
                && kept.shown == shown
                && kept.only == only
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
            only,
            bars: bars(source, shown, only),
        };
        &self.kept.get_or_insert_with(fresh).bars
    }
}

fn bars(source: &Source, shown: InLane, only: Option<U7>) -> Vec<Option<LaneBar>> {
    match shown {
        InLane::Velocity => velocities(source, only),
        InLane::Control(..) => values(source, shown),
        InLane::Nothing => vec![None; source.scale.marks.len()],
    }
}

/// In each mark the highest velocity of the notes of all keys, or one, that start there; of those that sound,
/// if any does.
fn velocities(source: &Source, only: Option<U7>) -> Vec<Option<LaneBar>> {
    let (scale, early) = (source.scale, source.scale.early());
    let mut bars: Vec<Option<LaneBar>> = vec![None; scale.marks.len()];
    let page = Span::new(scale.start() - early, scale.end() - early);
    for key in source.sheet.keys().filter(|key| only.is_none_or(|only| only == *key)) {
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
fn values(source: &Source, shown: InLane) -> Vec<Option<LaneBar>> {
    let scale = source.scale;
    let page = Span::new(scale.start(), scale.end());
    let curves = LaneCurves::of(source.sheet, shown, page, (source.base, &source.silent));
    let mark = |mark: &Mark| curves.at(Span::new(mark.start, mark.end)).map(|(_, bar)| bar);
    scale.marks.iter().map(mark).collect()
}

/// A controller in the layers of a sheet that hold it, on a page of the axis.
#[derive(Debug)]
pub struct LaneCurves<'a> {
    /// The layers, top first.
    pub layers: Vec<LayerCurve<'a>>,
    base: Tick,
    silent: &'a BTreeSet<PassId>,
}

/// A controller in one layer.
#[derive(Debug)]
pub struct LayerCurve<'a> {
    /// The layer.
    pub layer: &'a SheetLayer,
    /// The controller.
    pub curve: Curve,
    /// Its points on the page, in order of time.
    pub points: Vec<(Tick, Point)>,
}

impl<'a> LaneCurves<'a> {
    /// Those of a sheet, on an axis that begins so long after the section was entered. Which layers are
    /// silent is given.
    pub fn of(
        sheet: &'a Sheet,
        shown: InLane,
        page: Span,
        (base, silent): (Tick, &'a BTreeSet<PassId>),
    ) -> LaneCurves<'a> {
        let of = |layer: &'a SheetLayer| {
            let curve = shown.curve(&layer.pass, sheet.track.channel)?;
            let points = points_on_axis(layer, curve, page, base);
            Curve::all_of(&layer.pass).contains(&curve).then_some(LayerCurve {
                layer,
                curve,
                points,
            })
        };
        LaneCurves { layers: sheet.layers.iter().filter_map(of).collect(), base, silent }
    }

    /// What a mark shows, and the layer that it is heard from: of those that sound the top one that moves
    /// the controller, else the top one that has left it somewhere. A pedal is down if any holds it.
    pub fn at(&self, mark: Span) -> Option<(&LayerCurve<'a>, LaneBar)> {
        let bars = self.layers.iter().rev().filter_map(|of| {
            let (bar, moves) = self.bar(of, mark)?;
            let pedal =
                if of.curve.control == Control::SUSTAIN { bar.value } else { U14::default() };
            Some(((!bar.silent, pedal, moves), (of, bar)))
        });
        bars.max_by_key(|(rank, _)| *rank).map(|(_, found)| found)
    }

    /// Where the points are that are heard, in order of time: where two layers have one, the upper one is.
    pub fn points(&self) -> Vec<Tick> {
        let heard = |layer: &SheetLayer, at: Tick| {
            let found = self.at(Span::new(at, at + Tick(1)));
            found.is_some_and(|(of, _)| of.layer.pass.id == layer.pass.id)
        };
        let of = |of: &LayerCurve<'a>| -> Vec<Tick> {
            let places = of.points.iter().map(|(at, _)| *at);
            places.filter(|at| heard(of.layer, *at)).collect()
        };
        let mut places: Vec<Tick> = self.layers.iter().flat_map(of).collect();
        places.sort_unstable();
        places
    }

    /// What a layer does in a mark, and whether it moves the controller there.
    fn bar(&self, of: &LayerCurve, mark: Span) -> Option<(LaneBar, bool)> {
        let point = of.points[..of.points.partition_point(|(at, _)| *at < mark.to)].last();
        let (at, value, point, moves) = match point.filter(|(at, _)| *at >= mark.from) {
            Some((at, point)) => (*at, point.value, true, true),
            None => {
                let (value, moves) = of.layer.curves.hold_at(of.curve, mark.from + self.base)?;
                (mark.from, value, false, moves)
            }
        };
        let muted = self.silent.contains(&of.layer.pass.id);
        let silent = muted || of.layer.is_covered(at, self.base, self.silent);
        Some((LaneBar { value, silent, point }, moves))
    }
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
