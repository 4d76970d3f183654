//! Tests of when the notes of a pass sound: at the ends of sections and covers, and against a search of
//! every cycle.

use super::*;
use crate::plan::{Mix, Planner};
use crate::testing::{Build, spell};
use crate::{Route, View, perform};
use chaconne_song::{Feel, Lane, Letter, Point, Song, U14};
use chaconne_time::NoteValue;
use proptest::prelude::*;

/// What the form of a song sounds like.
fn form(song: &Song) -> String {
    let route = Route::form(song).unwrap();
    spell(&perform(song, &route, route.span(), View::Corrected))
}

/// What some rounds of the first section sound like.
fn rounds(song: &Song, count: u32) -> String {
    let route = Route::rounds(song, Letter::A, count).unwrap();
    spell(&perform(song, &route, route.span(), View::Corrected))
}

fn sixteenths() -> Feel {
    Feel::off(false).on(NoteValue::SIXTEENTH)
}

/// The lowest layer of the first section.
fn lowest(song: &Song) -> Item {
    let mut planner = Planner::new(View::Corrected, vec![String::new()]);
    planner.plan(song, &song.sections[0], &Mix::default()).items.swap_remove(0)
}

/// A stay in the first section from 0 to `until`, after which nothing follows.
fn stay(until: i64) -> Stay {
    let entry = Entry { section: Letter::A, at: Tick(0), until: Tick(until), cut: false };
    Stay { entry, floor: Tick(0), music: Tick(0), goes_on: false, next_jump: Tick::MAX }
}

/// Start and end of the notes that start in a span.
fn notes(item: &Item, stay: &Stay, from: i64, to: i64) -> Vec<(i64, i64)> {
    let mut found = Vec::new();
    starting(item, stay, Span::new(Tick(from), Tick(to)), &mut found);
    found.iter().map(|note| (note.on.0, note.off.0)).collect()
}

#[test]
fn a_note_that_feel_would_move_to_the_end_of_the_form_sounds_where_it_was_played() {
    let build = || Build::new(1).feel(0, sixteenths()).pass(0, 3840, &[(3800, 50, 60)]);
    assert_eq!(rounds(&build().song(), 1), "3800+60 3850-60");
    // At the seam of two rounds or sections it goes to the top.
    assert_eq!(rounds(&build().song(), 2), "3840+60 3890-60 7640+60 7690-60");
    assert_eq!(form(&build().section("B").form("A B").song()), "3840+60 3890-60");
}

#[test]
fn what_a_pass_plays_after_the_end_of_its_section_is_not_heard() {
    // Two bars in a section of one.
    let song = Build::new(1).pass(0, 7680, &[(0, 10, 60), (3840, 10, 62), (5000, 10, 64)]);
    let song = song.message(0, 100, 4).message(0, 3840, 5).section("B").form("A B").song();
    assert_eq!(form(&song), "0+60 10-60 100x4");
    // Nor after the last section.
    let item = lowest(&song);
    assert_eq!(notes(&item, &stay(3840), 0, 9000), [(0, 10)]);
    let after = messages(&item, &stay(3840), Span::new(Tick(0), Tick(9000)));
    assert_eq!(after.iter().map(|&(at, _)| at).collect::<Vec<_>>(), [Tick(100)]);
}

/// A pass of one bar in a section of two: what feel moves to the second bar belongs to the first, and is heard there even
/// if the music begins with the second bar.
#[test]
fn music_that_begins_between_two_cycles_begins_with_what_feel_moves_there() {
    let song = Build::with_bars(1, 2).feel(0, sixteenths()).pass(0, 3840, &[(3800, 50, 60)]).song();
    let second = Stay { music: Tick(3840), ..stay(7680) };
    assert_eq!(notes(&lowest(&song), &second, 0, 7680), [(3840, 3890), (7640, 7690)]);
    let later = Stay { music: Tick(3841), ..stay(7680) };
    assert_eq!(notes(&lowest(&song), &later, 0, 7680), [(7640, 7690)]);
}

#[test]
fn a_message_is_sent_in_every_cycle_even_one_that_was_played_early() {
    let song = Build::new(1).pass(0, 960, &[]).message(0, -40, 4).message(0, 10, 5).song();
    let expected = "10x5 920x4 970x5 1880x4 1930x5 2840x4 2890x5";
    assert_eq!(rounds(&song, 1), expected);
}

#[test]
fn a_cover_also_silences_the_controllers_of_the_layers_under_it() {
    let wheel = Lane {
        channel: Channel::default(),
        control: chaconne_song::Control::Change(U7::low_bits(1)),
        span: Span::new(Tick(0), Tick(3840)),
        points: vec![Point::step(Tick(0), U14::new(10).unwrap())],
    };
    let song = Build::new(1).pass(0, 3840, &[]).lane(0, wheel);
    let song = song.pass(0, 3840, &[(960, 10, 72)]).cover(1, 960, 1920).song();
    let moves = |text: String| -> String {
        text.split(' ').filter(|word| word.contains('c')).collect::<Vec<_>>().join(" ")
    };
    let expected = "0c1=10 960c1=0 1920c1=10 4800c1=0 5760c1=10";
    assert_eq!(moves(rounds(&song, 2)), expected);
}

