//! Points and ramps by hand, and as properties: what is drawn is what the pass holds, what lies outside
//! stays, and every change can be undone, written and read.

use super::*;
use crate::{Letter, PassId, Section, Song, Track, TrackId, U7, text};
use chaconne_time::{Metre, MetreMap, Tempo};
use proptest::prelude::*;
use std::sync::Arc;

const BAR: Tick = Tick(3840);
const WHEEL: Curve =
    Curve { channel: Channel::from_wire(0), control: Control::Change(U7::low_bits(1)) };

fn value(value: u16) -> U14 {
    U14::new(value).unwrap()
}

/// A gesture: its span, and its points as tick, value and shape.
type Gesture<'a> = ((i64, i64), &'a [(i64, u16, Shape)]);

fn song(gestures: &[Gesture]) -> Song {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "line")));
    let mut pass = Pass::empty(PassId(10), TrackId(1), BAR);
    for &((from, to), points) in gestures {
        let point = |&(at, number, shape): &_| Point { at: Tick(at), value: value(number), shape };
        let span = Span::new(Tick(from), Tick(to));
        pass.notes_mut().lanes.push(WHEEL.lane(span, points.iter().map(point).collect()));
    }
    pass.sort();
    song.lay(Letter::A, Arc::new(pass));
    song
}

fn pass(song: &Song) -> &Pass {
    &song.passes[&PassId(10)]
}

/// The points that move the wheel, as tick, value and shape.
fn points(song: &Song) -> Vec<(i64, u16, Shape)> {
    let all = WHEEL.points_in(pass(song), Span::new(-BAR, BAR * 2));
    all.iter().map(|(_, point)| (point.at.0, point.value.get(), point.shape)).collect()
}

/// The spans of the gestures.
fn spans(song: &Song) -> Vec<(i64, i64)> {
    pass(song).lanes().iter().map(|lane| (lane.span.from.0, lane.span.to.0)).collect()
}

/// The song with what is drawn on its pass.
fn draw(song: &mut Song, draw: impl FnOnce(&Pass) -> Result<Commit, ReviseError>) {
    draw(pass(song)).unwrap().apply(song).unwrap();
}

/// The value of the wheel in its pass: that of the gesture that began last, while it lasts.
fn wheel_at(song: &Song, at: Tick) -> Option<U14> {
    let lanes = WHEEL.lanes(pass(song));
    lanes.iter().rev().find(|lane| first(lane) <= at)?.value_at(at)
}

fn ramp(from: i64, to: i64, first: u16, last: u16, shape: Shape) -> Ramp {
    let (first, last) = (value(first), value(last));
    Ramp { from: Tick(from), to: Tick(to), first, last, shape }
}

use Shape::{SlowEnd, SlowStart, Step, Straight};

#[test]
fn a_drawn_point_goes_into_the_gesture_that_moves_the_controller_there() {
    let mut song = song(&[((0, 1000), &[(0, 10, Straight), (900, 20, Step)])]);
    draw(&mut song, |pass| WHEEL.set(pass, Tick(450), value(99)));
    // The glide that it interrupts goes on from it.
    assert_eq!(points(&song), [(0, 10, Straight), (450, 99, Straight), (900, 20, Step)]);
    draw(&mut song, |pass| WHEEL.set(pass, Tick(450), value(5)));
    draw(&mut song, |pass| WHEEL.set(pass, Tick(950), value(6)));
    let drawn = [(0, 10, Straight), (450, 5, Straight), (900, 20, Step), (950, 6, Step)];
    assert_eq!((points(&song), spans(&song)), (drawn.to_vec(), vec![(0, 1000)]));
    assert_eq!(WHEEL.set(pass(&song), BAR, value(1)), Err(ReviseError::OutsideLayer));
    assert_eq!(WHEEL.set(pass(&song), Tick(-1), value(1)), Err(ReviseError::OutsideLayer));
}

#[test]
fn a_lane_moves_on_from_each_point_but_the_last() {
    let song = song(&[((0, 1000), &[(100, 10, Straight), (900, 20, SlowEnd)])]);
    let shape = |at| shape_at(&pass(&song).lanes()[0], Tick(at));
    assert_eq!([99, 100, 899, 900, 950].map(shape), [Step, Straight, Straight, Step, Step]);
}

