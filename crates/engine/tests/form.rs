//! The form as a run of the engine: how far it is, what is recorded over it, and changing it meanwhile;
//! on the virtual-time bench.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Rounds, Route, Transport, When};
use chaconne_song::{Commit, Edit, Letter, Section, SectionEdit, Song};
use chaconne_time::{Metre, MetreMap};
use std::sync::Arc;

const BAR: i64 = 3840;

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

/// Two empty sections of one bar, and a form.
fn two_sections(form: &str) -> Song {
    let mut song = song(1, 1);
    let second = Section { letter: letter("B"), ..(*song.sections[0]).clone() };
    song.sections.push(Arc::new(second));
    song.form = form.parse().unwrap();
    song
}

/// A bench that plays the form from its start.
fn playing(form: &str) -> Bench {
    let song = two_sections(form);
    let route = Route::form(&song).unwrap();
    let mut b = Bench::new(song);
    assert!(b.command(Command::PlayRoute(route)));
    b
}

/// Other bars for a section.
fn bars(section: &str, bars: u32) -> Command {
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    Command::Edit(Commit::of(Edit::Section(letter(section), SectionEdit::Metre(metre))))
}

fn place(b: &Bench) -> Option<(i64, i64)> {
    b.engine.status(b.now).in_form
}

/// The keys of each pass of a section, the lowest layer first.
fn keys(b: &Bench, section: &str) -> Vec<Vec<u8>> {
    let song = b.engine.song();
    let passes = song.passes_in(song.section(letter(section)).unwrap()).into_iter();
    passes.map(|pass| pass.notes().iter().map(|note| note.played.key.get()).collect()).collect()
}

#[test]
fn the_status_says_which_section_comes_after_this_round() {
    let mut b = playing("A x2 B");
    let next = |b: &Bench| b.engine.status(b.now).next_section;
    b.to(10);
    assert_eq!(next(&b), Some(letter("A")));
    b.to(BAR + 10);
    assert_eq!(next(&b), Some(letter("B")));
    b.to(2 * BAR + 10);
    assert_eq!(next(&b), None);
    b.command(Command::Stop);
    b.command(Command::Play);
    assert_eq!(next(&b), None, "a loop goes on until it is told where to go");
}

#[test]
fn the_status_says_how_far_the_form_is_until_its_end() {
    let mut b = playing("A x2 B");
    b.to(10);
    assert_eq!(place(&b), Some((1, 3)));
    b.to(BAR + 10);
    assert_eq!(place(&b), Some((2, 3)));
    b.to(3 * BAR - 10);
    assert_eq!(place(&b), Some((3, 3)));
    b.run_to(b.now + 100_000_000);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.in_form), (Transport::Stopped, None));
    // A loop has no end.
    b.command(Command::Play);
    assert_eq!(place(&b), None);
}

#[test]
fn the_place_in_the_form_is_kept_while_stopped_and_lost_by_a_jump() {
    let mut b = playing("A B A");
    b.to(BAR + 1000);
    b.command(Command::Stop);
    assert_eq!(place(&b), Some((2, 3)));
    b.command(Command::Continue);
    assert_eq!(place(&b), Some((2, 3)));
    b.command(Command::Jump(letter("A"), When::Seam));
    assert_eq!(place(&b), Some((2, 3)), "until the jump comes");
    b.to(2 * BAR + 1000);
    assert_eq!(place(&b), None);
}

#[test]
fn a_take_over_the_form_lays_each_round_into_the_section_it_was_played_over() {
    let mut b = playing("A B A");
    b.to(20);
    assert!(b.command(Command::Record(true)));
    for (round, key) in [60, 62, 64].into_iter().enumerate() {
        let at = round as i64 * BAR + 960;
        b.press(at, key);
        b.lift(at + 400, key);
    }
    b.run_to(b.now + 3_000_000_000);
    let status = b.engine.status(b.now);
    assert_eq!((status.transport, status.recording), (Transport::Stopped, false));
    assert_eq!(keys(&b, "A"), [vec![60], vec![64]]);
    assert_eq!(keys(&b, "B"), [vec![62]]);
    b.check_wire();
}

#[test]
fn new_bars_of_a_section_to_come_leave_the_take_and_the_form_alone() {
    let mut b = playing("A B A");
    b.to(20);
    assert!(b.command(Command::Record(true)));
    b.press(960, 60);
    b.lift(1200, 60);
    assert!(b.command(bars("B", 2)));
    let status = b.engine.status(b.now);
    assert_eq!((status.recording, status.in_form), (true, Some((1, 3))));
    let stays: Vec<i64> = b.engine.entries().iter().map(|stay| stay.until.0 / BAR).collect();
    assert_eq!(stays, [1, 3, 4]);
    b.to(BAR + 100);
    assert_eq!(keys(&b, "A"), [vec![60]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn new_bars_of_the_section_that_plays_close_the_take_and_the_form_goes_on_after_it() {
    let mut b = playing("A B A");
    b.to(20);
    assert!(b.command(Command::Record(true)));
    b.press(960, 60);
    b.lift(1200, 60);
    assert!(b.command(bars("A", 2)));
    let status = b.engine.status(b.now);
    assert!(!status.recording);
    assert_eq!(status.said.1, "the bars have changed: section A starts from the top");
    assert_eq!(keys(&b, "A"), [vec![60]], "what was recorded is kept");
    let route: String = b.engine.entries().iter().map(|stay| stay.section.to_string()).collect();
    assert_eq!(route, "AABA");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_place_in_the_form_stays_when_a_section_that_is_over_gets_other_bars() {
    let mut b = playing("A x2 B");
    b.to(2 * BAR + 10);
    assert_eq!(place(&b), Some((3, 3)));
    let metre = MetreMap::new(2, Metre::common()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(metre));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    // The two bars of A that were played would be one of its rounds now.
    assert_eq!(place(&b), Some((3, 3)));
}

#[test]
fn sections_are_appended_to_the_form_and_dropped_while_it_plays_on_as_it_was() {
    let mut b = playing("A B");
    b.to(1000);
    assert!(b.command(Command::AppendToForm(letter("B"))));
    assert!(b.command(Command::AppendToForm(Letter::A)));
    assert_eq!(b.engine.song().form.to_string(), "A B B A");
    assert_eq!(place(&b), Some((1, 2)));
    assert!(b.command(Command::DropFromForm));
    assert_eq!(b.engine.song().form.to_string(), "A B B");
    assert!(b.command(Command::Undo));
    assert!(b.command(Command::Undo));
    assert_eq!(b.engine.song().form.to_string(), "A B B");
    for _ in 0..3 {
        assert!(b.command(Command::DropFromForm));
    }
    assert!(!b.command(Command::DropFromForm));
    assert!(!b.command(Command::AppendToForm(letter("Q"))));
    assert!(b.engine.song().form.is_empty());
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_take_of_one_pass_is_kept_when_the_form_ends() {
    let mut b = playing("A B x2");
    assert!(b.command(Command::Rounds(Rounds::One)));
    b.to(20);
    assert!(b.command(Command::Record(true)));
    for (at, key) in [(960, 60), (BAR + 960, 62), (2 * BAR + 960, 64)] {
        b.press(at, key);
        b.lift(at + 400, key);
    }
    b.run_to(b.now + 3_000_000_000);
    assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);
    assert_eq!((keys(&b, "A"), keys(&b, "B")), (vec![vec![60]], vec![vec![62, 64]]));
    b.check_wire();
}
