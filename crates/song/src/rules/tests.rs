//! The limits of each value, on both sides, and the sentence that says what would be right.

use super::*;
use crate::{Channel, ChordSymbol, PassId, TrackId, U14};
use chaconne_time::Tempo;

const BAR: i64 = 3840;
/// The end of the longest section in 4/4: 999 bars.
const END: i64 = 999 * BAR;

fn metre() -> MetreMap {
    MetreMap::new(4, Metre::common()).unwrap()
}

fn says<T: std::fmt::Debug>(result: Result<T, Broken>) -> String {
    result.unwrap_err()
}

#[test]
fn ids_and_percentages_have_both_limits() {
    assert!(id(1).is_ok() && id(Song::LAST_ID).is_ok());
    assert_eq!(says(id(0)), "id 0 is outside 1 to 4000000000");
    assert!(id(Song::LAST_ID + 1).is_err());
    assert!(percent("pull", 0).is_ok() && percent("pull", 100).is_ok());
    assert_eq!(says(percent("pull", 101)), "pull 101 is outside 0 to 100");
}

#[test]
fn a_track_is_checked_in_every_field_that_can_be_wrong() {
    let good = Track::pitched(TrackId(1), "Keys");
    assert!(track(&good).is_ok());
    let feel_of = |pull, reach| Feel { pull, reach, ..good.feel };
    for (wrong, message) in [
        (Track { id: TrackId(0), ..good.clone() }, "id 0 is outside 1 to 4000000000"),
        (Track { feel: feel_of(101, 100), ..good.clone() }, "pull 101 is outside 0 to 100"),
        (Track { feel: feel_of(100, 101), ..good.clone() }, "reach 101 is outside 0 to 100"),
        (
            Track { pass_length: Some(Tick(0)), ..good.clone() },
            "pass_length 0 is outside 1 to 245514240",
        ),
    ] {
        assert_eq!(says(track(&wrong)), message);
    }
    assert!(asked_length(Tick(1)).is_ok() && asked_length(LONGEST_PASS).is_ok());
    assert!(asked_length(LONGEST_PASS + Tick(1)).is_err());
}

#[test]
fn a_tempo_and_its_ramp_end_within_999_bars() {
    let point = |at, count| {
        let point = TempoPoint { at: Tick(at), tempi: vec![Tempo::DEFAULT; count] };
        tempo_point(&metre(), &point)
    };
    // A ramp has a tempo a pulse, which is 40 ticks.
    for (at, count) in [(0, 1), (END - 1, 1), (END - 41, 2), (END - 81, 3)] {
        assert!(point(at, count).is_ok(), "{at} {count}");
    }
    for (at, count) in [(-1, 1), (END, 1), (END + 1, 1), (END - 40, 2), (END - 80, 3)] {
        assert!(point(at, count).is_err(), "{at} {count}");
    }
    let expected = "the tempo at 1000.1.0 is outside 1.1.0 to the end of bar 999";
    assert_eq!(says(point(END, 1)), expected);
    let at_end = TempoPoint { at: Tick(END), tempi: vec![Tempo::DEFAULT] };
    let first = TempoPoint { at: Tick(0), ..at_end.clone() };
    let map = TempoMap::with_points(vec![first, at_end]).unwrap();
    assert_eq!(says(tempo(&metre(), &map)), expected);
}

#[test]
fn chords_are_within_999_bars_and_in_order() {
    let chart = |starts: &[i64]| {
        let chord = |&at| Chord { at: Tick(at), symbol: ChordSymbol::Silent };
        chords(&metre(), &starts.iter().map(chord).collect::<Vec<_>>())
    };
    for starts in [&[][..], &[0], &[END - 1], &[0, 1, END - 1]] {
        assert!(chart(starts).is_ok(), "{starts:?}");
    }
    for starts in [&[-1][..], &[END], &[0, 0], &[960, 0]] {
        assert!(chart(starts).is_err(), "{starts:?}");
    }
    assert_eq!(says(chart(&[960, 0])), "the chord at 1.1.0 must come after the one at 1.2.0");
    let expected = "the chord at 0.4.959 is outside 1.1.0 to the end of bar 999";
    assert_eq!(says(chart(&[-1])), expected);
}

#[test]
fn a_position_without_a_sensible_bar_is_shown_in_ticks() {
    let far = 2 * LONGEST_PASS.0;
    for (at, expected) in [
        (0, "1.1.0".to_string()),
        (far, format!("{}.1.0", far / BAR + 1)),
        (-far, format!("{}.1.0", 1 - far / BAR)),
        (far + 1, format!("tick {}", far + 1)),
        (-far - 1, format!("tick {}", -far - 1)),
    ] {
        assert_eq!(shown(&metre(), Tick(at)), expected);
    }
}

