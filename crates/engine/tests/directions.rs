//! Directions while the music plays: go to a section at the next seam, bar or beat, stay, back to the form, one
//! last time, again from the start; on the virtual-time bench.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Route, Transport, When};
use chaconne_song::{Commit, Edit, Letter, Section, SectionEdit, Song};
use chaconne_time::{Metre, MetreMap, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
const BEAT: i64 = 960;

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

/// Empty sections A to D of two bars, and a form.
fn sections(form: &str) -> Song {
    let mut song = song(2, 1);
    for more in ["B", "C", "D"] {
        let section = Section { letter: letter(more), ..(*song.sections[0]).clone() };
        song.sections.push(Arc::new(section));
    }
    song.form = form.parse().unwrap();
    song
}

/// A bench that plays the form from its start.
fn playing(form: &str) -> Bench {
    let song = sections(form);
    let route = Route::form(&song).unwrap();
    let mut b = Bench::new(song);
    assert!(b.command(Command::PlayRoute(route)));
    b
}

/// The route of the run: each section with the beat in which it is left, `-` for one without an end.
fn route(b: &Bench) -> String {
    let stay = |(section, until): (Letter, Tick)| match until {
        Tick::MAX => format!("{section}-"),
        until => format!("{section}{}", until.0 / BEAT),
    };
    let stays = b.engine.entries().iter().map(|entry| stay((entry.section, entry.until)));
    stays.collect::<Vec<_>>().join(" ")
}

fn said(b: &Bench) -> String {
    b.engine.status(b.now).said.1
}

#[test]
fn a_jump_comes_at_the_next_seam_bar_or_beat() {
    // (when, the tick of the command, the route after it)
    for (when, at, expected) in [
        (When::Seam, BEAT + 10, "A8 C-"),
        (When::Bar, BEAT + 10, "A4 C-"),
        (When::Beat, BEAT + 10, "A2 C-"),
        (When::Bar, 5 * BEAT + 10, "A8 C-"),
        (When::Beat, 7 * BEAT + 10, "A8 C-"),
        // Within a beat after a bar line, that one counts; the seam at which the music began does not.
        (When::Bar, BAR + 500, "A4 C-"),
        (When::Bar, 500, "A4 C-"),
        (When::Seam, 2 * BAR + 500, "A8 C-"),
        (When::Beat, BAR + 500, "A5 C-"),
    ] {
        let mut b = playing("A A B");
        b.to(at);
        assert!(b.command(Command::Jump(letter("C"), when)));
        assert_eq!(route(&b), expected, "{when:?} at {at}");
        assert!(b.engine.status(b.now).form_left);
        b.to(at + 3 * BAR);
        assert_eq!(b.engine.status(b.now).section, letter("C"));
        b.command(Command::Stop);
        b.check_wire();
    }
}

/// A beat is what the click counts: in 6/8, a dotted quarter (common practice; no source).
#[test]
fn a_beat_is_what_the_click_counts() {
    let mut song = sections("A");
    let metre = MetreMap::new(2, "6/8".parse::<Metre>().unwrap().counted()).unwrap();
    Edit::Section(Letter::A, SectionEdit::Metre(metre)).apply(&mut song).unwrap();
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(100);
    assert!(b.command(Command::Jump(letter("B"), When::Beat)));
    assert_eq!(b.engine.entries()[0].until, Tick(1440));
    b.command(Command::Stop);
}

#[test]
fn a_section_is_entered_anew_at_a_bar_and_just_stays_at_its_seam() {
    let mut b = playing("A B");
    b.to(100);
    assert!(b.command(Command::Jump(Letter::A, When::Bar)));
    assert_eq!(route(&b), "A4 A-");
    let mut b = playing("A B");
    b.to(100);
    assert!(b.command(Command::Jump(Letter::A, When::Seam)));
    assert_eq!(route(&b), "A-");
}

#[test]
fn the_form_goes_on_after_the_section_in_which_it_was_left() {
    let mut b = playing("A B C D");
    b.to(2 * BAR + 1500);
    assert!(b.command(Command::Stay));
    assert_eq!((route(&b).as_str(), b.engine.status(b.now).form_left), ("A8 B-", true));
    b.to(6 * BAR + 1500);
    assert!(b.command(Command::Jump(letter("D"), When::Bar)));
    b.to(9 * BAR + 1500);
    assert!(b.command(Command::BackToForm(When::Seam)));
    assert_eq!(route(&b), "A8 B28 D44 C52 D60");
    assert_eq!(said(&b), "back to the form: section C comes next");
    let status = b.engine.status(b.now);
    assert_eq!((status.form_left, status.next_section), (false, Some(letter("C"))));
    assert!(!b.command(Command::BackToForm(When::Seam)), "it plays already");
    b.to(14 * BAR);
    b.run_to(b.now + 10_000_000_000);
    assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);
    b.check_wire();
}

/// The section that plays, and its place in the form.
fn standing(b: &Bench) -> (String, Option<(i64, i64)>) {
    let status = b.engine.status(b.now);
    (status.section.to_string(), status.in_form)
}

