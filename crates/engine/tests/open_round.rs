//! The round that is being recorded: what the status shows of it, and that it is heard from the seam on
//! without a gap.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Click, Command, Config, Message, Mode, Rounds, Turn};
use chaconne_song::{Channel, Label, Pass, Track, TrackId, U7};
use chaconne_time::Tick;
use std::sync::Arc;

const BAR: i64 = 3840;

fn tap(b: &mut Bench, at: i64, key: u8) {
    b.press(at, key);
    b.lift(at + 20, key);
}

/// The unfinished round; a command brings it up to date.
fn unfinished(b: &mut Bench) -> Arc<Pass> {
    b.command(Command::Click(Click::CountIn));
    b.engine.status(b.now).unfinished.expect("something was played")
}

/// The start and the key of each of its notes.
fn notes(pass: &Pass) -> Vec<(i64, u8)> {
    pass.notes().iter().map(|note| (note.played.start.0, note.played.key.get())).collect()
}

#[test]
fn a_note_that_is_early_for_the_next_round_is_not_in_this_one() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    tap(&mut b, 1000, 60);
    // Half a sixteenth is 120 ticks.
    tap(&mut b, BAR - 121, 62);
    tap(&mut b, BAR - 60, 64);
    assert_eq!(notes(&unfinished(&mut b)), [(1000, 60), (BAR - 121, 62)]);
    b.to(BAR + 100);
    assert_eq!(notes(&unfinished(&mut b)), [(-60, 64)]);
}

#[test]
fn an_unfinished_take_of_one_pass_is_as_long_as_its_rounds_so_far() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::One));
    b.command(Command::Play);
    b.to(BAR + 10);
    b.command(Command::Record(true));
    tap(&mut b, BAR + 1000, 60);
    assert_eq!(unfinished(&mut b).length, Tick(BAR));
    tap(&mut b, 3 * BAR - 60, 62);
    tap(&mut b, 3 * BAR + 1000, 64);
    let open = unfinished(&mut b);
    let expected = [(1000, 60), (2 * BAR - 60, 62), (2 * BAR + 1000, 64)];
    assert_eq!((open.length, notes(&open)), (Tick(3 * BAR), expected.to_vec()));
}

#[test]
fn a_wheel_that_was_away_from_rest_when_the_take_began_is_in_its_first_round_only() {
    let mut b = Bench::new(song(1, 1));
    b.change(0, 1, 50);
    b.command(Command::Record(true));
    tap(&mut b, 1000, 60);
    assert_eq!(unfinished(&mut b).lanes().len(), 1);
    tap(&mut b, BAR + 1000, 60);
    assert_eq!(unfinished(&mut b).lanes().len(), 0);
}

