//! *Keep what I played*: which rounds it can still make a pass of, in which section, and from when on
//! that pass is heard.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Rounds, Route};
use chaconne_song::{Feel, Letter, Note, Section, Song, TrackId};
use chaconne_time::{NoteValue, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

fn b() -> Letter {
    "B".parse().unwrap()
}

/// A song of two sections of one bar, A and B.
fn two_sections() -> Song {
    let mut two = song(1, 1);
    let section = Section { letter: b(), layers: Vec::new(), ..(*two.sections[0]).clone() };
    two.sections.push(section.into());
    two
}

/// A bench that plays sections in this order, then stops.
fn playing(song: Song, letters: &[Letter]) -> Bench {
    let route = Route::of(&song, letters).unwrap();
    let mut bench = Bench::new(song);
    assert!(bench.command(Command::PlayRoute(route)));
    bench
}

fn tap(bench: &mut Bench, at: i64, key: u8) {
    bench.press(at, key);
    bench.lift(at + 40, key);
}

/// The start and the key of each note of each pass of a section.
fn passes(bench: &Bench, letter: Letter) -> Vec<Vec<(i64, u8)>> {
    let spell = |note: &Note| (note.played.start.0, note.played.key.get());
    let song = bench.engine.song();
    let passes = song.passes_in(song.section(letter).unwrap());
    passes.iter().map(|pass| pass.notes().iter().map(spell).collect()).collect()
}

#[test]
fn three_complete_rounds_and_the_current_one_can_be_kept() {
    // The note is in the first round.
    for (rounds, kept) in [(0, true), (1, true), (3, true), (4, false)] {
        let mut bench = Bench::new(song(1, 1));
        bench.command(Command::Play);
        tap(&mut bench, 800, 60);
        bench.to(rounds * BAR + 1200);
        assert_eq!(bench.command(Command::Keep), kept, "after {rounds} rounds");
    }
}

#[test]
fn a_refusal_says_whether_anything_was_played() {
    let mut bench = Bench::new(song(1, 1));
    let said = |bench: &Bench| bench.engine.status(bench.now).said.1;
    assert!(!bench.command(Command::Keep));
    assert!(said(&bench).contains("only what you play while the loop plays"));
    bench.command(Command::Play);
    bench.to(1000);
    assert!(!bench.command(Command::Keep));
    assert!(said(&bench).contains("you have not played anything"));
    tap(&mut bench, 1100, 60);
    assert!(bench.command(Command::Keep));
    assert!(!bench.command(Command::Keep));
    assert!(said(&bench).contains("is already in a pass"));
}

#[test]
fn rounds_of_the_section_before_count_too() {
    let order = [Letter::A, b(), Letter::A, b()];
    let mut bench = playing(two_sections(), &order);
    tap(&mut bench, 1000, 60);
    tap(&mut bench, BAR + 100, 62);
    bench.to(3 * BAR + 1000);
    // The newest complete round first.
    assert!(bench.command(Command::Keep));
    assert_eq!((passes(&bench, Letter::A).len(), passes(&bench, b())), (0, vec![vec![(100, 62)]]));
    assert!(bench.command(Command::Keep));
    assert_eq!(passes(&bench, Letter::A), [[(1000, 60)]]);
}

#[test]
fn of_a_section_played_for_long_before_the_present_one_three_rounds_can_be_kept() {
    for (round, kept) in [(2, false), (3, true), (5, true)] {
        let mut order = vec![Letter::A; 6];
        order.push(b());
        let mut bench = playing(two_sections(), &order);
        tap(&mut bench, round * BAR + 3000, 60);
        bench.to(6 * BAR + 1000);
        assert_eq!(bench.command(Command::Keep), kept, "round {round}");
    }
}

#[test]
fn what_is_played_in_a_section_is_kept_in_that_section() {
    let mut bench = playing(two_sections(), &[Letter::A, b()]);
    tap(&mut bench, BAR + 100, 62);
    bench.to(BAR + 1000);
    assert!(bench.command(Command::Keep));
    assert_eq!((passes(&bench, Letter::A).len(), passes(&bench, b())), (0, vec![vec![(100, 62)]]));
}

#[test]
fn a_complete_round_is_heard_at_once_and_the_current_one_from_the_next_round_on() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Play);
    tap(&mut bench, 3000, 60);
    bench.to(BAR + 1000);
    assert!(bench.command(Command::Keep));
    bench.to(2 * BAR);
    assert_eq!(bench.heard(0, 2 * BAR), "6840+60 6880-60");
    // Feel would move this note later than the command.
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Feel(TrackId(1), Feel::off(false).on(NoteValue::SIXTEENTH)));
    bench.command(Command::Play);
    tap(&mut bench, 2800, 60);
    bench.to(2845);
    assert!(bench.command(Command::Keep));
    bench.to(2 * BAR);
    assert_eq!(bench.heard(0, 2 * BAR), "6720+60 6760-60");
}

#[test]
fn a_long_pass_of_a_section_that_was_left_is_heard_when_that_section_comes_again() {
    // The pass is four bars long, so it is not over when A comes again in the third bar.
    for tick in [BAR, BAR + 500] {
        let mut song = two_sections();
        Arc::make_mut(&mut song.tracks[0]).pass_length = Some(Tick(4 * BAR));
        let mut bench = playing(song, &[Letter::A, b(), Letter::A]);
        tap(&mut bench, 1000, 60);
        bench.to(tick);
        assert!(bench.command(Command::Keep));
        bench.to(3 * BAR - 100);
        assert_eq!(bench.heard(0, 3 * BAR), "8680+60 8720-60", "kept at {tick}");
    }
}

#[test]
fn a_take_of_one_pass_keeps_its_first_notes_however_long_it_is() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Rounds(Rounds::One));
    bench.command(Command::Record(true));
    tap(&mut bench, 100, 60);
    tap(&mut bench, 3000, 62);
    bench.to(9 * BAR + 100);
    bench.command(Command::Record(false));
    assert_eq!(passes(&bench, Letter::A), [[(100, 60), (3000, 62)]]);
}

#[test]
fn what_was_played_long_ago_is_not_looked_at_any_more() {
    let mut bench = Bench::new(song(1, 1));
    bench.step = 20 * MS;
    bench.command(Command::Play);
    let mut work = |bar: i64| {
        for at in 0..20 {
            tap(&mut bench, bar * BAR + 1000 + at * 50, 60);
        }
        bench.to(bar * BAR + 3000);
        let before = bench.engine.work();
        assert!(bench.command(Command::Keep));
        bench.command(Command::Undo);
        bench.engine.work() - before
    };
    let all: Vec<u64> = (0..20).map(&mut work).collect();
    assert!(all[19] <= all[6] * 2, "{all:?}");
}