#[test]
fn a_pass_is_a_whole_number_of_beats_up_to_999_bars() {
    let metre = metre();
    let frame = |length| Frame::new(&metre, Tick(length)).map(|_| ());
    for length in [960, 2880, BAR, END] {
        assert!(frame(length).is_ok(), "{length}");
    }
    for length in [-960, 0, 1, 959, 961, END + 960] {
        assert!(frame(length).is_err(), "{length}");
    }
}

/// Two bars of 4/4.
fn frame(metre: &MetreMap) -> Frame<'_> {
    Frame::new(metre, Tick(2 * BAR)).unwrap()
}

#[test]
fn a_note_starts_less_than_a_pass_early_and_before_its_end() {
    let metre = metre();
    let start = |at| frame(&metre).start("a note", Tick(at));
    for at in [1 - 2 * BAR, 0, 2 * BAR - 1] {
        assert!(start(at).is_ok(), "{at}");
    }
    let allowed = "is outside its pass, which allows -1.1.1 to 2.4.959";
    assert_eq!(says(start(-2 * BAR)), format!("a note at -1.1.0 {allowed}"));
    assert_eq!(says(start(2 * BAR)), format!("a note at 3.1.0 {allowed}"));
}

fn note() -> Note {
    let (start, length) = (Tick(0), Tick(2 * BAR));
    let played = Stroke { start, length, key: U7::CENTRE, velocity: U7::MAX, release: U7::MIN };
    Note { id: NoteId(1), channel: Channel::default(), played, placed: Placed::UNCHANGED }
}

#[test]
fn a_note_is_checked_as_played_and_as_placed() {
    let metre = metre();
    let check = |note: Note| frame(&metre).note(&note);
    assert!(check(note()).is_ok());
    let played = note().played;
    let placed = Placed::UNCHANGED;
    let long = Tick(2 * BAR + 1);
    for wrong in [
        Note { id: NoteId(0), ..note() },
        Note { played: Stroke { start: Tick(2 * BAR), ..played }, ..note() },
        Note { played: Stroke { length: Tick(0), ..played }, ..note() },
        Note { played: Stroke { length: long, ..played }, ..note() },
        Note { played: Stroke { velocity: U7::MIN, ..played }, ..note() },
        Note { placed: Placed { start: Some(Tick(2 * BAR)), ..placed }, ..note() },
        Note { placed: Placed { length: Some(long), ..placed }, ..note() },
        Note { placed: Placed { velocity: Some(U7::MIN), ..placed }, ..note() },
    ] {
        assert!(check(wrong).is_err(), "{wrong:?}");
    }
}

#[test]
fn covers_lie_apart_between_a_pass_early_and_the_end() {
    let metre = metre();
    let covers = |spans: &[(i64, i64)]| {
        let span = |&(from, to)| Span::new(Tick(from), Tick(to));
        frame(&metre).covers(&spans.iter().map(span).collect::<Vec<_>>())
    };
    for spans in [&[][..], &[(-2 * BAR, 2 * BAR)], &[(0, 1), (1, 2)]] {
        assert!(covers(spans).is_ok(), "{spans:?}");
    }
    for spans in [
        &[(-2 * BAR - 1, 0)][..],
        &[(0, 2 * BAR + 1)],
        &[(5, 5)],
        &[(5, 4)],
        &[(0, 2), (1, 3)],
        &[(2, 3), (0, 1)],
    ] {
        assert!(covers(spans).is_err(), "{spans:?}");
    }
}

#[test]
fn a_lane_may_go_on_for_a_thousand_rounds() {
    let metre = metre();
    let lane = |from, to| frame(&metre).lane_span(Span::new(Tick(from), Tick(to)));
    let latest = 1000 * 2 * BAR;
    assert!(lane(-2 * BAR, latest).is_ok());
    assert!(lane(-2 * BAR - 1, latest).is_err() && lane(0, latest + 1).is_err());
    let fits = |from| frame(&metre).start_fits(Span::new(Tick(from), Tick(0)));
    let checked = [-2 * BAR - 1, -2 * BAR, latest - 1, latest].map(fits);
    assert_eq!(checked, [false, true, true, false]);
    // A thousand rounds of a long pass would be too far away to be a sensible position.
    let long = Frame::new(&metre, Tick(END)).unwrap();
    let last = 2 * LONGEST_PASS.0;
    assert!(long.lane_span(Span::new(Tick(0), Tick(last))).is_ok());
    assert!(long.lane_span(Span::new(Tick(0), Tick(last + 1))).is_err());
}

