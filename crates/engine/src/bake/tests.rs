//! Tests of baking: lanes against the curves of their glides, and transposed keys.

use super::*;
use chaconne_song::{PassId, Point, Shape, Stroke, TrackId, U14};
use chaconne_time::{Metre, Span, Tempo};
use proptest::prelude::*;

fn lane(control: Control, points: &[(i64, u16, Shape)]) -> Lane {
    let point = |&(at, value, shape): &(i64, u16, Shape)| Point {
        at: Tick(at),
        value: U14::new(value).unwrap(),
        shape,
    };
    Lane {
        channel: Channel::default(),
        control,
        span: Span::new(Tick(points[0].0), Tick(100_000)),
        points: points.iter().map(point).collect(),
    }
}

/// The value of a glide from 0 to 1 after a part of its time, by the definitions in
/// docs/song-file.md.
fn curve(shape: Shape, part: f64) -> f64 {
    match shape {
        Shape::Step => 0.0,
        Shape::Straight => part,
        Shape::SlowStart => part * part,
        Shape::SlowEnd => 1.0 - (1.0 - part) * (1.0 - part),
    }
}

proptest! {
    #[test]
    fn a_glide_follows_its_curve_with_few_moves(
        wide in any::<bool>(),
        shape in prop::sample::select(&Shape::ALL),
        (from, to) in (0u16..=127, 0u16..=127),
        at in -3000i64..3000,
        length in 1i64..8000,
    ) {
        let control = if wide { Control::Bend } else { Control::VOLUME };
        let scale = if wide { 129 } else { 1 };
        let (from, to) = (from * scale, to * scale);
        let glide = lane(control, &[(at, from, shape), (at + length, to, Shape::Step)]);
        let baked = moves(&glide, 0);
        let spacing = if control.highest() > 127 { 10 } else { 20 };
        prop_assert!(baked.points.iter().all(|point| point.shape == Shape::Step));
        // Two points of the song may be closer than that; moves between them are not.
        let apart = |pair: &[Point]| (pair[1].at - pair[0].at).0 >= spacing;
        prop_assert!(baked.points.len() == 2 || baked.points.windows(2).all(apart));
        let inner = &baked.points[..baked.points.len() - 1];
        prop_assert!(inner.windows(2).all(|pair| pair[0].value != pair[1].value));
        for tick in at..at + length {
            let wanted = |tick: i64| {
                let part = (tick - at) as f64 / length as f64;
                f64::from(from) + (f64::from(to) - f64::from(from)) * curve(shape, part)
            };
            let sent = f64::from(baked.value_at(Tick(tick)).unwrap().get());
            // The value sent is that of the curve, rounded, at some time in the last two spacings.
            let (now, then) = (wanted(tick), wanted((tick - 2 * spacing).max(at)));
            let (low, high) = (now.min(then) - 0.51, now.max(then) + 0.51);
            prop_assert!((low..=high).contains(&sent), "{sent} at {tick}, not {low} to {high}");
        }
    }
}

#[test]
fn a_long_swell_takes_one_move_per_value_and_a_short_one_fewer() {
    let swell = |length| {
        let points = [(0, 0, Shape::Straight), (length, 127, Shape::Step)];
        moves(&lane(Control::VOLUME, &points), 0).points.len()
    };
    // 128 values, and the last point of the lane, which repeats the last value.
    assert_eq!(swell(4 * 3840), 129);
    assert_eq!(swell(960), 49);
    assert_eq!(swell(10), 2);
    // A bend has finer values, so its moves are twice as close.
    let points = [(0, 0, Shape::Straight), (960, 16383, Shape::Step)];
    assert_eq!(moves(&lane(Control::Bend, &points), 0).points.len(), 97);
}

#[test]
fn points_without_a_glide_are_sent_as_they_are() {
    let steps =
        lane(Control::VOLUME, &[(0, 5, Shape::Step), (3, 5, Shape::Step), (3, 9, Shape::Straight)]);
    let baked = moves(&steps, 0);
    let places: Vec<(i64, u16)> = baked.points.iter().map(|p| (p.at.0, p.value.get())).collect();
    assert_eq!(places, [(0, 5), (3, 5), (3, 9)]);
}

#[test]
fn a_transposed_pass_moves_keys_and_the_pressure_of_keys() {
    let mut pass = Pass::empty(PassId(1), TrackId(1), Tick(3840));
    let stroke = Stroke {
        start: Tick(0),
        length: Tick(10),
        key: U7::low_bits(120),
        velocity: U7::CENTRE,
        release: U7::CENTRE,
    };
    let note = chaconne_song::Note {
        id: NoteId(1),
        channel: Channel::default(),
        played: stroke,
        placed: chaconne_song::Placed::UNCHANGED,
    };
    pass.notes_mut().notes.push(note);
    let pressure = Control::KeyPressure(U7::low_bits(120));
    pass.notes_mut().lanes.push(lane(pressure, &[(0, 9, Shape::Step)]));
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let baked = |transpose| {
        let setting = Setting { feel: Feel::off(false), groove: None, transpose };
        let baked = bake(&pass, setting, View::Corrected, &metre, &TempoMap::new(Tempo::DEFAULT));
        let key = baked.notes[0].key.get();
        assert_eq!(baked.gestures[0].control, Control::KeyPressure(U7::low_bits(key)));
        key
    };
    // 130 is past the highest key, 127: an octave lower.
    assert_eq!([0, 7, 10, -36].map(baked), [120, 127, 118, 84]);
}
