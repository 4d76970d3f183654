//! What the lane shows of a sheet, by hand.

use super::*;
use crate::axis::{Bars, Grain};
use crate::screen::Stack;
use crate::testing::{empty_song, pass};
use chaconne_song::{Lane, Pass, Shape, Track, TrackId};
use std::collections::BTreeSet;

const WHEEL: Control = Control::Change(U7::low_bits(1));

fn wheel() -> InLane {
    InLane::Control(WHEEL, None)
}

fn gesture(from: i64, to: i64, points: &[(i64, u16, Shape)]) -> Lane {
    let point = |&(at, value, shape): &(i64, u16, Shape)| Point {
        at: Tick(at),
        value: U14::new(value).unwrap(),
        shape,
    };
    let (span, points) = (Span::new(Tick(from), Tick(to)), points.iter().map(point).collect());
    Lane { channel: Channel::default(), control: WHEEL, span, points }
}

/// A sheet of one bar, with layers from the lowest up, and its scale in marks of a quarter.
fn sheet(passes: Vec<Arc<Pass>>) -> (Arc<Sheet>, Scale) {
    let mut song = empty_song(1, "4/4");
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "line")));
    let section = song.sections[0].clone();
    let layers: Vec<_> = passes.into_iter().rev().map(|pass| (pass, false)).collect();
    let (track, grooves) = (song.tracks[0].clone(), vec![None; layers.len()]);
    let stack = Stack { section: section.letter, track, place: 0, layers, grooves };
    let mut bars = Bars::default();
    bars.add(1, Tick(3840), Tick(960));
    let scale = Scale::whole(&bars, Grain::Ticks(960), 20).unwrap();
    (Arc::new(Sheet::new(&stack, None, &section)), scale)
}

/// The bars of a sheet, as value, `true` if silent, `true` if there is a point.
fn shown(
    sheet: &(Arc<Sheet>, Scale),
    shows: InLane,
    silent: &[u32],
) -> Vec<Option<(u16, bool, bool)>> {
    let none = BTreeSet::new();
    let silent = silent.iter().map(|id| PassId(*id)).collect();
    let (sheet, scale, base) = (&sheet.0, &sheet.1, Tick::ZERO);
    let source = Source { sheet, rows: &[], scale, base, selected: (&none, 0), silent };
    let bars = bars(&source, shows, None);
    bars.iter().map(|bar| bar.map(|bar| (bar.value.get(), bar.silent, bar.point))).collect()
}

fn with_lanes(id: u32, length: i64, lanes: Vec<Lane>) -> Arc<Pass> {
    let mut pass = Pass::clone(&pass(id, 1, length, &[]));
    pass.notes_mut().lanes = lanes;
    pass.sort();
    Arc::new(pass)
}

#[test]
fn a_mark_has_the_highest_velocity_of_the_notes_that_start_in_it() {
    let low = pass(10, 1, 3840, &[(0, 100, 60, 40), (10, 100, 64, 90), (1900, 100, 60, 70)]);
    let high = pass(11, 1, 3840, &[(0, 100, 60, 110), (3830, 10, 60, 5)]);
    let sheet = sheet(vec![low, high]);
    let all = shown(&sheet, InLane::Velocity, &[]);
    // A note a little before a mark is meant for it; the last one belongs to the top.
    assert_eq!(all, [Some((110, false, false)), None, Some((70, false, false)), None]);
    // A note that sounds is shown before one that does not.
    let some = shown(&sheet, InLane::Velocity, &[11]);
    assert_eq!(some[0], Some((90, false, false)));
    let none = shown(&sheet, InLane::Velocity, &[10, 11]);
    assert_eq!(none[0], Some((110, true, false)));
}

#[test]
fn a_covered_note_is_shown_as_silent() {
    let low = pass(10, 1, 3840, &[(0, 100, 60, 40), (1920, 100, 60, 70)]);
    let mut above = Pass::clone(&pass(11, 1, 3840, &[]));
    above.covers = vec![Span::new(Tick(1900), Tick(2100))];
    let sheet = sheet(vec![low, Arc::new(above)]);
    let all = shown(&sheet, InLane::Velocity, &[]);
    assert_eq!((all[0], all[2]), (Some((40, false, false)), Some((70, true, false))));
    // Unless the layer that covers it is silent itself.
    assert_eq!(shown(&sheet, InLane::Velocity, &[11])[2], Some((70, false, false)));
}

#[test]
fn a_mark_has_the_value_at_its_start_or_that_of_the_last_point_in_it() {
    let glide = gesture(480, 3000, &[(480, 0, Shape::Straight), (2400, 100, Shape::Step)]);
    let sheet = sheet(vec![with_lanes(10, 3840, vec![glide])]);
    // At 960 a quarter of the way is done: 25. The wheel is left away from rest, and stays there to
    // the end of the cycle; before the gesture the pass leaves it alone.
    let values = shown(&sheet, wheel(), &[]);
    let wanted = [(0, true), (25, false), (100, true), (100, false)];
    assert_eq!(values, wanted.map(|(value, point)| Some((value, false, point))));
    assert_eq!(shown(&sheet, wheel(), &[10])[3], Some((100, true, false)));
    assert_eq!(shown(&sheet, InLane::Control(Control::Bend, None), &[]), [None; 4]);
    assert_eq!(shown(&sheet, InLane::Nothing, &[]), [None; 4]);
}