#[test]
fn the_place_in_the_form_is_known_again_after_a_detour() {
    let mut b = playing("A B C D");
    let stands = |b: &Bench, letter: &str, entry: Option<i64>| {
        assert_eq!(standing(b), (letter.to_string(), entry.map(|entry| (entry, 4))));
    };
    b.to(2 * BAR + 1500);
    stands(&b, "B", Some(2));
    // B stays the entry of the form until it goes round, and the jump is still to come.
    assert!(b.command(Command::Stay));
    stands(&b, "B", Some(2));
    b.to(4 * BAR + 1500);
    stands(&b, "B", None);
    assert!(b.command(Command::Jump(letter("D"), When::Bar)));
    b.to(6 * BAR + 1500);
    stands(&b, "D", None);
    assert!(b.command(Command::BackToForm(When::Seam)));
    stands(&b, "D", None);
    b.to(7 * BAR + 1500);
    stands(&b, "C", Some(3));
    // A jump that is called off was no detour.
    assert!(b.command(Command::Jump(letter("A"), When::Seam)));
    stands(&b, "C", Some(3));
    assert!(b.command(Command::BackToForm(When::Seam)));
    stands(&b, "C", Some(3));
    b.to(9 * BAR + 1500);
    stands(&b, "D", Some(4));
    // Stopped there and continued, it is the same place.
    b.command(Command::Stop);
    stands(&b, "D", Some(4));
    b.command(Command::Continue);
    stands(&b, "D", Some(4));
    b.check_wire();
}

#[test]
fn the_place_in_the_form_is_known_after_a_loop_a_last_time_and_when_it_repeats() {
    let mut b = Bench::new(sections("B A C"));
    b.command(Command::Play);
    b.to(100);
    assert_eq!(standing(&b), ("A".into(), None));
    assert!(b.command(Command::BackToForm(When::Seam)));
    assert_eq!(standing(&b), ("A".into(), None));
    b.to(2 * BAR + 100);
    assert_eq!(standing(&b), ("B".into(), Some((1, 3))));

    let mut b = Bench::new(sections("B A C"));
    b.command(Command::Play);
    b.to(100);
    assert!(b.command(Command::LastTime));
    b.to(2 * BAR + 100);
    assert_eq!(standing(&b), ("C".into(), Some((3, 3))));

    let mut b = playing("A B C");
    assert!(b.command(Command::Repeat(true)));
    for (bar, letter, entry) in [(0, "A", 1), (4, "C", 3), (6, "A", 1), (22, "C", 3), (26, "B", 2)]
    {
        b.to(bar * BAR + 100);
        assert_eq!(standing(&b), (letter.into(), Some((entry, 3))), "bar {bar}");
    }
}

#[test]
fn a_jump_that_has_not_come_yet_is_called_off_by_going_back_to_the_form() {
    let mut b = playing("A B C");
    b.to(2000);
    assert!(b.command(Command::Jump(letter("D"), When::Seam)));
    assert_eq!(route(&b), "A8 D-");
    assert!(b.command(Command::BackToForm(When::Seam)));
    assert_eq!(route(&b), "A8 B16 C24");
}

#[test]
fn a_stay_that_the_form_continues_is_one_stay() {
    let mut b = playing("A A B");
    b.to(2000);
    assert!(b.command(Command::Stay));
    b.to(5 * BAR);
    assert!(b.command(Command::BackToForm(When::Seam)));
    // The round that plays, and then the second A of the form, without a cut.
    assert_eq!(route(&b), "A32 B40");
    assert!(!b.engine.entries()[0].cut);
}

#[test]
fn a_loop_leads_into_the_form_and_a_song_without_one_says_so() {
    let mut b = Bench::new(sections("B C"));
    assert!(!b.command(Command::BackToForm(When::Seam)), "nothing plays");
    b.command(Command::Play);
    b.to(100);
    assert!(b.command(Command::BackToForm(When::Seam)));
    assert_eq!(route(&b), "A8 B16 C24");
    let mut b = Bench::new(sections(""));
    b.command(Command::Play);
    assert!(!b.command(Command::BackToForm(When::Seam)));
    assert_eq!(said(&b), "the song has no form yet: write one first");
}

#[test]
fn the_last_time_leads_to_what_follows_the_section_for_the_last_time() {
    for (form, left, expected) in [
        // In the first A: the C after the last A.
        ("A B A C", false, "A8 C16"),
        ("A x3 B", false, "A8 B16"),
        ("A B", false, "A8 B16"),
        ("A A", false, "A8"),
        // After staying: what is left of the form has no A any more.
        ("A B C", true, "A16 B24 C32"),
        ("A B A D", true, "A16 D24"),
        // The form does not have the section at all.
        ("", true, "A16"),
        ("B C", true, "A16"),
    ] {
        let song = sections(form);
        let route_of_form = Route::form(&song).filter(|_| form.contains('A'));
        let mut b = Bench::new(song);
        assert!(b.command(route_of_form.map_or(Command::Play, Command::PlayRoute)));
        b.to(100);
        if left {
            assert!(b.command(Command::Stay));
            b.to(2 * BAR + 2000);
        }
        assert!(b.command(Command::LastTime), "{form}");
        assert_eq!(route(&b), expected, "{form}, {left}");
        b.run_to(b.now + 20_000_000_000);
        assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);
        b.check_wire();
    }
}

