//! The curve of a groove against what `perform` makes of a straight part, and by hand.

use super::*;
use crate::testing::{empty_song, groove, pass};
use chaconne_engine::{Message, Route, View, Wire, perform};
use chaconne_song::{GrooveId, Letter, Song, Track, TrackId};
use chaconne_time::{MetreMap, NoteKind, NoteValue, Span};
use proptest::prelude::*;
use std::sync::Arc;

fn sixteenths(leans: &[(u32, i64, u16)]) -> (Groove, GivenGroove) {
    let lean = |&(step, timing, loudness): &(u32, i64, u16)| {
        let lean = Lean { timing: Tick(timing), loudness, ..Lean::default() };
        (StepAt { bar: 1, step }, lean)
    };
    let (id, name, grid) = (GrooveId(90), "Sam".to_string(), NoteValue::SIXTEENTH);
    let groove = Groove { id, name, grid, bars: 1, steps: leans.iter().map(lean).collect() };
    (groove, GivenGroove::whole(id))
}

fn section(metre: &str) -> Arc<Section> {
    empty_song(2, metre).sections[0].clone()
}

#[test]
fn each_step_has_its_milliseconds_and_what_lies_between_is_interpolated() {
    let section = section("4/4");
    let (groove, whole) = sixteenths(&[(1, 0, 118), (2, 48, 64), (5, -48, 131)]);
    let curve = GrooveCurve::new(&groove, &whole, &section, 1, 64);
    assert_eq!((curve.columns.len(), curve.wide, curve.each), (64, 4, 1));
    // At 120 a tick lasts 500/960 ms, so 48 ticks last 25 ms; from one step to the next there are four columns.
    let late: Vec<i64> = curve.columns.iter().take(9).map(|column| column.late).collect();
    assert_eq!(late, [0, 6250, 12_500, 18_750, 25_000, 20_833, 16_667, 12_500, 8333]);
    let loud: Vec<Option<i64>> =
        curve.columns.iter().take(5).map(|column| column.loudness).collect();
    assert_eq!(loud, [Some(118), None, None, None, Some(64)]);
    assert_eq!((curve.furthest, curve.loudest), (25_000, 131));
    let half = GivenGroove { timing: 50, loudness: 200, ..whole };
    let curve = GrooveCurve::new(&groove, &half, &section, 1, 64);
    assert_eq!((curve.columns[4].late, curve.columns[4].loudness), (12_500, Some(28)));
    assert_eq!((curve.furthest, curve.loudest), (12_500, 162));
}

#[test]
fn the_beats_are_where_the_metre_has_them() {
    let beats = |metre: &str, room: u16| {
        let section = section(metre);
        let (groove, whole) = sixteenths(&[(1, 0, 100)]);
        let curve = GrooveCurve::new(&groove, &whole, &section, 1, room);
        let beats =
            (0usize..).zip(&curve.columns).filter_map(|(at, column)| Some((at, column.beat?)));
        (curve.columns.len(), beats.collect::<Vec<_>>())
    };
    assert_eq!(beats("3/4", 12), (12, vec![(0, 1), (4, 2), (8, 3)]));
    assert_eq!(beats("2/4", 40), (40, vec![(0, 1), (20, 2)]));
    // The last step is half as long, and the beats of 7/32 are half of a step.
    let (columns, seven) = beats("7/32", 8);
    assert_eq!((columns, seven), (7, vec![(0, 1), (1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 7)]));
}

#[test]
fn after_a_pickup_the_first_bar_of_the_groove_is_the_first_whole_one() {
    let metre = MetreMap::of_written(4, "pickup 1/4, 4/4", |metre| metre).unwrap();
    let section = Section { metre, ..Section::clone(&section("4/4")) };
    let (groove, whole) = sixteenths(&[(1, 48, 100), (16, -48, 80)]);
    let curve = GrooveCurve::new(&groove, &whole, &section, 1, 16);
    let shown = |at: usize| (curve.columns[at].late, curve.columns[at].loudness);
    assert_eq!(
        (curve.columns.len(), shown(0), shown(15)),
        (16, (25_000, Some(100)), (-25_000, Some(80)))
    );
}