#[test]
fn the_points_of_a_short_layer_are_shown_in_each_of_its_rounds() {
    let short = with_lanes(
        10,
        960,
        vec![gesture(-10, 500, &[(-10, 5, Shape::Step), (480, 0, Shape::Step)])],
    );
    let (sheet, _) = sheet(vec![short]);
    let curve = wheel().curve(&sheet.layers[0].pass, None).unwrap();
    let places = |from, to| -> Vec<i64> {
        let span = Span::new(Tick(from), Tick(to));
        points_on_axis(&sheet.layers[0], curve, span, Tick::ZERO)
            .iter()
            .map(|(at, _)| at.0)
            .collect()
    };
    assert_eq!(places(0, 1920), [480, 950, 1440, 1910]);
    let span = |from| {
        let span = Span::new(Tick(from), Tick(from + 240));
        span_with_points(&sheet.layers[0].pass, curve, span).map(|span| span.from.0)
    };
    // An early point is heard at the end of the round before.
    assert_eq!([span(720), span(480), span(0)], [Some(-240), Some(480), None]);
}

#[test]
fn values_are_said_as_the_controller_has_them() {
    let bend = InLane::Control(Control::Bend, None);
    let value = |value| U14::new(value).unwrap();
    assert_eq!(bend.value_words(value(8192 + 100)), "+100");
    assert_eq!(bend.value_words(value(0)), "-8192");
    assert_eq!((bend.said(-9000), bend.said(8191)), (value(0), U14::MAX));
    assert_eq!((wheel().value_words(value(7)), wheel().said(200)), ("7".into(), value(127)));
    assert_eq!(InLane::Velocity.said(0), value(1));
    assert_eq!((bend.step(), wheel().step()), (64, 1));
}

/// Names of MIDI 1.0, table III, "Controller Numbers"; short where the lane's head has ten columns.
#[test]
fn controllers_have_short_names() {
    let change = |number| control_name(Control::Change(U7::low_bits(number)));
    assert_eq!([64, 66, 1, 74].map(change), ["pedal", "sostenuto", "modulation", "CC 74"]);
    let others = [
        Control::Registered(U14::default()),
        Control::KeyPressure(U7::low_bits(60)),
        Control::Pressure,
    ];
    assert_eq!(others.map(control_name), ["RPN 0", "press C4", "pressure"]);
    for control in COMMON {
        assert!(control_name(control).len() <= 10, "{control}");
    }
    assert_eq!(InLane::Control(Control::SUSTAIN, None).long_name(), "sustain pedal");
}

/// Two layers with the wheel: the upper in the second quarter only, the lower from the first on.
fn two_layers() -> (Arc<Sheet>, Scale) {
    let low = gesture(0, 3800, &[(0, 10, Shape::Straight), (3790, 90, Shape::Step)]);
    let high = gesture(960, 1900, &[(960, 100, Shape::Step), (1890, 0, Shape::Step)]);
    sheet(vec![with_lanes(10, 3840, vec![low]), with_lanes(11, 3840, vec![high])])
}

/// The rule of the performer: the top sounding layer in whose gesture the moment lies moves a
/// controller, else the next below.
#[test]
fn of_several_layers_the_one_that_is_heard_is_shown() {
    let sheet = two_layers();
    let values = |silent: &[u32]| -> Vec<u16> {
        shown(&sheet, wheel(), silent).iter().map(|bar| bar.map_or(999, |bar| bar.0)).collect()
    };
    let low = values(&[11]);
    assert_eq!(values(&[]), [low[0], 0, low[2], low[3]]);
    assert!(low[1] > 10 && low[1] < low[2] && low[2] < low[3], "{low:?}");
    // Where none sounds, what a silent one does is shown as silent.
    let silent = |silent: &[u32]| -> Vec<bool> {
        shown(&sheet, wheel(), silent).iter().flatten().map(|bar| bar.1).collect()
    };
    assert_eq!((values(&[10]), silent(&[10])), (values(&[]), vec![true, false, true, true]));
    assert_eq!((values(&[10, 11]), silent(&[10, 11])), (values(&[]), vec![true; 4]));
}

#[test]
fn a_pedal_is_down_in_the_lane_if_any_layer_holds_it() {
    let pedal = |points: &[(i64, u16, Shape)]| Lane {
        control: Control::SUSTAIN,
        ..gesture(0, 2000, points)
    };
    let low = pedal(&[(0, 127, Shape::Step), (1990, 0, Shape::Step)]);
    let high = pedal(&[(0, 0, Shape::Step), (960, 127, Shape::Step), (1800, 0, Shape::Step)]);
    let sheet = sheet(vec![with_lanes(10, 3840, vec![low]), with_lanes(11, 3840, vec![high])]);
    let bars = shown(&sheet, InLane::Control(Control::SUSTAIN, None), &[]);
    let values: Vec<u16> = bars.iter().map(|bar| bar.map_or(0, |bar| bar.0)).collect();
    assert_eq!(values, [127, 127, 0, 0]);
}

#[test]
fn only_points_that_are_heard_are_gone_to() {
    let (sheet, _) = two_layers();
    let whole = Span::new(Tick::ZERO, Tick(3840));
    let places = |silent: &[u32]| {
        let silent = silent.iter().map(|id| PassId(*id)).collect();
        LaneCurves::of(&sheet, wheel(), whole, (Tick::ZERO, &silent)).points()
    };
    assert_eq!(places(&[]), [0, 960, 1890, 3790].map(Tick));
    assert_eq!(places(&[11]), [0, 3790].map(Tick));
}
