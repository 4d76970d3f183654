//! Drawing a controller of a pass: points, and ramps between two points.
//!
//! A pass moves a controller in gestures, each a lane of its own. A drawn point goes into the gesture that
//! moves the controller there; if none does, it begins one, which lasts until the next gesture or the end
//! of the pass.

use super::ReviseError;
use crate::{
    Channel, Commit, Control, Edit, Label, Lane, LaneId, Pass, PassEdit, Point, PointId, Shape, U14,
};
use chaconne_time::{Span, Tick};

/// A controller of a channel, in a pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Curve {
    /// The channel.
    pub channel: Channel,
    /// The controller.
    pub control: Control,
}

/// A change from one value to another over a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ramp {
    /// Where it starts.
    pub from: Tick,
    /// Where it ends, after `from`.
    pub to: Tick,
    /// The value at the start.
    pub first: U14,
    /// The value at the end.
    pub last: U14,
    /// How the value gets there.
    pub shape: Shape,
}

impl Ramp {
    /// The value at a tick, as [`Shape::between`] has it; before the start the first, after the end the
    /// last.
    pub fn value_at(&self, at: Tick) -> U14 {
        self.shape.between(self.first, self.last, at - self.from, self.to - self.from)
    }
}

impl Curve {
    /// Every controller that a pass moves.
    pub fn all_of(pass: &Pass) -> Vec<Curve> {
        let of = |lane: &Lane| Curve { channel: lane.channel, control: lane.control };
        let mut all: Vec<Curve> = pass.lanes().iter().map(of).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Its gestures in a pass, in the order in which they begin to move it: each takes over from the one
    /// before.
    fn lanes<'a>(&self, pass: &'a Pass) -> Vec<&'a Lane> {
        let own = |lane: &&Lane| lane.channel == self.channel && lane.control == self.control;
        let mut lanes: Vec<&Lane> = pass.lanes().iter().filter(own).collect();
        lanes.sort_by_key(|lane| first(lane));
        lanes
    }

    /// The points that move it inside a span of a pass, in order of time.
    pub fn points_in(&self, pass: &Pass, span: Span) -> Vec<(PointId, Point)> {
        let lanes = self.lanes(pass);
        let mut found = Vec::new();
        for (index, lane) in lanes.iter().enumerate() {
            let until = lanes.get(index + 1).map_or(Tick::MAX, |next| first(next)).min(span.to);
            let named = names(lane).filter(|(_, point)| span.from <= point.at && point.at < until);
            found.extend(named);
        }
        found
    }

    /// Sets its value at a tick of a pass, with a new point if there is none.
    ///
    /// # Errors
    /// If the tick is outside the pass.
    pub fn set(&self, pass: &Pass, at: Tick, value: U14) -> Result<Commit, ReviseError> {
        inside(pass, at)?;
        let here = self.points_in(pass, Span::new(at, at + Tick(1)));
        let edit = match (here.last(), self.home(pass, at)) {
            (Some((name, _)), _) => PassEdit::PointValue(*name, value),
            (None, Some(home)) => {
                let point = Point { at, value, shape: shape_at(home, at) };
                PassEdit::AddPoint(PointId { lane: home.id(), at, nth: 0 }, point)
            }
            (None, None) => {
                let span = Span::new(at, self.end_after(pass, at, at));
                PassEdit::AddLane(self.lane(span, vec![Point::step(at, value)]))
            }
        };
        Ok(commit(Label::Controllers, pass, vec![edit]))
    }

    /// Raises or lowers the points inside a span of a pass by as much, or by as much less as the highest
    /// and the lowest allow.
    ///
    /// # Errors
    /// If there are none, or one has the highest or lowest value already.
    pub fn shift(&self, pass: &Pass, span: Span, by: i32) -> Result<Commit, ReviseError> {
        let points = self.points_in(pass, span);
        let values = || points.iter().map(|(_, point)| i32::from(point.value.get()));
        let (Some(low), Some(high)) = (values().min(), values().max()) else {
            return Err(ReviseError::NoPoint);
        };
        let by = by.clamp(-low, i32::from(self.control.highest()) - high);
        if by == 0 {
            return Err(if low == 0 { ReviseError::Lowest } else { ReviseError::Highest });
        }
        let edits = points.iter().map(|(name, point)| {
            let value = i32::from(point.value.get()) + by;
            let value = u16::try_from(value).ok().and_then(U14::new).unwrap_or(point.value);
            PassEdit::PointValue(*name, value)
        });
        Ok(commit(Label::Controllers, pass, edits.collect()))
    }

    /// Deletes the points inside a span of a pass; a gesture without points goes too.
    ///
    /// # Errors
    /// If there are none.
    pub fn remove(&self, pass: &Pass, span: Span) -> Result<Commit, ReviseError> {
        let points = self.points_in(pass, span);
        let lanes = self.lanes(pass);
        let edits = lanes.iter().flat_map(|lane| {
            let own = |(name, _): &&(PointId, Point)| name.lane == lane.id();
            let names = points.iter().filter(own).map(|(name, _)| *name);
            removal(lane, names.collect())
        });
        let edits: Vec<PassEdit> = edits.collect();
        match edits.is_empty() {
            true => Err(ReviseError::NoPoint),
            false => Ok(commit(Label::Controllers, pass, edits)),
        }
    }

    /// Draws a ramp in place of whatever moves it between the two ends, which are included. What comes
    /// before and after stays.
    ///
    /// # Errors
    /// If an end is outside the pass, or the end is not after the start.
    pub fn ramp(&self, pass: &Pass, ramp: &Ramp) -> Result<Commit, ReviseError> {
        inside(pass, ramp.from)?;
        inside(pass, ramp.to)?;
        if ramp.to <= ramp.from {
            return Err(ReviseError::NoTime);
        }
        let replaced = Span::new(ramp.from, ramp.to + Tick(1));
        let home = self.home(pass, ramp.from);
        let lanes = self.lanes(pass);
        // Of gestures that moved it there, also the points at which another had taken over: they would
        // be heard once that one is gone.
        let gone = |lane: &Lane| -> Vec<PointId> {
            let next = lanes.iter().skip_while(|other| other.id() != lane.id()).nth(1);
            let hidden = next.map_or(Tick::MAX, |next| first(next)).max(replaced.to);
            let goes = |name: &PointId| replaced.contains(name.at) || name.at >= hidden;
            names(lane).map(|(name, _)| name).filter(goes).collect()
        };
        let mut edits = Vec::new();
        // Gestures that would take over on the way.
        let on_the_way = |lane: &&Lane| ramp.from < first(lane) && first(lane) <= ramp.to;
        for lane in lanes.iter().copied().filter(on_the_way) {
            if home.is_none_or(|home| home.id() != lane.id()) {
                edits.extend(removal(lane, gone(lane)));
            }
        }
        let end = self.end_after(pass, ramp.from, ramp.to);
        let start = Point { at: ramp.from, value: ramp.first, shape: ramp.shape };
        let stop = Point::step(ramp.to, ramp.last);
        match home {
            None => {
                let span = Span::new(ramp.from, end);
                edits.push(PassEdit::AddLane(self.lane(span, vec![start, stop])));
            }
            Some(home) => {
                // What glided on from the end of the ramp still does.
                let stop = Point { shape: shape_at(home, ramp.to), ..stop };
                let to = if home.span.to > ramp.to { home.span.to } else { end };
                let span = Span::new(home.span.from, to);
                edits.extend(into(home, span, gone(home), [start, stop]));
            }
        }
        Ok(commit(Label::ControllerRamp, pass, edits))
    }

    /// The gesture that moves the controller at a tick, or that has begun there.
    fn home<'a>(&self, pass: &'a Pass, at: Tick) -> Option<&'a Lane> {
        let lanes = self.lanes(pass);
        let (moved, coming) = lanes.split_at(lanes.partition_point(|lane| first(lane) <= at));
        let lasts = |lane: &&&Lane| lane.span.contains(at);
        moved.last().filter(lasts).or_else(|| coming.iter().find(lasts)).copied()
    }

    /// Where a gesture ends that is drawn from one tick up to another: where the next one goes on, else at
    /// the end of the pass.
    fn end_after(&self, pass: &Pass, from: Tick, to: Tick) -> Tick {
        let after = to + Tick(1);
        let goes_on = |lane: &&Lane| {
            first(lane) > from && lane.points.last().is_some_and(|point| point.at > to)
        };
        let later = self.lanes(pass).into_iter().filter(goes_on);
        let next = later.map(|lane| lane.span.from.max(after)).min();
        next.unwrap_or(pass.length.max(after))
    }

    fn lane(&self, span: Span, points: Vec<Point>) -> Lane {
        Lane { channel: self.channel, control: self.control, span, points }
    }
}