#[test]
fn the_place_in_the_form_changes_after_a_last_time_only_at_the_seam() {
    let stands = |b: &Bench, letter: &str, entry: Option<i64>| {
        assert_eq!(standing(b), (letter.to_string(), entry.map(|entry| (entry, 4))));
    };
    // The second of three times through A is the last: the song ends after it.
    let mut b = playing("A A B A");
    b.to(2 * BAR + 1500);
    stands(&b, "A", Some(2));
    for _ in 0..2 {
        assert!(b.command(Command::LastTime));
        stands(&b, "A", Some(2));
    }
    assert_eq!(route(&b), "A16");
    b.to(4 * BAR - 200);
    stands(&b, "A", Some(2));
    b.run_to(b.now + 20_000_000_000);
    assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);

    // From the first A the song goes to what follows the last one.
    let mut b = playing("A B A C");
    b.to(1500);
    assert!(b.command(Command::LastTime));
    stands(&b, "A", Some(1));
    b.to(2 * BAR - 200);
    stands(&b, "A", Some(1));
    b.to(2 * BAR + 200);
    stands(&b, "C", Some(4));

    // Called off by staying, the round still has its place, and the next one has none.
    let mut b = playing("A B A C");
    b.to(1500);
    assert!(b.command(Command::LastTime));
    b.to(BAR);
    assert!(b.command(Command::Stay));
    stands(&b, "A", Some(1));
    b.to(2 * BAR + 200);
    stands(&b, "A", None);
    b.check_wire();
}

#[test]
fn a_form_starts_again_until_that_is_turned_off_or_it_is_the_last_time() {
    let mut b = playing("A B");
    assert!(b.command(Command::Repeat(true)));
    b.to(9 * 2 * BAR + 100);
    let played: String = b.engine.entries().iter().map(|stay| stay.section.to_string()).collect();
    assert!(played.starts_with("ABABABABAB"), "{played}");
    assert_eq!(b.engine.status(b.now).section, letter("B"));
    assert!(b.command(Command::Repeat(false)));
    assert_eq!(b.engine.entries().len(), 10);
    b.run_to(b.now + 10_000_000_000);
    assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);
    b.check_wire();

    let mut b = playing("A B C");
    assert!(b.command(Command::Repeat(true)));
    b.to(6 * BAR + 2000);
    assert!(b.command(Command::LastTime));
    assert_eq!(route(&b), "A8 B16 C24 A32 B40 C48");
    b.run_to(b.now + 30_000_000_000);
    assert_eq!(b.engine.status(b.now).transport, Transport::Stopped);
    b.check_wire();
}

#[test]
fn what_was_played_live_becomes_the_form_in_one_step_of_undo() {
    let mut b = Bench::new(sections("A"));
    assert!(!b.command(Command::KeepForm));
    b.command(Command::Play);
    b.to(2 * BAR + 2000);
    b.command(Command::Jump(letter("C"), When::Seam));
    b.to(4 * BAR + 2000);
    b.command(Command::Jump(letter("B"), When::Bar));
    b.to(6 * BAR + 2000);
    assert!(b.command(Command::KeepForm));
    let form = |b: &Bench| b.engine.song().form.to_string();
    assert_eq!(
        (form(&b), said(&b)),
        ("A x2 C B".into(), "the form is now A x2 C B; undo brings the old one back".into())
    );
    assert!(b.command(Command::Undo));
    assert_eq!(form(&b), "A");
    // The same after a stop, which came a little late.
    b.to(7 * BAR + 100);
    b.command(Command::Stop);
    assert!(b.command(Command::KeepForm));
    assert_eq!(form(&b), "A x2 C B");
    b.check_wire();
}

#[test]
fn a_section_that_gets_another_letter_or_is_removed_is_followed_in_what_is_left() {
    let mut b = playing("A B C D");
    b.to(100);
    b.command(Command::Stay);
    let rename = Edit::Section(letter("B"), SectionEdit::Letter(letter("E")));
    assert!(b.command(Command::Edit(Commit::of(rename))));
    let form = Edit::Form("A E D".parse().unwrap());
    assert!(b.command(Command::Edit(Commit::of(form))));
    assert!(b.command(Command::Edit(Commit::of(Edit::RemoveSection(letter("C"))))));
    assert!(b.command(Command::BackToForm(When::Seam)));
    assert_eq!(route(&b), "A8 E16 D24");
}

#[test]
fn the_status_says_how_long_until_the_section_is_left() {
    let mut b = playing("A A B");
    b.to(BAR + 50);
    let left = |b: &Bench| b.engine.status(b.now).leaves_in.map(|ticks| ticks.0 / BEAT);
    assert_eq!(left(&b), Some(11));
    b.command(Command::Stay);
    assert_eq!(left(&b), None);
    b.to(BAR + 1500);
    b.command(Command::Jump(letter("D"), When::Bar));
    assert_eq!(left(&b), Some(2));
}
