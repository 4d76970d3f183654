//! Edits of a pass: its fields, lanes and messages. Module `notes` edits its notes.

use super::{Edit, EditError, PassEdit, PointId, groove, in_pass, notes, swap};
use crate::rules::{self, Frame};
use crate::{Lane, LaneId, Notes, Pass, PassId, Point, Song, SysEx};
use chaconne_time::{MetreMap, Span, Tick};

pub(super) fn apply(song: &mut Song, id: PassId, edit: PassEdit) -> Result<Edit, EditError> {
    use PassEdit as E;
    let inverse = match edit {
        E::Name(name) => E::Name(swap(&mut pass_mut(song, id)?.name, name)),
        E::Feel(feel) => {
            feel.as_ref().map_or(Ok(()), rules::feel).map_err(EditError::Unfit)?;
            feel.iter().try_for_each(|feel| groove::feel_fits(song, feel))?;
            E::Feel(swap(&mut pass_mut(song, id)?.feel, feel))
        }
        E::Length(length) => set_length(song, id, length)?,
        E::Covers(covers) => {
            with_frame(song, id, |frame, _| frame.covers(&covers))?;
            E::Covers(swap(&mut pass_mut(song, id)?.covers, covers))
        }
        E::AddNotes(new) => notes::add(song, id, new)?,
        E::RemoveNotes(unwanted) => notes::remove(song, id, unwanted)?,
        E::Played(releases) => notes::played(song, id, releases)?,
        E::Place(placements) => notes::place(song, id, placements)?,
        E::AddLane(lane) => add_lane(song, id, lane)?,
        E::RemoveLane(lane) => {
            let (at, content) = lane_mut(song, id, lane)?;
            E::AddLane(content.lanes.remove(at))
        }
        E::LaneSpan(lane, span) => lane_span(song, id, lane, span)?,
        E::AddPoint(at, point) => add_point(song, id, at, point)?,
        E::RemovePoint(at) => remove_point(song, id, at)?,
        E::PointValue(at, value) => {
            change_point(song, id, at, |point| E::PointValue(at, swap(&mut point.value, value)))?
        }
        E::PointShape(at, shape) => {
            change_point(song, id, at, |point| E::PointShape(at, swap(&mut point.shape, shape)))?
        }
        E::AddSysEx(nth, message) => add_sysex(song, id, nth, message)?,
        E::RemoveSysEx(nth, at) => remove_sysex(song, id, nth, at)?,
    };
    Ok(Edit::Pass(id, inverse))
}

pub(super) fn pass(song: &Song, id: PassId) -> Result<&Pass, EditError> {
    song.pass(id).map(|pass| &**pass).ok_or(EditError::NoPass(id.0))
}

pub(super) fn pass_mut(song: &mut Song, id: PassId) -> Result<&mut Pass, EditError> {
    song.pass_mut(id).ok_or(EditError::NoPass(id.0))
}

/// The metre in which a pass is written: that of the first section that contains it.
fn metre(song: &Song, id: PassId) -> Result<&MetreMap, EditError> {
    let first = song.sections_with(id).next();
    first.map(|section| &section.metre).ok_or(EditError::NoPass(id.0))
}