fn inside(pass: &Pass, at: Tick) -> Result<(), ReviseError> {
    let whole = Span::new(Tick::ZERO, pass.length);
    if whole.contains(at) { Ok(()) } else { Err(ReviseError::OutsideLayer) }
}

fn commit(label: Label, pass: &Pass, edits: Vec<PassEdit>) -> Commit {
    let edits = edits.into_iter().map(|edit| Edit::Pass(pass.id, edit)).collect();
    Commit::new(label, edits)
}

/// Where a lane begins to move its controller.
fn first(lane: &Lane) -> Tick {
    lane.points.first().map_or(lane.span.from, |point| point.at)
}

/// The shape with which a lane moves on from a tick; a step after its last point.
fn shape_at(lane: &Lane, at: Tick) -> Shape {
    let after = lane.points.partition_point(|point| point.at <= at);
    let moves = after < lane.points.len();
    let point = after.checked_sub(1).and_then(|index| lane.points.get(index));
    point.filter(|_| moves).map_or(Shape::Step, |point| point.shape)
}

/// The points of a lane with what they are called.
fn names(lane: &Lane) -> impl Iterator<Item = (PointId, Point)> + '_ {
    let id: LaneId = lane.id();
    lane.points.iter().enumerate().map(move |(index, &point)| {
        let before = lane.points.partition_point(|other| other.at < point.at);
        (PointId { lane: id, at: point.at, nth: index - before }, point)
    })
}

/// What removes points of a lane, or the lane if no other is left. The last is removed first, so that
/// the others keep their names.
fn removal(lane: &Lane, points: Vec<PointId>) -> Vec<PassEdit> {
    match points.len() == lane.points.len() {
        true => vec![PassEdit::RemoveLane(lane.id())],
        false => points.into_iter().rev().map(PassEdit::RemovePoint).collect(),
    }
}

/// What puts two points into a lane in place of others, and makes it last for a span.
fn into(lane: &Lane, span: Span, gone: Vec<PointId>, points: [Point; 2]) -> Vec<PassEdit> {
    if gone.len() == lane.points.len() {
        let whole = Lane { span, points: points.to_vec(), ..*lane };
        return vec![PassEdit::RemoveLane(lane.id()), PassEdit::AddLane(whole)];
    }
    let mut edits = removal(lane, gone);
    if span != lane.span {
        edits.push(PassEdit::LaneSpan(lane.id(), span));
    }
    let add =
        |point: Point| PassEdit::AddPoint(PointId { lane: lane.id(), at: point.at, nth: 0 }, point);
    edits.extend(points.map(add));
    edits
}

#[cfg(test)]
mod tests;
