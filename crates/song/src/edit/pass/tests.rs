//! Edits of lanes, points and messages: where each goes, what undoes it, and what is refused.

use super::*;
use crate::{Channel, Control, Letter, Section, Shape, Track, TrackId, U14};
use chaconne_time::{Metre, Tempo};
use std::sync::Arc;

const PASS: PassId = PassId(2);

fn value(value: u16) -> U14 {
    U14::new(value).unwrap()
}

fn lane(control: Control, from: i64, points: &[(i64, u16)]) -> Lane {
    let points = points.iter().map(|&(at, to)| Point::step(Tick(at), value(to))).collect();
    let span = Span::new(Tick(from), Tick(from + 900));
    Lane { channel: Channel::default(), control, span, points }
}

fn message(at: i64, byte: u8) -> SysEx {
    SysEx { at: Tick(at), bytes: vec![0xF0, byte, 0xF7] }
}

/// A pass of one bar with two pedals and a bend, and three messages, two of them at tick 100.
fn song() -> Song {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Keys")));
    let mut pass = Pass::empty(PASS, TrackId(1), Tick(3840));
    let content = pass.notes_mut();
    content.lanes = vec![
        lane(Control::SUSTAIN, 0, &[(0, 127), (480, 0)]),
        lane(Control::SUSTAIN, 1920, &[(1920, 127), (2400, 64), (2400, 0)]),
        lane(Control::Bend, 0, &[(0, 9000)]),
    ];
    content.sysex = vec![message(100, 1), message(100, 2), message(200, 3)];
    pass.sort();
    song.lay(Letter::A, pass);
    song
}

fn made(edit: PassEdit) -> (Song, PassEdit) {
    let (mut song, before) = (song(), song());
    let Edit::Pass(_, inverse) = Edit::Pass(PASS, edit).apply(&mut song).unwrap() else {
        panic!("the inverse is of another kind");
    };
    let mut undone = song.clone();
    Edit::Pass(PASS, inverse.clone()).apply(&mut undone).unwrap();
    assert_eq!(undone, before);
    (song, inverse)
}

fn refused(edit: PassEdit) -> EditError {
    let (mut song, before) = (song(), song());
    let error = Edit::Pass(PASS, edit).apply(&mut song).unwrap_err();
    assert_eq!(song, before);
    error
}

fn id(control: Control, from: i64) -> LaneId {
    LaneId { channel: Channel::default(), control, from: Tick(from) }
}

/// The second pedal.
fn pedal() -> LaneId {
    id(Control::SUSTAIN, 1920)
}

fn point(at: i64, nth: usize) -> PointId {
    PointId { lane: pedal(), at: Tick(at), nth }
}

/// The points of the second pedal.
fn points(song: &Song) -> Vec<(i64, u16)> {
    let lane = song.pass(PASS).unwrap().lane(pedal()).unwrap();
    lane.points.iter().map(|point| (point.at.0, point.value.get())).collect()
}

fn lanes(song: &Song) -> Vec<(Control, i64)> {
    let lanes = song.pass(PASS).unwrap().lanes();
    lanes.iter().map(|lane| (lane.control, lane.span.from.0)).collect()
}

#[test]
fn a_lane_is_added_between_the_others_and_removed_again() {
    let (changed, inverse) = made(PassEdit::AddLane(lane(Control::SUSTAIN, 960, &[(960, 127)])));
    let pedals = lanes(&changed).into_iter().filter(|(control, _)| *control == Control::SUSTAIN);
    let starts: Vec<i64> = pedals.map(|(_, from)| from).collect();
    assert_eq!(starts, [0, 960, 1920]);
    assert_eq!(inverse, PassEdit::RemoveLane(id(Control::SUSTAIN, 960)));
    assert!(changed.pass(PASS).unwrap().is_in_order());
    let (removed, _) = made(PassEdit::RemoveLane(pedal()));
    assert_eq!(lanes(&removed).len(), 2);
    assert!(removed.pass(PASS).unwrap().lane(pedal()).is_none());
}