/// Runs a check that depends on the length of a pass.
pub(super) fn with_frame(
    song: &Song,
    id: PassId,
    check: impl FnOnce(Frame<'_>, &Pass) -> Result<(), String>,
) -> Result<(), EditError> {
    let pass = pass(song, id)?;
    let frame = Frame::new(metre(song, id)?, pass.length).map_err(EditError::Unfit)?;
    check(frame, pass).map_err(EditError::Unfit)
}

/// Sets the length. It must be a whole number of beats in every section that contains the pass, and
/// long enough for the pass's content.
fn set_length(song: &mut Song, id: PassId, length: Tick) -> Result<PassEdit, EditError> {
    let known = pass(song, id)?;
    for section in song.sections_with(id) {
        rules::Frame::new(&section.metre, length)
            .and_then(|frame| rules::content(frame, known))
            .map_err(|broken| in_pass(id, broken))?;
    }
    Ok(PassEdit::Length(swap(&mut pass_mut(song, id)?.length, length)))
}

/// The index of a lane, and the content it is in.
fn lane_mut(song: &mut Song, id: PassId, lane: LaneId) -> Result<(usize, &mut Notes), EditError> {
    let at = lane_place(pass(song, id)?, lane).ok_or_else(|| no_lane(id, lane))?;
    Ok((at, pass_mut(song, id)?.notes_mut()))
}

fn lane_place(pass: &Pass, lane: LaneId) -> Option<usize> {
    pass.lanes().binary_search_by_key(&lane, Lane::id).ok()
}

fn no_lane(id: PassId, lane: LaneId) -> EditError {
    let (control, channel) = (lane.control, lane.channel);
    EditError::NotFound(format!(
        "there is no lane of {control} on channel {channel} that starts at tick {} in pass {}",
        lane.from.0, id.0
    ))
}

fn no_point(id: PassId, at: Tick) -> EditError {
    EditError::NotFound(format!("there is no such point at tick {} in pass {}", at.0, id.0))
}

fn lane_is_new(pass: &Pass, lane: LaneId) -> Result<(), EditError> {
    match lane_place(pass, lane) {
        None => Ok(()),
        Some(_) => Err(EditError::Taken(format!("a lane of {} starting there", lane.control))),
    }
}

fn add_lane(song: &mut Song, id: PassId, lane: Lane) -> Result<PassEdit, EditError> {
    with_frame(song, id, |frame, _| frame.lane(&lane))?;
    lane_is_new(pass(song, id)?, lane.id())?;
    let (name, content) = (lane.id(), pass_mut(song, id)?.notes_mut());
    let at = content.lanes.partition_point(|known| known.id() < name);
    content.lanes.insert(at, lane);
    Ok(PassEdit::RemoveLane(name))
}

fn lane_span(song: &mut Song, id: PassId, name: LaneId, span: Span) -> Result<PassEdit, EditError> {
    let known = pass(song, id)?;
    let at = lane_place(known, name).ok_or_else(|| no_lane(id, name))?;
    let moved = LaneId { from: span.from, ..name };
    if moved != name {
        lane_is_new(known, moved)?;
    }
    with_frame(song, id, |frame, pass| {
        let lane = pass.lanes().get(at).ok_or("there is no such lane")?;
        frame.lane_span(span)?;
        frame.points(lane.control, span, &lane.points)
    })?;
    let content = pass_mut(song, id)?.notes_mut();
    let before = swap(&mut content.lanes[at].span, span);
    content.lanes.sort_by_key(Lane::id);
    Ok(PassEdit::LaneSpan(moved, before))
}

/// The index of a point in its lane.
fn point_place(lane: &Lane, point: PointId) -> Option<usize> {
    let first = lane.points.partition_point(|known| known.at < point.at);
    let index = first.checked_add(point.nth)?;
    lane.points.get(index).filter(|known| known.at == point.at).map(|_| index)
}

fn add_point(
    song: &mut Song,
    id: PassId,
    name: PointId,
    point: Point,
) -> Result<PassEdit, EditError> {
    if name.at != point.at {
        return Err(no_point(id, name.at));
    }
    let (at, _) = lane_mut(song, id, name.lane)?;
    let lane = &pass(song, id)?.lanes()[at];
    let (control, span) = (lane.control, lane.span);
    with_frame(song, id, |frame, _| frame.points(control, span, &[point]))?;
    let lane = &mut pass_mut(song, id)?.notes_mut().lanes[at];
    let first = lane.points.partition_point(|known| known.at < name.at);
    let last = lane.points.partition_point(|known| known.at <= name.at);
    let place = first.saturating_add(name.nth);
    if place > last {
        return Err(EditError::NoPlace(name.nth));
    }
    lane.points.insert(place, point);
    Ok(PassEdit::RemovePoint(name))
}

fn remove_point(song: &mut Song, id: PassId, name: PointId) -> Result<PassEdit, EditError> {
    let (at, content) = lane_mut(song, id, name.lane)?;
    let lane = &mut content.lanes[at];
    let place = point_place(lane, name).ok_or_else(|| no_point(id, name.at))?;
    if lane.points.len() == 1 {
        let message = "the lane has no other point; remove the lane instead";
        return Err(EditError::InUse(message.into()));
    }
    Ok(PassEdit::AddPoint(name, lane.points.remove(place)))
}

fn change_point(
    song: &mut Song,
    id: PassId,
    name: PointId,
    change: impl FnOnce(&mut Point) -> PassEdit,
) -> Result<PassEdit, EditError> {
    let (at, content) = lane_mut(song, id, name.lane)?;
    let lane = &mut content.lanes[at];
    let place = point_place(lane, name).ok_or_else(|| no_point(id, name.at))?;
    let mut point = lane.points[place];
    let inverse = change(&mut point);
    rules::point_value(lane.control, &point).map_err(EditError::Unfit)?;
    lane.points[place] = point;
    Ok(inverse)
}

fn add_sysex(
    song: &mut Song,
    id: PassId,
    nth: usize,
    message: SysEx,
) -> Result<PassEdit, EditError> {
    with_frame(song, id, |frame, _| frame.message(&message))?;
    let all = &mut pass_mut(song, id)?.notes_mut().sysex;
    let at = message.at;
    let first = all.partition_point(|known| known.at < at);
    let last = all.partition_point(|known| known.at <= at);
    let place = first.saturating_add(nth);
    if place > last {
        return Err(EditError::NoPlace(nth));
    }
    all.insert(place, message);
    Ok(PassEdit::RemoveSysEx(nth, at))
}

fn remove_sysex(song: &mut Song, id: PassId, nth: usize, at: Tick) -> Result<PassEdit, EditError> {
    let known = pass(song, id)?.sysex();
    let place = known.partition_point(|message| message.at < at).saturating_add(nth);
    if known.get(place).is_none_or(|message| message.at != at) {
        let message = format!("there is no such message at tick {} in pass {}", at.0, id.0);
        return Err(EditError::NotFound(message));
    }
    let message = pass_mut(song, id)?.notes_mut().sysex.remove(place);
    Ok(PassEdit::AddSysEx(nth, message))
}

#[cfg(test)]
mod tests;