#[test]
fn a_new_gesture_ends_where_a_later_one_goes_on() {
    let song = song(&[
        ((100, 300), &[(100, 1, Step), (200, 2, Step)]),
        ((1000, 1600), &[(1500, 3, Step)]),
    ]);
    let end = |from, to| WHEEL.end_after(pass(&song), Tick(from), Tick(to)).0;
    // The first gesture moves on after 150, but not after 200, its last point.
    assert_eq!((end(50, 150), end(50, 199)), (151, 200));
    assert_eq!((end(50, 200), end(50, 300)), (1000, 1000));
    // From its own first point on, it is not a later one.
    assert_eq!((end(100, 150), end(99, 150)), (1000, 151));
    assert_eq!((end(50, 1499), end(50, 1500)), (1500, 3840));
}

#[test]
fn a_gesture_is_at_home_from_the_start_of_its_span() {
    let song = song(&[((100, 900), &[(500, 1, Step)])]);
    let home = |at| WHEEL.home(pass(&song), Tick(at)).is_some();
    assert_eq!([99, 100, 499, 500, 899, 900].map(home), [false, true, true, true, true, false]);
}

#[test]
fn of_gestures_that_overlap_the_one_that_moved_last_is_at_home() {
    let song = song(&[((0, 1000), &[(0, 1, Step)]), ((100, 600), &[(500, 2, Step)])]);
    let home = |at| WHEEL.home(pass(&song), Tick(at)).map(|lane| lane.span.from.0);
    // Once it has taken over, the other one does not come back, even where it lasts longer.
    let expected = [Some(0), Some(0), Some(100), Some(100), None];
    assert_eq!([0, 499, 500, 599, 600].map(home), expected);
}

#[test]
fn a_ramp_leaves_the_points_of_gestures_that_it_does_not_reach() {
    // The second gesture takes over from the first, and the fourth from the third: their later points
    // are hidden, but belong to what was played.
    let mut song = song(&[
        ((0, 400), &[(0, 1, Step), (300, 2, Step)]),
        ((100, 900), &[(100, 3, Step)]),
        ((2000, 2400), &[(2000, 4, Step), (2300, 5, Step)]),
        ((2100, 2900), &[(2100, 6, Step)]),
    ]);
    let before = pass(&song).lanes().to_vec();
    draw(&mut song, |pass| WHEEL.ramp(pass, &ramp(200, 600, 10, 20, Straight)));
    let after = pass(&song).lanes();
    assert_eq!((&after[0], &after[2..]), (&before[0], &before[2..]));
    assert_eq!(points(&song)[1..4], [(100, 3, Step), (200, 10, Straight), (600, 20, Step)]);
}

#[test]
fn a_ramp_leaves_a_gesture_that_never_moves_the_controller() {
    // Both begin to move it at one tick, so only the later one of the two does.
    let mut song = song(&[((0, 400), &[(100, 1, Step)]), ((50, 900), &[(100, 3, Step)])]);
    let before = pass(&song).lanes()[0].clone();
    draw(&mut song, |pass| WHEEL.ramp(pass, &ramp(100, 300, 10, 20, Straight)));
    assert_eq!(pass(&song).lanes()[0], before);
    assert_eq!(points(&song), [(100, 10, Straight), (300, 20, Step)]);
}

#[test]
fn a_ramp_to_the_end_of_a_gesture_or_beyond_makes_it_longer() {
    for (from, to) in [(200, 500), (200, 600), (0, 500)] {
        let mut song = song(&[((0, 500), &[(100, 1, Step)])]);
        draw(&mut song, |pass| WHEEL.ramp(pass, &ramp(from, to, 10, 20, Straight)));
        assert!(spans(&song)[0].1 > to, "{from} to {to}");
        assert_eq!(wheel_at(&song, Tick(to)), Some(value(20)), "{from} to {to}");
    }
}

#[test]
fn a_point_outside_every_gesture_begins_one_that_lasts_until_the_next_or_the_end() {
    let mut song = song(&[((2000, 2500), &[(2000, 10, Step)])]);
    draw(&mut song, |pass| WHEEL.set(pass, Tick(500), value(7)));
    draw(&mut song, |pass| WHEEL.set(pass, Tick(3000), value(8)));
    assert_eq!(spans(&song), [(500, 2000), (2000, 2500), (3000, 3840)]);
    assert_eq!(points(&song), [(500, 7, Step), (2000, 10, Step), (3000, 8, Step)]);
}