#[test]
fn a_lane_that_is_there_already_or_is_not_there_is_refused() {
    let again = refused(PassEdit::AddLane(lane(Control::Bend, 0, &[(0, 1)])));
    assert_eq!(again, EditError::Taken("a lane of bend starting there".into()));
    let missing = refused(PassEdit::RemoveLane(id(Control::Bend, 5))).to_string();
    let expected = "there is no lane of bend on channel 1 that starts at tick 5 in pass 2";
    assert_eq!(missing, expected);
}

#[test]
fn a_span_changes_at_its_end_or_moves_the_lane_to_its_new_place() {
    let span = |from, to| Span::new(Tick(from), Tick(to));
    let (longer, _) = made(PassEdit::LaneSpan(pedal(), span(1920, 3000)));
    assert_eq!(longer.pass(PASS).unwrap().lane(pedal()).unwrap().span, span(1920, 3000));
    let first = id(Control::SUSTAIN, 0);
    let (moved, inverse) = made(PassEdit::LaneSpan(first, span(-10, 481)));
    assert_eq!(inverse, PassEdit::LaneSpan(id(Control::SUSTAIN, -10), span(0, 900)));
    assert!(moved.pass(PASS).unwrap().is_in_order());
    // All points must stay inside, and no lane may start where another of its kind does.
    assert!(matches!(refused(PassEdit::LaneSpan(first, span(0, 480))), EditError::Unfit(_)));
    let together = refused(PassEdit::LaneSpan(pedal(), span(0, 3000)));
    assert_eq!(together, EditError::Taken("a lane of change 64 starting there".into()));
}

#[test]
fn a_point_is_added_among_those_at_its_tick() {
    let add = |at, nth| PassEdit::AddPoint(point(at, nth), Point::step(Tick(at), value(7)));
    let with = |edit| points(&made(edit).0);
    assert_eq!(with(add(2000, 0)), [(1920, 127), (2000, 7), (2400, 64), (2400, 0)]);
    assert_eq!(with(add(2400, 0)), [(1920, 127), (2400, 7), (2400, 64), (2400, 0)]);
    assert_eq!(with(add(2400, 1)), [(1920, 127), (2400, 64), (2400, 7), (2400, 0)]);
    assert_eq!(with(add(2400, 2)), [(1920, 127), (2400, 64), (2400, 0), (2400, 7)]);
    assert_eq!(refused(add(2400, 3)), EditError::NoPlace(3));
    assert_eq!(refused(add(2000, 1)), EditError::NoPlace(1));
    let elsewhere = PassEdit::AddPoint(point(2000, 0), Point::step(Tick(2001), value(7)));
    assert_eq!(refused(elsewhere).to_string(), "there is no such point at tick 2000 in pass 2");
    let outside = add(1919, 0);
    assert!(matches!(refused(outside), EditError::Unfit(_)));
}

#[test]
fn a_point_is_removed_by_its_place_at_its_tick_unless_it_is_the_last() {
    let without = |at, nth| points(&made(PassEdit::RemovePoint(point(at, nth))).0);
    assert_eq!(without(1920, 0), [(2400, 64), (2400, 0)]);
    assert_eq!(without(2400, 0), [(1920, 127), (2400, 0)]);
    assert_eq!(without(2400, 1), [(1920, 127), (2400, 64)]);
    for (at, nth) in [(2400, 2), (1920, 1), (2000, 0)] {
        let error = refused(PassEdit::RemovePoint(point(at, nth))).to_string();
        assert_eq!(error, format!("there is no such point at tick {at} in pass 2"));
    }
    let only = PointId { lane: id(Control::Bend, 0), at: Tick(0), nth: 0 };
    let error = refused(PassEdit::RemovePoint(only)).to_string();
    assert_eq!(error, "the lane has no other point; remove the lane instead");
}

