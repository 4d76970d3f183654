//! When tempi take effect while the song plays, on the virtual-time bench: "a tempo change made while
//! playing takes effect from its tick on; everything before that tick keeps its time" (docs/time.md,
//! "From tempo to time").

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Action, Command, Order, Route, When};
use chaconne_song::{
    Channel, Commit, Edit, Letter, Note, NoteId, Pass, PassId, Placed, Section, SectionEdit, Song,
    Stroke, TrackId, U7,
};
use chaconne_time::{Tempo, TempoMap, TempoPoint, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

fn bpm(text: &str) -> Tempo {
    Tempo::parse_bpm(text).unwrap()
}

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

/// Sections of one bar, named A, B, C …, each with its tempi.
fn sections(each: &[TempoMap]) -> Song {
    let mut song = song(1, 1);
    let first = Section::clone(&song.sections[0]);
    let sections = ('A'..).zip(each).map(|(name, tempo)| {
        let letter = letter(&name.to_string());
        Arc::new(Section { letter, tempo: tempo.clone(), ..first.clone() })
    });
    song.sections = sections.collect();
    song
}

/// Tempi, each with the tick at which it starts.
fn tempi(steps: &[(i64, &str)]) -> TempoMap {
    let point = |&(at, text): &(i64, &str)| TempoPoint { at: Tick(at), tempi: vec![bpm(text)] };
    TempoMap::with_points(steps.iter().map(point).collect()).unwrap()
}

fn steady(text: &str) -> TempoMap {
    TempoMap::new(bpm(text))
}

/// How long a span of ticks lasts, in whole milliseconds.
fn lasts(b: &Bench, from: i64, to: i64) -> i64 {
    let ns = |tick| b.engine.ns_at(Tick(tick)).unwrap();
    (ns(to) - ns(from) + MS / 2) / MS
}

/// At 120 a bar of four quarters lasts 2 s, at 60 it lasts 4 s.
#[test]
fn a_tempo_changed_just_before_its_section_begins_holds_from_the_start_of_the_section() {
    let song = sections(&[steady("120"), steady("240")]);
    let route = Route::of(&song, &[Letter::A, letter("B")]).unwrap();
    let mut b = Bench::new(song);
    assert!(b.command(Command::PlayRoute(route)));
    // The seam is within the 100 ms (192 ticks) that are performed ahead.
    b.to(BAR - 60);
    let edit = Edit::Section(letter("B"), SectionEdit::Tempo(steady("60")));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    b.to(2 * BAR - 10);
    assert_eq!([lasts(&b, 0, BAR), lasts(&b, BAR, 2 * BAR - 10)], [2000, 3990]);
    b.command(Command::Stop);
}

#[test]
fn a_jump_just_before_a_seam_leaves_no_tempo_of_the_section_that_was_planned_there() {
    let slower = tempi(&[(0, "120"), (40, "60"), (80, "30")]);
    let song = sections(&[steady("120"), slower, steady("120")]);
    let route = Route::of(&song, &[Letter::A, letter("B")]).unwrap();
    let mut b = Bench::new(song);
    assert!(b.command(Command::PlayRoute(route)));
    b.to(BAR - 60);
    assert!(b.command(Command::Jump(letter("C"), When::Seam)));
    b.to(2 * BAR - 10);
    assert_eq!(lasts(&b, 0, 2 * BAR - 10), 3995);
    b.command(Command::Stop);
}

#[test]
fn a_late_jump_takes_the_new_tempo_from_the_next_tick_on() {
    let mut b = Bench::new(sections(&[steady("120"), steady("60")]));
    b.command(Command::Play);
    b.to(BAR + 480);
    let known = [BAR, BAR + 480, BAR + 481].map(|tick| b.engine.ns_at(Tick(tick)));
    assert!(b.command(Command::Jump(letter("B"), When::Seam)));
    assert_eq!([BAR, BAR + 480, BAR + 481].map(|tick| b.engine.ns_at(Tick(tick))), known);
    // A quarter at 60.
    assert_eq!(lasts(&b, BAR + 481, BAR + 481 + 960), 1000);
    b.command(Command::Stop);
}

#[test]
fn a_tempo_set_at_a_change_of_tempo_holds_from_the_next_tick_on() {
    let map = tempi(&[(0, "120"), (1920, "60")]);
    let mut b = Bench::new(sections(&[map]));
    b.command(Command::Play);
    b.to(1920);
    assert_eq!(b.engine.tick_at(b.now), Some(Tick(1920)));
    let known = b.engine.ns_at(Tick(1921));
    assert!(b.command(Command::Tempo(bpm("240"))));
    b.run_to(b.now + 5 * MS);
    assert_eq!(b.engine.ns_at(Tick(1921)), known);
    assert_eq!(lasts(&b, 1921, 1921 + 960), 250);
    b.command(Command::Stop);
}

/// "The song is performed up to 100 ms ahead" (docs/time.md, "From the clock to the cable").
#[test]
fn what_is_due_in_100_ms_is_ordered_and_what_is_due_a_tick_later_is_not() {
    let map = tempi(&[(0, "120"), (1920, "60")]);
    let mut song = sections(&[map]);
    let mut pass = Pass::empty(PassId(9), TrackId(1), Tick(BAR));
    let played = Stroke {
        start: Tick(1920),
        length: Tick(100),
        key: U7::low_bits(60),
        velocity: U7::low_bits(90),
        release: U7::CENTRE,
    };
    let channel = Channel::default();
    pass.notes_mut().notes =
        vec![Note { id: NoteId(1), channel, played, placed: Placed::UNCHANGED }];
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    let due = b.engine.ns_at(Tick(1920)).unwrap();
    let mut ordered = |ns| -> (bool, bool) {
        b.engine.poll(ns);
        let orders: Vec<Order> = b.engine.take_orders().collect();
        let strikes = |order: &Order| matches!(order, Order::Play(cue) if matches!(cue.action, Action::Press { .. }));
        let tempo = |order: &Order| matches!(order, Order::Tempo { .. });
        (orders.iter().any(strikes), orders.iter().any(tempo))
    };
    assert_eq!(ordered(due - 100 * MS - 1), (false, false));
    assert_eq!(ordered(due - 100 * MS), (true, true));
}