#[test]
fn points_are_raised_together_as_far_as_the_controller_goes() {
    let mut song = song(&[((0, 3840), &[(0, 100, Step), (100, 120, Step), (200, 0, Step)])]);
    let here = Span::new(Tick(0), Tick(200));
    draw(&mut song, |pass| WHEEL.shift(pass, here, 10));
    assert_eq!(points(&song)[..2], [(0, 107, Step), (100, 127, Step)]);
    assert_eq!(WHEEL.shift(pass(&song), here, 1), Err(ReviseError::Highest));
    let low = Span::new(Tick(200), Tick(201));
    assert_eq!(WHEEL.shift(pass(&song), low, -1), Err(ReviseError::Lowest));
    let nowhere = Span::new(Tick(201), BAR);
    assert_eq!(WHEEL.shift(pass(&song), nowhere, 1), Err(ReviseError::NoPoint));
}

#[test]
fn the_last_point_of_a_gesture_takes_the_gesture_with_it() {
    let mut song =
        song(&[((0, 500), &[(0, 1, Step), (100, 2, Step)]), ((600, 700), &[(600, 3, Step)])]);
    draw(&mut song, |pass| WHEEL.remove(pass, Span::new(Tick(50), Tick(650))));
    assert_eq!((points(&song), spans(&song)), (vec![(0, 1, Step)], vec![(0, 500)]));
    let gone = WHEEL.remove(pass(&song), Span::new(Tick(50), Tick(650)));
    assert_eq!(gone, Err(ReviseError::NoPoint));
    draw(&mut song, |pass| WHEEL.remove(pass, Span::new(Tick(0), Tick(1))));
    assert!(pass(&song).lanes().is_empty());
}

#[test]
fn a_ramp_takes_the_place_of_what_lies_between_its_ends() {
    let before: &[Gesture] = &[
        ((0, 1500), &[(0, 10, Straight), (700, 50, Step), (1400, 60, Step)]),
        ((1600, 1800), &[(1600, 5, Step)]),
        ((1900, 2600), &[(1900, 6, Step), (2500, 9, Step)]),
    ];
    let mut song = song(before);
    draw(&mut song, |pass| WHEEL.ramp(pass, &ramp(960, 1920, 40, 100, SlowStart)));
    let drawn = [
        (0, 10, Straight),
        (700, 50, Step),
        (960, 40, SlowStart),
        (1920, 100, Step),
        (2500, 9, Step),
    ];
    assert_eq!((points(&song), spans(&song)), (drawn.to_vec(), vec![(0, 1921), (1900, 2600)]));
}

#[test]
fn a_ramp_inside_a_glide_leaves_the_rest_of_the_glide() {
    let mut song = song(&[((0, 3840), &[(0, 0, SlowEnd), (3000, 90, Step)])]);
    draw(&mut song, |pass| WHEEL.ramp(pass, &ramp(1000, 2000, 30, 20, Straight)));
    let drawn = [(0, 0, SlowEnd), (1000, 30, Straight), (2000, 20, SlowEnd), (3000, 90, Step)];
    assert_eq!(points(&song), drawn);
}

#[test]
fn a_ramp_over_nothing_is_a_gesture_of_its_own() {
    let mut song = song(&[]);
    let up = ramp(960, 2880, 0, 127, Straight);
    draw(&mut song, |pass| WHEEL.ramp(pass, &up));
    assert_eq!(points(&song), [(960, 0, Straight), (2880, 127, Step)]);
    assert_eq!(spans(&song), [(960, 3840)]);
    // Drawn again over all of itself.
    draw(&mut song, |pass| WHEEL.ramp(pass, &Ramp { first: value(9), ..up }));
    assert_eq!(points(&song), [(960, 9, Straight), (2880, 127, Step)]);
}

#[test]
fn a_ramp_needs_two_places_of_its_pass() {
    let song = song(&[]);
    let refusal = |from, to| WHEEL.ramp(pass(&song), &ramp(from, to, 0, 1, Step)).unwrap_err();
    assert_eq!(refusal(5, 5), ReviseError::NoTime);
    assert_eq!(refusal(5, 4), ReviseError::NoTime);
    assert_eq!(refusal(-1, 4), ReviseError::OutsideLayer);
    assert_eq!(refusal(4, 3840), ReviseError::OutsideLayer);
}

