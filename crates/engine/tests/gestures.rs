//! How pedals and wheels are recorded, on the virtual-time bench: every value from the first move until
//! they are at rest, and nothing is cut at a seam.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Message, Rounds, When};
use chaconne_song::{Channel, Commit, Edit, Lane, Letter, Section, SectionEdit, U7};
use chaconne_time::{Metre, MetreChange, MetreMap, Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
const WHEEL: u8 = 1;
const SUSTAIN: u8 = 64;

fn recording(bars: u32) -> Bench {
    let mut bench = Bench::new(song(bars, 1));
    bench.command(Command::Record(true));
    bench
}

/// Each lane of each pass: its span and its moves.
type Spelt = ((i64, i64), Vec<(i64, u16)>);

fn lanes(bench: &Bench) -> Vec<Vec<Spelt>> {
    let spell = |lane: &Lane| -> Spelt {
        let points = lane.points.iter().map(|point| (point.at.0, point.value.get())).collect();
        ((lane.span.from.0, lane.span.to.0), points)
    };
    let song = bench.engine.song();
    let passes = song.passes_in(&song.sections[0]);
    passes.iter().map(|pass| pass.lanes().iter().map(spell).collect()).collect()
}

/// Moves a controller: the tick and the value of each move.
fn play(bench: &mut Bench, controller: u8, moves: &[(i64, u8)]) {
    for &(at, value) in moves {
        bench.change(at, controller, value);
    }
}

#[test]
fn every_move_of_a_pedal_that_never_reaches_zero_is_recorded() {
    let mut b = recording(2);
    // It rests at 9. Down from 64 up: MIDI 1.0, "Controller Numbers".
    let moves = [(100, 40), (120, 90), (1000, 127), (1900, 30), (1920, 9), (2500, 80), (2900, 9)];
    play(&mut b, SUSTAIN, &moves);
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    let moves = moves.map(|(at, value)| (at, u16::from(value))).to_vec();
    // The gesture ends when the pedal has stood still, and up, for a bar.
    assert_eq!(lanes(&b), [vec![((100, 2900 + BAR), moves)]]);
    b.to(6 * BAR);
    let once = "100c64=40 120c64=90 1000c64=127 1900c64=30 1920c64=9 2500c64=80 2900c64=9";
    assert_eq!(b.heard(2 * BAR, 6 * BAR).matches("c64=80").count(), 2, "{once}");
    assert_eq!(b.heard(2 * BAR, 2 * BAR + 200), "7780c64=40 7800c64=90");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn each_gesture_of_a_wheel_is_a_lane_that_ends_when_the_wheel_is_at_rest() {
    let mut b = recording(2);
    play(&mut b, WHEEL, &[(200, 30), (300, 60), (400, 0), (3000, 90), (3100, 0)]);
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    let first = ((200, 401), vec![(200, 30), (300, 60), (400, 0)]);
    assert_eq!(lanes(&b), [vec![first, ((3000, 3101), vec![(3000, 90), (3100, 0)])]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_gesture_over_the_seam_is_complete_in_the_pass_in_which_it_began() {
    let mut b = recording(1);
    play(&mut b, SUSTAIN, &[(3000, 127)]);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    // The pedal is held for longer than its pass, and its lane is not cut.
    play(&mut b, SUSTAIN, &[(3 * BAR, 0)]);
    b.to(3 * BAR + 20);
    assert_eq!(lanes(&b), [vec![((3000, 3 * BAR + 1), vec![(3000, 127), (3 * BAR, 0)])]]);
    b.command(Command::Undo);
    assert_eq!(lanes(&b), Vec::<Vec<Spelt>>::new(), "it is one step of undo");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_take_starts_with_the_pedals_and_wheels_that_were_away_from_rest_before_it() {
    let mut b = Bench::new(song(1, 1));
    // One is moved while stopped, the other in the count-in.
    play(&mut b, SUSTAIN, &[(0, 127)]);
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    play(&mut b, WHEEL, &[(-2000, 50)]);
    play(&mut b, SUSTAIN, &[(1000, 0)]);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    let wheel = ((0, BAR), vec![(0, 50)]);
    let pedal = ((0, 1001), vec![(0, 127), (1000, 0)]);
    assert_eq!(lanes(&b), [vec![wheel, pedal]]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn moving_a_controller_that_is_at_rest_to_rest_makes_no_pass() {
    let mut b = recording(1);
    play(&mut b, SUSTAIN, &[(100, 0)]);
    play(&mut b, WHEEL, &[(200, 0)]);
    b.to(2 * BAR + 10);
    assert_eq!(lanes(&b), Vec::<Vec<Spelt>>::new());
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_newest_round_replaces_only_if_notes_begin_in_it() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Rounds(Rounds::Newest));
    b.command(Command::Record(true));
    b.press(10, 60);
    b.lift(100, 60);
    play(&mut b, WHEEL, &[(BAR + 500, 9), (BAR + 600, 0)]);
    // Early for the third bar.
    b.press(2 * BAR - 50, 62);
    b.lift(2 * BAR + 50, 62);
    b.to(3 * BAR + 20);
    let mutes = |b: &Bench| -> Vec<bool> {
        b.engine.song().sections[0].layers.iter().map(|layer| layer.mute).collect()
    };
    assert_eq!(mutes(&b), [false, false, false], "a wheel and an early note replace nothing");
    b.press(3 * BAR + 100, 64);
    b.lift(3 * BAR + 200, 64);
    b.to(4 * BAR + 20);
    assert_eq!(mutes(&b), [true, true, true, false], "a note that begins in a round does");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_controller_that_rested_before_a_take_or_has_no_rest_does_not_begin_it() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Play);
    play(&mut b, WHEEL, &[(100, 50), (300, 0)]);
    // Volume has no known rest: it keeps its setting, and the take has none of it.
    play(&mut b, 7, &[(400, 90)]);
    b.to(BAR - 1000);
    b.command(Command::Record(true));
    b.press(BAR - 500, 60);
    b.lift(BAR - 400, 60);
    b.to(2 * BAR + 1000);
    b.command(Command::Stop);
    assert_eq!((b.passes(), lanes(&b)), (vec![vec![(BAR - 500, 100, 60)]], vec![vec![]]));
    b.check_wire();
}

#[test]
fn a_take_in_a_later_round_starts_with_the_wheel_where_it_is_then() {
    // Pressed within a beat after the seam, record counts as pressed at the seam (docs/time.md).
    for (pressed, begin) in [(2 * BAR - 1000, BAR - 1000), (BAR + 100, 0)] {
        let mut b = Bench::new(song(1, 1));
        b.command(Command::Play);
        play(&mut b, WHEEL, &[(500, 50), (BAR - 400, 20)]);
        b.to(pressed);
        b.command(Command::Record(true));
        play(&mut b, WHEEL, &[(2 * BAR - 500, 0)]);
        b.to(3 * BAR + 1000);
        b.command(Command::Stop);
        let moves = vec![(begin, 20), (BAR - 500, 0)];
        assert_eq!(lanes(&b), [vec![((begin, BAR - 499), moves)]]);
        b.check_wire();
    }
}

#[test]
fn a_pedal_held_from_a_later_round_on_lasts_until_it_would_be_pressed_again() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    play(&mut b, SUSTAIN, &[(BAR + 3000, 127)]);
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    let held = ((3000, 3000 + BAR), vec![(3000, 127)]);
    assert_eq!(lanes(&b), [vec![], vec![held]]);
}

#[test]
fn a_pedal_of_the_song_goes_down_again_after_a_panic() {
    let mut b = recording(2);
    play(&mut b, SUSTAIN, &[(960, 127), (7000, 0)]);
    b.to(2 * BAR + 100);
    b.command(Command::Record(false));
    b.to(2 * BAR + 1500);
    assert!(b.command(Command::Panic));
    // It comes up at once (the scheduler's doing), and goes down again a look-ahead later.
    b.to(2 * BAR + 3000);
    let again = b.heard(2 * BAR + 1500, 2 * BAR + 3000);
    assert!(again.ends_with("c64=127"), "{again:?}");
    b.to(4 * BAR);
    assert_eq!(b.heard(2 * BAR + 3000, 4 * BAR), format!("{}c64=0", 2 * BAR + 7000));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_controller_without_a_rest_begins_each_round_with_its_first_move() {
    let mut b = recording(1);
    play(&mut b, 7, &[(1000, 90), (2000, 50)]);
    b.to(BAR + 1200);
    b.command(Command::Record(false));
    b.to(3 * BAR);
    // docs/time.md, "Controllers": volume has no known rest.
    assert_eq!(b.heard(2 * BAR, 3 * BAR), "7680c7=90 9680c7=50");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_gesture_that_goes_on_after_its_seam_keeps_each_move_and_the_last_of_several_at_one_tick() {
    let mut b = recording(1);
    b.press(100, 60);
    b.lift(200, 60);
    play(&mut b, WHEEL, &[(BAR + 2000, 20), (BAR + 3000, 30)]);
    let late = b.engine.ns_at(Tick(BAR + 2990)).unwrap();
    b.to(2 * BAR + 100);
    assert_eq!(lanes(&b)[1][0].1, [(2000, 20), (3000, 30)]);
    // One that was played before the last one known counts there.
    let (controller, value) = (U7::low_bits(WHEEL), U7::low_bits(40));
    b.late_input(late, Message::Change { channel: Channel::default(), controller, value });
    let after = [(500, 50), (510, 60), (510, 65), (520, 70), (600, 0)];
    play(&mut b, WHEEL, &after.map(|(at, value)| (2 * BAR + at, value)));
    b.to(3 * BAR + 10);
    let moves = [(2000, 20), (3000, 40), (BAR + 500, 50), (BAR + 510, 65), (BAR + 520, 70)];
    let moves = [&moves[..], &[(BAR + 600, 0)]].concat();
    assert_eq!(lanes(&b), [vec![], vec![((2000, BAR + 601), moves)]]);
}

#[test]
fn a_wheel_stands_still_after_a_bar_of_the_metre_where_it_is() {
    // B has a bar of four quarters, then one of three.
    let mut song = song(1, 1);
    let change = |bar, count| MetreChange { bar, metre: Metre::new(count, 4).unwrap() };
    let metre = MetreMap::with_changes(2, vec![change(1, 4), change(2, 3)]).unwrap();
    let b: Letter = "B".parse().unwrap();
    song.sections.push(Arc::new(Section::new(b, metre, Tempo::DEFAULT)));
    let mut bench = Bench::new(song);
    bench.command(Command::Play);
    bench.command(Command::Jump(b, When::Seam));
    bench.to(BAR - 500);
    bench.command(Command::Record(true));
    play(&mut bench, WHEEL, &[(BAR + 2900, 50), (BAR + 5800, 60), (BAR + 6500, 0)]);
    bench.to(BAR + BAR + 2880 + 2000);
    bench.command(Command::Stop);
    let song = bench.engine.song();
    let spans: Vec<(i64, i64)> = song
        .passes_in(song.section(b).unwrap())
        .iter()
        .flat_map(|pass| pass.lanes())
        .map(|lane| (lane.span.from.0, lane.span.to.0))
        .collect();
    // The first is left where it was when the next one begins.
    assert_eq!(spans.len(), 2, "{spans:?}");
    assert_eq!(spans[1], (5800, 6501));
}

#[test]
fn a_pedal_goes_on_in_its_pass_when_a_later_pass_is_undone() {
    let mut b = recording(1);
    play(&mut b, SUSTAIN, &[(3000, 127)]);
    b.press(BAR + 1000, 60);
    b.lift(BAR + 1100, 60);
    b.to(2 * BAR + 100);
    assert!(b.command(Command::Undo));
    play(&mut b, SUSTAIN, &[(2 * BAR + 500, 0)]);
    b.to(3 * BAR + 10);
    let moves = vec![(3000, 127), (2 * BAR + 500, 0)];
    assert_eq!(lanes(&b), [vec![((3000, 2 * BAR + 501), moves)]]);
}

/// The pass of the wheel begins 41 ticks before the section that repeats it, and is longer than that
/// section. So at the seam the song takes the wheel to where the player had it 41 ticks before.
#[test]
fn a_gesture_that_goes_on_is_known_at_the_seam_of_a_section_entered_just_after_it_began() {
    let mut b = recording(2);
    b.change(20, WHEEL, 1);
    b.to(40);
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let edit = Edit::Section(Letter::A, SectionEdit::Metre(metre));
    assert!(b.command(Command::Edit(Commit::of(edit))));
    let top = b.engine.entries().last().unwrap().at.0;
    assert!((41..60).contains(&top), "{top}");
    for step in 1..=97 {
        b.change(20 + 40 * step, WHEEL, 1 + step as u8);
    }
    b.to(BAR + 200);
    // The last move by then was at 3820.
    let seam = top + BAR;
    assert_eq!(b.heard(seam, seam + 1), format!("{seam}c1=96"));
    b.command(Command::Stop);
    b.check_wire();
}