/// A pass whose first note was early covers what comes before its cycles. The edge is found however
/// short the span is that is looked at.
#[test]
fn a_cover_that_begins_before_the_top_is_found_in_a_short_span() {
    let song = Build::new(1).pass(0, 3840, &[(960, 10, 72)]).pass(0, 3840, &[]);
    let song = song.cover(1, -480, 240).song();
    let (item, stay) = (lowest(&song), stay(i64::MAX));
    let edges = |from, to| {
        let mut ticks = BTreeSet::new();
        cover_edges(&item, &stay, Span::new(Tick(from), Tick(to)), &mut ticks);
        ticks.retain(|at| (from..to).contains(&at.0));
        ticks.into_iter().map(|at| at.0).collect::<Vec<_>>()
    };
    assert_eq!(edges(3350, 3370), [3360]);
    assert_eq!(edges(3361, 4079), []);
    assert_eq!(edges(4079, 4090), [4080]);
    assert_eq!(edges(0, 8000), [240, 3360, 4080, 7200, 7920]);
}

#[test]
fn a_note_meant_for_the_end_of_a_cover_is_heard() {
    // Half a sixteenth, 120 ticks, before the end.
    let notes = [(1799, 10, 61), (1800, 10, 62)];
    let song = Build::new(1).pass(0, 3840, &notes).pass(0, 3840, &[]).cover(1, 960, 1920).song();
    assert_eq!(rounds(&song, 1), "1800+62 1810-62");
}

#[test]
fn a_note_at_the_start_of_a_cover_shorter_than_half_a_step_is_heard_whole() {
    let song = Build::new(1).pass(0, 3840, &[(960, 400, 62)]).pass(0, 3840, &[]);
    assert_eq!(rounds(&song.cover(1, 960, 1000).song(), 1), "960+62 1360-62");
}

#[test]
fn a_note_ends_where_a_cover_begins_again() {
    let song = Build::new(1).pass(0, 3840, &[(2500, 3800, 62)]).pass(0, 960, &[]);
    assert_eq!(rounds(&song.cover(1, 0, 480).song(), 1), "2500+62 2880-62");
}

#[test]
fn a_note_that_a_newer_round_silences_before_it_is_heard_is_silent() {
    // The first is moved to the seam, where a newer round silences the pass.
    let song = Build::new(1).feel(0, sixteenths());
    let song = song.pass(0, 3840, &[(3800, 50, 60), (3700, 900, 62)]).song();
    let seam = Tick(3840);
    let since =
        Since { from: Tick(0), origin: None, until: seam, covers_from: Tick(0), entry: Tick(0) };
    let item = Item { since: Some(since), ..lowest(&song) };
    let stay = Stay { goes_on: true, ..stay(7680) };
    assert_eq!(notes(&item, &stay, 0, 7680), [(3600, 3840)]);
}

#[test]
fn a_live_jump_ends_all_notes_but_those_that_feel_moved_into_what_follows() {
    // Those end at the next jump.
    let song = Build::new(1).feel(0, sixteenths());
    let item = lowest(&song.pass(0, 3840, &[(3601, 2000, 60), (3800, 2000, 62)]).song());
    let jump = |next_jump| {
        let entry = Entry { cut: true, ..stay(3840).entry };
        Stay { entry, floor: Tick(0), music: Tick(0), goes_on: true, next_jump }
    };
    assert_eq!(notes(&item, &jump(Tick(5000)), 0, 7680), [(3600, 3840), (3840, 5000)]);
    assert_eq!(notes(&item, &jump(Tick::MAX), 0, 7680), [(3600, 3840), (3840, 5840)]);
}

#[test]
fn a_note_sounds_from_its_first_tick_to_its_last() {
    let item = lowest(&Build::new(1).pass(0, 3840, &[(100, 50, 60)]).song());
    let sounds = |at| {
        let mut found = Vec::new();
        sounding(&item, &stay(7680), Tick(at), &mut found);
        !found.is_empty()
    };
    let second = [3939, 3940, 3989, 3990];
    assert_eq!([99, 100, 149, 150].map(sounds), [false, true, true, false]);
    assert_eq!(second.map(sounds), [false, true, true, false]);
}

proptest! {
    #[test]
    fn the_cycles_that_touch_a_span_are_those_of_a_search_through_all(
        (origin, length) in (-50i64..50, 1i64..40),
        (from, stay) in (-60i64..60, 0i64..90),
        (first, last) in (-30i64..=0, 0i64..80),
        (at, span) in (-200i64..200, 0i64..60),
    ) {
        let starts = Span::new(Tick(from), Tick(from + stay));
        let cycles = Cycles { origin: Tick(origin), length: Tick(length), starts, floor: Tick(0) };
        let span = Span::new(Tick(at), Tick(at + span));
        let all = (-400..400).map(|cycle| Tick(origin + cycle * length));
        let touches = |&start: &Tick| {
            starts.contains(start) && start + Tick(last) >= span.from && start + Tick(first) < span.to
        };
        let found = cycles.touching(Tick(first), Tick(last), span);
        prop_assert_eq!(found.collect::<Vec<_>>(), all.filter(touches).collect::<Vec<_>>());
    }
}