fn lane(points: &[(i64, u16)]) -> Lane {
    let value = |value| U14::new(value).unwrap();
    let points = points.iter().map(|&(at, to)| Point::step(Tick(at), value(to))).collect();
    let span = Span::new(Tick(100), Tick(200));
    Lane { channel: Channel::default(), control: Control::SUSTAIN, span, points }
}

#[test]
fn the_points_of_a_lane_are_inside_it_and_in_order() {
    let metre = metre();
    let check = |points: &[(i64, u16)]| frame(&metre).lane(&lane(points));
    for points in [&[(100, 127)][..], &[(199, 0)], &[(100, 1), (100, 2), (150, 3)]] {
        assert!(check(points).is_ok(), "{points:?}");
    }
    for points in [&[][..], &[(99, 1)], &[(200, 1)], &[(100, 128)], &[(150, 1), (149, 1)]] {
        assert!(check(points).is_err(), "{points:?}");
    }
    assert_eq!(
        says(check(&[(200, 1)])),
        "a point at 1.1.200 is outside its lane, which runs from 1.1.100 to 1.1.199"
    );
    let mode = Control::Change(U7::low_bits(120));
    assert!(frame(&metre).lane(&Lane { control: mode, ..lane(&[(100, 1)]) }).is_err());
    let outside = Span::new(Tick(100), Tick(100));
    assert!(frame(&metre).lane(&Lane { span: outside, ..lane(&[(100, 1)]) }).is_err());
}

#[test]
fn a_program_can_only_step() {
    let message = "a program cannot have the shape 'straight', only 'step'";
    assert_eq!(says(shape(Control::Program, Shape::Straight)), message);
    assert!(shape(Control::Program, Shape::Step).is_ok());
    assert!(shape(Control::Bend, Shape::Straight).is_ok());
    let point = Point { shape: Shape::Straight, ..Point::step(Tick(0), U14::default()) };
    assert_eq!(says(point_value(Control::Program, &point)), message);
}

/// Numbers 120 to 127 are channel mode messages (MIDI 1.0, "Channel Mode Messages").
#[test]
fn a_lane_moves_no_mode_message() {
    let change = |number| control(Control::Change(U7::low_bits(number)));
    assert!(change(0).is_ok() && change(119).is_ok());
    assert!(change(120).is_err() && change(127).is_err());
    assert!(control(Control::Bend).is_ok());
}

#[test]
fn a_whole_pass_is_checked_with_everything_in_it() {
    let metre = metre();
    let empty = Pass::empty(PassId(1), TrackId(1), Tick(2 * BAR));
    let mut good = empty.clone();
    good.notes_mut().notes = vec![note(), Note { id: NoteId(2), ..note() }];
    good.notes_mut().lanes = vec![lane(&[(100, 1)])];
    good.notes_mut().sysex = vec![SysEx { at: Tick(0), bytes: vec![0xF0, 0xF7] }];
    assert!(pass(&metre, &good).is_ok());
    let with = |change: fn(&mut Pass)| {
        let mut changed = good.clone();
        change(&mut changed);
        pass(&metre, &changed)
    };
    for wrong in [
        with(|pass| pass.id = PassId(0)),
        with(|pass| pass.length = Tick(100)),
        with(|pass| pass.feel = Some(Feel { pull: 101, ..Feel::off(false) })),
        with(|pass| pass.covers = vec![Span::new(Tick(5), Tick(5))]),
        with(|pass| pass.notes_mut().notes[0].played.length = Tick(0)),
        with(|pass| pass.notes_mut().lanes[0].points.clear()),
        with(|pass| pass.notes_mut().sysex[0].at = Tick(2 * BAR)),
        with(|pass| pass.notes_mut().sysex[0].bytes = vec![0xF0]),
    ] {
        assert!(wrong.is_err());
    }
    let twice = with(|pass| pass.notes_mut().notes[1].id = NoteId(1));
    assert_eq!(says(twice), "two notes have the id 1; each needs its own");
    let together = with(|pass| pass.notes_mut().lanes.push(lane(&[(150, 1)])));
    let message = "two lanes of change 64 start at the same tick; move one of them";
    assert_eq!(says(together), message);
}
