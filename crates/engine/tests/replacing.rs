//! Replace while it is played: what a note covers is silent at once, even if it was performed ahead.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Message, Mode};
use chaconne_song::{
    Channel, Letter, Note, NoteId, Pass, PassId, Placed, Section, Song, Stroke, Track, TrackId, U7,
};
use chaconne_time::{Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// Lays a pass of key 40 on the first track: its length, and the start of each note.
fn lay(song: &mut Song, length: i64, starts: &[i64]) {
    let mut pass = Pass::empty(PassId(10), song.tracks[0].id, Tick(length));
    for (id, &start) in (1..).zip(starts) {
        let (key, velocity, release) = (U7::low_bits(40), U7::low_bits(90), U7::CENTRE);
        let (start, length) = (Tick(start), Tick(100));
        let played = Stroke { start, length, key, velocity, release };
        let (id, channel) = (NoteId(id), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    }
    song.lay(Letter::A, pass);
}

/// A bench that replaces from the top on.
fn replacing(song: Song) -> Bench {
    let mut b = Bench::new(song);
    b.command(Command::Mode(Mode::Replace));
    b.command(Command::Record(true));
    b
}

fn tap(b: &mut Bench, at: i64) {
    b.press(at, 72);
    b.lift(at + 20, 72);
}

/// Where the lower pass struck.
fn struck(b: &Bench, from: i64, to: i64) -> Vec<i64> {
    let heard = b.heard(from, to);
    let strikes = heard.split(' ').filter_map(|word| word.strip_suffix("+40"));
    strikes.map(|at| at.parse().unwrap()).collect()
}

#[test]
fn the_first_note_of_each_bar_silences_the_rest_of_that_bar_at_once() {
    let mut song = song(2, 1);
    // 50 ticks after each beat and each half beat.
    let starts: Vec<i64> = (0..16).map(|eighth| eighth * 480 + 50).collect();
    lay(&mut song, 2 * BAR, &starts);
    let mut b = replacing(song);
    for at in [3400, BAR + 2850] {
        b.press(at, 72);
        b.lift(at + 400, 72);
    }
    b.to(2 * BAR);
    // Those within 192 ticks (100 ms) after each press were performed ahead.
    let rest = (0..16).filter(|eighth| ![7, 14, 15].contains(eighth));
    assert_eq!(struck(&b, 0, 2 * BAR), rest.map(|eighth| eighth * 480 + 50).collect::<Vec<_>>());
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_note_that_is_early_for_a_bar_replaces_that_bar_from_its_first_beat_on() {
    let mut song = song(2, 1);
    lay(&mut song, 2 * BAR, &[0, BAR, BAR + 960]);
    let mut b = replacing(song);
    tap(&mut b, 1000);
    tap(&mut b, 1500);
    // Half a sixteenth, 120 ticks, before a bar it counts for that bar.
    tap(&mut b, BAR - 60);
    b.to(2 * BAR - 500);
    assert_eq!(struck(&b, 0, 2 * BAR), [0]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn bars_are_counted_from_the_start_of_the_recorded_round() {
    // Passes of five beats, so the second one begins on beat two of the second bar.
    let length = 5 * 960;
    let mut song = song(4, 1);
    Arc::make_mut(&mut song.tracks[0]).pass_length = Some(Tick(length));
    lay(&mut song, length, &[3980]);
    let mut b = replacing(song);
    b.to(length + 1500);
    tap(&mut b, length + 2000);
    tap(&mut b, length + 2500);
    // Its second bar has a note of its own.
    tap(&mut b, length + 3900);
    b.to(2 * length - 200);
    assert_eq!(struck(&b, 0, 2 * length - 200), [3980]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn after_an_undo_the_first_note_of_the_round_silences_at_once_again() {
    let mut song = song(1, 1);
    let starts: Vec<i64> = (0..8).map(|eighth| eighth * 480 + 50).collect();
    lay(&mut song, BAR, &starts);
    let mut b = replacing(song);
    tap(&mut b, 500);
    b.to(700);
    assert!(b.command(Command::Undo));
    tap(&mut b, 2400);
    b.to(BAR - 10);
    assert_eq!(struck(&b, 0, BAR), [50, 1010, 1490, 1970]);
    b.command(Command::Stop);
    b.check_wire();
}

/// Strokes on one drum less than 50 ms apart are a roll, and the loudest decides to which round all of
/// them belong (docs/time.md, "Grids"). 50 ms at 120 are 96 ticks.
#[test]
fn a_roll_that_a_loud_stroke_moves_to_the_next_round_replaces_the_top_of_that_round() {
    let mut song = song(1, 0);
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
    lay(&mut song, BAR, &[0]);
    let mut b = replacing(song);
    tap(&mut b, 1000);
    for (before, velocity) in [(150, 60), (110, 50), (80, 100)] {
        b.to(BAR - before);
        let (channel, key) = (Channel::default(), U7::low_bits(38));
        b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
        b.lift(BAR - before + 20, 38);
    }
    b.to(BAR + 500);
    assert_eq!(struck(&b, 1, BAR + 500), [], "it was performed ahead before the loud stroke came");
    b.command(Command::Stop);
    b.check_wire();
}

/// The lower pass strikes 45 ticks after the top: after the loud stroke, and before the round is closed.
#[test]
fn a_roll_that_a_loud_stroke_after_the_seam_moves_there_replaces_at_once() {
    let mut song = song(1, 0);
    let tempo = Tempo::parse_bpm("200").unwrap();
    let metre = song.sections[0].metre.clone();
    song.sections = vec![Arc::new(Section::new(Letter::A, metre, tempo))];
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
    lay(&mut song, BAR, &[45]);
    // 20 ms at 200 are 64 ticks, and the 50 ms of a roll are 160.
    let mut b = Bench::with_grace(song, 20 * MS);
    b.command(Command::Mode(Mode::Replace));
    b.command(Command::Record(true));
    for (at, velocity) in [(BAR - 130, 50), (BAR + 10, 40), (BAR + 20, 100)] {
        b.to(at);
        let (channel, key) = (Channel::default(), U7::low_bits(38));
        b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
        b.lift(at + 5, 38);
    }
    b.to(BAR + 500);
    assert_eq!(struck(&b, 0, BAR + 500), [45]);
    b.command(Command::Stop);
    b.check_wire();
}

/// Rule 7: a punch silences from record on, not from the first note.
#[test]
fn a_punch_with_a_count_in_silences_from_bar_one() {
    let mut song = song(1, 1);
    lay(&mut song, BAR, &[0, 960, 1920]);
    let mut b = Bench::new(song);
    b.command(Command::CountIn(1));
    b.command(Command::Mode(Mode::Punch));
    b.command(Command::Record(true));
    tap(&mut b, 1500);
    b.to(2 * BAR - 100);
    assert_eq!(struck(&b, -BAR, 2 * BAR - 100), []);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_punch_that_ends_in_its_count_in_silences_nothing() {
    let mut song = song(1, 1);
    lay(&mut song, BAR, &[0, 960]);
    let mut b = Bench::new(song);
    b.command(Command::CountIn(1));
    b.command(Command::Mode(Mode::Punch));
    b.command(Command::Record(true));
    // The first beat is performed ahead.
    b.to(-60);
    b.command(Command::Record(false));
    b.to(BAR - 10);
    assert_eq!(struck(&b, -BAR, BAR), [0, 960]);
    assert_eq!(b.passes().len(), 1);
    b.command(Command::Stop);
    b.check_wire();
}

/// In the second round the whole bar is silent, though the first is covered only from record on.
#[test]
fn a_punch_that_began_inside_a_round_silences_the_next_one_from_its_first_tick() {
    let mut song = song(1, 1);
    lay(&mut song, BAR, &[0, 960, 1920]);
    let mut b = Bench::new(song);
    b.command(Command::Mode(Mode::Punch));
    b.command(Command::Play);
    b.to(1500);
    b.command(Command::Record(true));
    b.to(2 * BAR - 100);
    assert_eq!(struck(&b, 0, 2 * BAR - 100), [0, 960]);
    b.command(Command::Stop);
    b.check_wire();
}

/// The loudest stroke of a roll decides whether it belongs to the first round or to none.
#[test]
fn a_roll_at_the_end_of_the_count_in_that_a_loud_stroke_moves_to_bar_one_replaces_bar_one() {
    let mut song = song(1, 0);
    song.tracks.push(Arc::new(Track::drums(TrackId(1), "Kit")));
    lay(&mut song, BAR, &[0]);
    let mut b = Bench::new(song);
    b.command(Command::CountIn(1));
    b.command(Command::Mode(Mode::Replace));
    b.command(Command::Record(true));
    // The first stroke is too early for bar one, and louder than the second.
    for (at, velocity) in [(-150, 50), (-110, 40), (-100, 100)] {
        if at == -110 {
            // So that the round is not empty.
            b.change(-118, 1, 50);
        }
        b.to(at);
        let (channel, key) = (Channel::default(), U7::low_bits(38));
        b.input(Message::NoteOn { channel, key, velocity: U7::low_bits(velocity) });
        b.lift(at + 5, 38);
    }
    b.to(500);
    assert_eq!(struck(&b, -BAR, 500), []);
    b.command(Command::Stop);
    b.check_wire();
}