#[test]
fn notes_at_the_very_start_of_a_round_are_heard_at_the_seam() {
    // With the grace, they repeat before their round is closed.
    for grace in [0, 120 * MS] {
        let mut b = Bench::with_grace(song(1, 1), grace);
        b.command(Command::Record(true));
        for (at, key) in [(0, 60), (3, 64), (6, 67)] {
            b.press(at, key);
        }
        for key in [60, 64, 67] {
            b.lift(500, key);
        }
        b.to(BAR + 100);
        assert_eq!(b.heard(BAR, BAR + 100), "3840+60 3843+64 3846+67");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_note_that_arrives_at_the_moment_at_which_its_round_is_closed_is_heard_when_it_repeats() {
    let mut b = Bench::with_grace(song(1, 1), 120 * MS);
    b.command(Command::Record(true));
    tap(&mut b, 1000, 60);
    b.to(BAR);
    b.run_to(b.now + 119 * MS);
    let (channel, velocity) = (Default::default(), U7::low_bits(90));
    let key = U7::low_bits(64);
    for (tick, on) in [(300, true), (340, false)] {
        let stamp = b.engine.ns_at(Tick(tick)).unwrap();
        let message = match on {
            true => chaconne_engine::Message::NoteOn { channel, key, velocity },
            false => chaconne_engine::Message::NoteOff { channel, key, velocity },
        };
        b.engine.input(stamp, 0, message.into());
    }
    // The next poll closes the round: by now, the note's repeat is performed ahead.
    b.run_to(b.now + 5 * MS);
    assert_eq!(b.passes().len(), 1);
    b.to(2 * BAR);
    assert_eq!(b.heard(BAR, 2 * BAR), "4140+64 4180-64 4840+60 4860-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn each_round_replaces_bar_by_bar_anew() {
    let mut b = Bench::new(song(2, 1));
    b.command(Command::Record(true));
    for bar in [0, 1] {
        tap(&mut b, bar * BAR + 2050, 40);
    }
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    b.command(Command::Mode(Mode::Replace));
    b.to(4 * BAR + 10);
    b.command(Command::Record(true));
    // In the first round only the end of each bar is replaced.
    for at in [3400, 3500, BAR + 3500] {
        tap(&mut b, 4 * BAR + at, 72);
    }
    for at in [2 * BAR + 1000, 2 * BAR + 1200, 3 * BAR + 2000] {
        tap(&mut b, 4 * BAR + at, 74);
    }
    b.to(8 * BAR);
    let heard = b.heard(4 * BAR, 8 * BAR);
    let lower: Vec<&str> = heard.split(' ').filter(|word| word.ends_with("+40")).collect();
    assert_eq!(lower, ["17410+40", "21250+40"], "and none in the second round");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_late_note_of_the_open_round_is_heard_when_it_repeats() {
    let mut b = Bench::with_grace(song(1, 1), 120 * MS);
    b.command(Command::Record(true));
    tap(&mut b, 1000, 60);
    // Its repeat is performed ahead by now.
    b.to(BAR + 60);
    b.late_note(300, 40, 64);
    b.to(2 * BAR);
    assert_eq!(b.heard(BAR, 2 * BAR), "4140+64 4180-64 4840+60 4860-60");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_newest_round_silences_the_one_before_from_the_seam_on_however_late_its_first_note_is() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    for (at, key) in [(0, 60), (1000, 62)] {
        tap(&mut b, at, key);
    }
    // Something that silences nothing comes first, so that the round is not empty.
    b.change(BAR + 1000, 1, 50);
    b.change(BAR + 1100, 1, 0);
    // By now what is due at the seam is performed ahead.
    tap(&mut b, 2 * BAR - 140, 64);
    b.to(3 * BAR);
    let heard = b.heard(2 * BAR, 3 * BAR);
    let strikes: Vec<&str> = heard.split(' ').filter(|word| word.contains('+')).collect();
    assert_eq!(strikes, ["11380+64"]);
    b.command(Command::Stop);
    b.check_wire();
}

/// The loudest stroke of a roll decides to which round it belongs (docs/time.md, "Grids"), and a round
/// silences the one before only if notes begin in it.
#[test]
fn a_roll_that_a_loud_stroke_moves_to_the_next_round_leaves_the_round_before_audible() {
    let mut song = song(1, 0);
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
    let mut b = Bench::new(song);
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    tap(&mut b, 0, 40);
    // So that the second round is not empty.
    b.change(BAR + 1000, 1, 50);
    b.change(BAR + 1100, 1, 0);
    // 50 ms at 120 are 96 ticks. Alone, the first stroke would begin in the second round.
    for (before, velocity) in [(130, 50), (60, 100)] {
        b.to(2 * BAR - before);
        let (channel, key) = (Channel::default(), U7::low_bits(38));
        b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
        b.lift(2 * BAR - before + 10, 38);
    }
    b.to(2 * BAR + 200);
    assert!(b.heard(2 * BAR, 2 * BAR + 100).contains("7680+40"), "{}", b.heard(BAR, 3 * BAR));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_round_that_is_over_is_not_shown_as_unfinished_in_silence() {
    let mut b = Bench::with(song(1, 1), Config { lead: 0, silent: true, ..Config::default() });
    b.command(Command::Record(true));
    tap(&mut b, 1000, 60);
    assert_eq!(notes(&unfinished(&mut b)), [(1000, 60)]);
    b.to(BAR + 500);
    let status = b.engine.status(b.now);
    assert_eq!(b.passes().len(), 1);
    assert!(status.unfinished.is_none());
    assert_eq!(status.undo, Some(Turn::Step(Label::NewPass, Some(TrackId(1)), None)));
}

#[test]
fn a_wheel_that_was_moved_before_a_take_began_inside_a_round_is_in_its_first_round_only() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    b.change(500, 1, 50);
    b.to(1500);
    b.command(Command::Record(true));
    let spans = |b: &mut Bench| -> Vec<i64> {
        unfinished(b).lanes().iter().map(|lane| lane.span.from.0).collect()
    };
    tap(&mut b, 2000, 60);
    assert_eq!(spans(&mut b), [1500]);
    tap(&mut b, BAR + 1000, 60);
    assert_eq!(spans(&mut b), []);
}