#[test]
fn without_room_for_all_steps_those_that_are_furthest_from_the_grid_are_shown() {
    let section = section("4/4");
    let leans = [(1, 4, 100), (2, -30, 80), (3, 0, 90), (15, 2, 70), (16, 1, 60)];
    let (groove, whole) = sixteenths(&leans);
    let curve = GrooveCurve::new(&groove, &whole, &section, 1, 9);
    assert_eq!((curve.columns.len(), curve.wide, curve.each), (8, 1, 2));
    let shown = |at: usize| (curve.columns[at].late, curve.columns[at].loudness);
    assert_eq!(shown(0), (-15_625, Some(80)));
    assert_eq!(shown(1), (0, Some(90)));
    assert_eq!(shown(7), (1042, Some(70)));
}

#[test]
fn a_groove_in_words_says_how_far_it_is_from_the_grid() {
    let section = section("4/4");
    let words = |leans: &[(u32, i64, u16)]| extent_words(&sixteenths(leans).0, &section);
    assert_eq!(words(&[(1, 0, 100)]), "1 step, all on the grid");
    assert_eq!(words(&[(1, 12, 100), (2, 0, 1)]), "2 steps, up to 6.3 ms late");
    assert_eq!(words(&[(1, -12, 100)]), "1 step, up to 6.3 ms early");
    assert_eq!(words(&[(1, -12, 9), (2, 96, 9)]), "2 steps, up to 6.3 ms early and 50.0 ms late");
    assert_eq!(length_words(&groove(1, "Sam")), "1 bar of 1/16");
}

#[test]
fn even_the_longest_bar_and_the_finest_grid_have_a_curve() {
    let section = section("64/1");
    let fine = NoteValue::new(64, NoteKind::Triplet).unwrap();
    let mut groove = Groove::clone(&groove(90, "Sam"));
    groove.grid = fine;
    let whole = GivenGroove::whole(groove.id);
    for room in [0, 1, 7, 64] {
        let curve = GrooveCurve::new(&groove, &whole, &section, 1, room);
        assert!(curve.columns.len() <= usize::from(room.max(1)), "{room}");
        assert!(curve.columns.iter().any(|column| column.loudness.is_some()));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    /// A straight part in sixteenths that is given the groove is as late at each step as the curve shows it.
    #[test]
    fn the_curve_shows_what_is_performed(
        leans in prop::collection::vec((1u32..=16, -120i64..=120, 20u16..=150), 1..12), timing in 0u8..=200,
        loudness in 0u8..=100,
    ) {
        let mut song: Song = empty_song(2, "4/4");
        let (groove, whole) = sixteenths(&leans);
        let given = GivenGroove { timing, loudness, ..whole };
        let mut track = Track::pitched(TrackId(1), "bass");
        track.feel.groove = Some(given);
        song.tracks.push(Arc::new(track));
        song.grooves.push(Arc::new(groove.clone()));
        // Every step has a key of its own.
        let straight: Vec<_> = (0..32).map(|step| (step * 240, 60, 30 + step as u8, 80)).collect();
        song.lay(Letter::A, pass(5, 1, 7680, &straight));
        let span = Span::new(Tick::ZERO, Tick(7680));
        let events = perform(&song, &Route::open(Letter::A), span, View::Corrected).events;
        let curve = GrooveCurve::new(&groove, &given, &song.sections[0], 1, 16);
        for event in events {
            let Wire::Message(Message::NoteOn { key, velocity, .. }) = event.wire else { continue };
            let step = i64::from(key.get()) - 30;
            // The second bar: what is early at its start sounds there, too.
            if !(16..32).contains(&step) || event.at < Tick(3600) {
                continue;
            }
            let shown = curve.columns[step as usize - 16];
            let late = event.at.0 - step * 240;
            prop_assert_eq!(shown.late, (2 * late * 500_000 + 960).div_euclid(1920));
            if let Some(loud) = shown.loudness {
                let percent = i64::from(velocity.get()) * 100 / 80;
                prop_assert!((percent - loud).abs() <= 2, "{} {}", percent, loud);
            }
        }
    }
}