#[test]
fn a_point_gets_another_value_or_shape_that_its_control_allows() {
    let (louder, inverse) = made(PassEdit::PointValue(point(2400, 1), value(9)));
    assert_eq!(points(&louder), [(1920, 127), (2400, 64), (2400, 9)]);
    assert_eq!(inverse, PassEdit::PointValue(point(2400, 1), value(0)));
    let error = refused(PassEdit::PointValue(point(2400, 1), value(128))).to_string();
    assert_eq!(error, "value 128 is outside 0 to 127");
    let (curved, inverse) = made(PassEdit::PointShape(point(1920, 0), Shape::SlowEnd));
    let lane = curved.pass(PASS).unwrap().lane(pedal()).unwrap();
    assert_eq!((lane.points[0].shape, lane.points[1].shape), (Shape::SlowEnd, Shape::Step));
    assert_eq!(inverse, PassEdit::PointShape(point(1920, 0), Shape::Step));
}

/// The ticks and data bytes of the messages.
fn messages(song: &Song) -> Vec<(i64, u8)> {
    let sysex = song.pass(PASS).unwrap().sysex();
    sysex.iter().map(|message| (message.at.0, message.bytes[1])).collect()
}

#[test]
fn a_message_is_added_and_removed_by_its_place_at_its_tick() {
    let with = |at, nth| messages(&made(PassEdit::AddSysEx(nth, message(at, 9))).0);
    assert_eq!(with(0, 0), [(0, 9), (100, 1), (100, 2), (200, 3)]);
    assert_eq!(with(100, 0), [(100, 9), (100, 1), (100, 2), (200, 3)]);
    assert_eq!(with(100, 2), [(100, 1), (100, 2), (100, 9), (200, 3)]);
    assert_eq!(with(150, 0), [(100, 1), (100, 2), (150, 9), (200, 3)]);
    assert_eq!(refused(PassEdit::AddSysEx(3, message(100, 9))), EditError::NoPlace(3));
    assert_eq!(refused(PassEdit::AddSysEx(1, message(150, 9))), EditError::NoPlace(1));
    let without = |at, nth| messages(&made(PassEdit::RemoveSysEx(nth, Tick(at))).0);
    assert_eq!(without(100, 0), [(100, 2), (200, 3)]);
    assert_eq!(without(100, 1), [(100, 1), (200, 3)]);
    assert_eq!(without(200, 0), [(100, 1), (100, 2)]);
    for (at, nth) in [(100, 2), (150, 0), (200, 1), (300, 0)] {
        let error = refused(PassEdit::RemoveSysEx(nth, Tick(at))).to_string();
        assert_eq!(error, format!("there is no such message at tick {at} in pass 2"));
    }
}

#[test]
fn a_pass_keeps_room_for_its_content_in_every_section_that_plays_it() {
    let (_, inverse) = made(PassEdit::Length(Tick(7680)));
    assert_eq!(inverse, PassEdit::Length(Tick(3840)));
    let error = refused(PassEdit::Length(Tick(1000))).to_string();
    assert_eq!(error, "pass 2: a pass of 1000 ticks is not a whole number of beats in 4/4");
    let mut song = song();
    let waltz = MetreMap::new(1, "5/2".parse().unwrap()).unwrap();
    let mut other = Section::new("B".parse().unwrap(), waltz, Tempo::DEFAULT);
    other.layers = song.sections[0].layers.clone();
    song.sections.push(Arc::new(other));
    let error = Edit::Pass(PASS, PassEdit::Length(Tick(4800))).apply(&mut song).unwrap_err();
    let expected = "pass 2: a pass of 4800 ticks is not a whole number of beats in 5/2";
    assert_eq!(error.to_string(), expected);
}

#[test]
fn a_feel_or_covers_out_of_range_are_refused() {
    let feel = crate::Feel { reach: 101, ..crate::Feel::off(false) };
    let error = refused(PassEdit::Feel(Some(feel))).to_string();
    assert_eq!(error, "reach 101 is outside 0 to 100");
    let cover = Span::new(Tick(0), Tick(3841));
    assert!(matches!(refused(PassEdit::Covers(vec![cover])), EditError::Unfit(_)));
    let (covered, inverse) = made(PassEdit::Covers(vec![Span::new(Tick(0), Tick(3840))]));
    assert_eq!(covered.pass(PASS).unwrap().covers.len(), 1);
    assert_eq!(inverse, PassEdit::Covers(vec![]));
}