#[test]
fn every_controller_of_a_pass_is_found_once() {
    let mut song = song(&[((0, 10), &[(0, 1, Step)]), ((20, 30), &[(20, 1, Step)])]);
    let bend = Curve { control: Control::Bend, ..WHEEL };
    draw(&mut song, |pass| bend.set(pass, Tick(0), U14::CENTRE));
    assert_eq!(Curve::all_of(pass(&song)), [WHEEL, bend]);
}

/// A gesture with its points.
type OwnGesture = ((i64, i64), Vec<(i64, u16, Shape)>);

/// Gestures that may begin early and have several points at a tick. They do not overlap: the recorder
/// makes none that do, and of those in a file written by hand, one is heard again where the one that took
/// over from it loses its points.
fn any_song() -> impl Strategy<Value = Song> {
    let point = (0i64..1200, 0u16..128, prop::sample::select(&Shape::ALL));
    let gesture = (-500i64..3800, prop::collection::vec(point, 1..6));
    prop::collection::vec(gesture, 0..5).prop_map(|mut gestures| {
        gestures.sort_by_key(|gesture| gesture.0);
        gestures.dedup_by_key(|gesture| gesture.0);
        let laid: Vec<OwnGesture> = gestures
            .into_iter()
            .map(|(from, mut points)| {
                points.sort_by_key(|point| point.0);
                points.iter_mut().for_each(|point| point.0 += from);
                let last = points.last().map_or(from, |point| point.0);
                ((from, last + 1), points)
            })
            .collect();
        let mut end = Tick::MIN.0;
        let apart = laid.iter().filter(|(span, _)| {
            let is_free = end <= span.0;
            end = if is_free { span.1 } else { end };
            is_free
        });
        let gestures: Vec<Gesture> = apart.map(|(span, points)| (*span, &points[..])).collect();
        song(&gestures)
    })
}

/// Applies a commit; checks that the song can be written and read, and that undo restores the one before.
fn checked(before: &Song, commit: Commit) -> Result<Song, TestCaseError> {
    let mut changed = before.clone();
    let inverse = commit.apply(&mut changed);
    prop_assert!(inverse.is_ok(), "{:?}", inverse);
    let read = text::read(&text::write(&changed));
    prop_assert_eq!(read.as_ref().map_err(|error| format!("{error:?}")), Ok(&changed));
    let mut back = changed.clone();
    Edit::apply_all(inverse.unwrap(), &mut back).unwrap();
    prop_assert_eq!(&back, before);
    Ok(changed)
}

proptest! {
    #[test]
    fn a_ramp_has_its_values_between_its_ends_and_changes_nothing_outside(
        song in any_song(), from in 0i64..3839, length in 1i64..3840, first in 0u16..128, last in 0u16..128,
        shape in prop::sample::select(&Shape::ALL),
    ) {
        let to = (from + length).min(3839);
        let ramp = ramp(from, to, first, last, shape);
        let changed = checked(&song, WHEEL.ramp(pass(&song), &ramp).unwrap())?;
        for at in (from..=to).map(Tick) {
            prop_assert_eq!(wheel_at(&changed, at), Some(ramp.value_at(at)), "at {}", at.0);
        }
        // Points before and after stay, where they count.
        let outside = |song: &Song| -> Vec<(i64, u16, Shape)> {
            points(song).into_iter().filter(|point| point.0 < from || point.0 > to).collect()
        };
        prop_assert_eq!(outside(&changed), outside(&song));
    }

    #[test]
    fn a_point_has_its_value_and_the_other_points_stay(
        song in any_song(), at in 0i64..3840, number in 0u16..128,
    ) {
        let set = checked(&song, WHEEL.set(pass(&song), Tick(at), value(number)).unwrap())?;
        prop_assert_eq!(wheel_at(&set, Tick(at)), Some(value(number)));
        let elsewhere = |song: &Song| -> Vec<(i64, u16, Shape)> {
            points(song).into_iter().filter(|point| point.0 != at).collect()
        };
        prop_assert_eq!(elsewhere(&set), elsewhere(&song));
        let here = Span::new(Tick(at), Tick(at + 1));
        let gone = checked(&set, WHEEL.remove(pass(&set), here).unwrap())?;
        prop_assert_eq!(elsewhere(&gone), elsewhere(&song));
        if let Ok(raised) = WHEEL.shift(pass(&set), Span::new(Tick(0), BAR), 5) {
            checked(&set, raised)?;
        }
    }
}
