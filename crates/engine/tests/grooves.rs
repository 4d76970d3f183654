//! Grooves and human variation in what a song plays: at the seam, in every round, and taken off again.

mod bench;
#[path = "../../song/tests/common/mod.rs"]
mod common;

use bench::{Bench, song};
use chaconne_engine::{Command, Config, Message, Route, View, Wire, perform};
use chaconne_song::{
    Channel, Commit, Edit, Feel, GivenGroove, Groove, GrooveEdit, GrooveId, Human, Lean, Letter,
    Note, Pass, PassEdit, PassId, Placed, Song, StepAt, Stroke, TrackEdit, TrackId, U7,
    merge_layers,
};
use chaconne_time::{MetreMap, NoteValue, Span, Tick};
use common::{Chooser, tape};
use proptest::prelude::*;
use std::sync::Arc;

const BAR: i64 = 3840;
const GROOVE: GrooveId = GrooveId(90);

/// A groove of sixteenths whose steps are so late, in order.
fn groove(timings: &[i64]) -> Groove {
    let lean = |timing| Lean { timing: Tick(timing), ..Lean::default() };
    let steps = (1..).zip(timings).map(|(step, &timing)| (StepAt { bar: 1, step }, lean(timing)));
    let (name, grid, steps) = ("Sam".to_string(), NoteValue::SIXTEENTH, steps.collect());
    Groove { id: GROOVE, name, grid, bars: 1, steps }
}

fn pass(id: u32, length: i64, starts: &[i64]) -> Pass {
    let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(length));
    for &start in starts {
        let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(80), U7::CENTRE);
        let played = Stroke { start: Tick(start), length: Tick(60), key, velocity, release };
        let (id, channel) = (pass.free_note_id(), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    }
    pass
}

/// One track with a groove of these timings, in a section of a bar.
fn grooved(timings: &[i64]) -> Song {
    let mut song = song(1, 1);
    song.grooves.push(Arc::new(groove(timings)));
    Arc::make_mut(&mut song.tracks[0]).feel.groove = Some(GivenGroove::whole(GROOVE));
    song
}

fn set(song: &mut Song, change: impl FnOnce(&mut Feel)) {
    change(&mut Arc::make_mut(&mut song.tracks[0]).feel);
}

/// The starts and velocities of what sounds in some bars.
fn heard(song: &Song, bars: i64, view: View) -> Vec<(i64, u8)> {
    let span = Span::new(Tick::ZERO, Tick(bars * BAR));
    let events = perform(song, &Route::open(Letter::A), span, view).events;
    let press = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::NoteOn { velocity, .. }) => Some((event.at.0, velocity.get())),
        _ => None,
    };
    events.iter().filter_map(press).collect()
}

fn starts(song: &Song, bars: i64) -> Vec<i64> {
    heard(song, bars, View::Corrected).into_iter().map(|(at, _)| at).collect()
}

/// The transport ticks of the presses that a bench has sent.
fn pressed(bench: &Bench) -> Vec<i64> {
    let is_press = |(_, message): &&(Tick, Message)| matches!(message, Message::NoteOn { .. });
    bench.wire.iter().filter(is_press).map(|(at, _)| at.0).collect()
}

#[test]
fn a_note_that_a_groove_moves_before_the_seam_sounds_there_in_every_round() {
    let mut song = grooved(&[-12, 0, 0, 0, 30]);
    song.lay(Letter::A, pass(5, BAR, &[0, 960]));
    // Where the music begins there is nothing before, so the first note sounds at once.
    let expected = [0, 990, BAR - 12, BAR + 990, 2 * BAR - 12, 2 * BAR + 990];
    assert_eq!(starts(&song, 3)[..6], expected);
    let mut bench = Bench::new(song);
    bench.command(Command::Play);
    bench.to(3 * BAR - 100);
    assert_eq!(pressed(&bench), expected);
    bench.command(Command::Stop);
    bench.check_wire();
}

#[test]
fn a_recorded_note_sounds_once_in_each_round_wherever_a_groove_moves_it() {
    let fine = NoteValue::new(64, chaconne_time::NoteKind::Straight).ok();
    let leads = [0, Config::default().lead];
    for (lead, timing, grid) in leads.into_iter().flat_map(|lead| {
        [(-12, None), (-119, None), (40, None), (-119, fine)].map(|(late, grid)| (lead, late, grid))
    }) {
        let mut song = grooved(&[timing]);
        set(&mut song, |feel| feel.grid = grid);
        let mut bench = Bench::with(song, Config { lead, ..Config::default() });
        bench.command(Command::Record(true));
        bench.press(5, 60);
        bench.lift(400, 60);
        bench.to(BAR + 10);
        bench.command(Command::Record(false));
        bench.to(4 * BAR - 1000);
        let all: Vec<i64> = pressed(&bench);
        let rounds: Vec<i64> = all.iter().map(|at| (at + 1920).div_euclid(BAR)).collect();
        assert_eq!(rounds, [1, 2, 3], "{lead} {timing} {grid:?}: {all:?}");
        assert_eq!(all[2] - all[1], BAR, "{lead} {timing} {grid:?}: {all:?}");
        bench.command(Command::Stop);
        bench.check_wire();
    }
}

#[test]
fn a_cover_silences_what_was_meant_for_it_wherever_a_groove_moves_it() {
    // The last step of beat 2 goes 110 later, the first of beat 3 110 earlier.
    let mut song = grooved(&[0, 0, 0, 0, 0, 0, 0, 110, -110]);
    // With a grid of 1/64 half a step is 30 ticks.
    let fine = NoteValue::new(64, chaconne_time::NoteKind::Straight).unwrap();
    set(&mut song, |feel| feel.grid = Some(fine));
    song.lay(Letter::A, pass(5, BAR, &[1680, 1920]));
    assert_eq!(starts(&song, 1), [1790, 1810]);
    let covering = |from, to| {
        let mut song = song.clone();
        let mut cover = pass(6, BAR, &[]);
        cover.covers = vec![Span::new(Tick(from), Tick(to))];
        song.lay(Letter::A, cover);
        starts(&song, 1)
    };
    assert_eq!(covering(1920, BAR), [1790], "what was meant for beat 3 is silent");
    assert_eq!(covering(960, 1920), [1810], "what was meant for beat 2 is silent");
}

#[test]
fn at_the_end_of_the_form_a_late_note_sounds_where_it_was_played_and_before_another_section_late() {
    let mut song = grooved(&[0]);
    let last = StepAt { bar: 1, step: 16 };
    let late = Lean { timing: Tick(120), ..Lean::default() };
    Edit::Groove(GROOVE, GrooveEdit::Step(last, Some(late))).apply(&mut song).unwrap();
    set(&mut song, |feel| {
        feel.groove = Some(GivenGroove { timing: 200, ..GivenGroove::whole(GROOVE) })
    });
    song.lay(Letter::A, pass(5, BAR, &[3600]));
    song.form = "A A".parse().unwrap();
    let route = Route::form(&song).unwrap();
    let span = Span::new(Tick::ZERO, Tick(2 * BAR));
    let events = perform(&song, &route, span, View::Corrected).events;
    let presses: Vec<i64> = events
        .iter()
        .filter(|event| matches!(event.wire, Wire::Message(Message::NoteOn { .. })))
        .map(|event| event.at.0)
        .collect();
    assert_eq!(presses, [BAR, BAR + 3600]);
}

#[test]
fn quantise_comes_first_then_the_groove_and_then_human_variation() {
    let mut song = grooved(&[0, 25, 0]);
    song.lay(Letter::A, pass(5, BAR, &[200, 290]));
    set(&mut song, |feel| *feel = feel.on(NoteValue::SIXTEENTH));
    assert_eq!(starts(&song, 1), [265, 265]);
    set(&mut song, |feel| feel.human = Human { timing: 100, loudness: 0, seed: 2 });
    let with_human = starts(&song, 1);
    assert_eq!(with_human[0], with_human[1], "what is on one step stays together");
    assert_ne!(with_human[0], 265);
    set(&mut song, |feel| feel.groove = None);
    assert_eq!(starts(&song, 1)[0], with_human[0] - 25);
}

#[test]
fn a_roll_keeps_its_spacing_and_its_balance() {
    let mut song = grooved(&[0, 40]);
    let louder = Lean { timing: Tick(40), loudness: 150, ..Lean::default() };
    let edit = GrooveEdit::Step(StepAt { bar: 1, step: 2 }, Some(louder));
    Edit::Groove(GROOVE, edit).apply(&mut song).unwrap();
    let mut roll = pass(5, BAR, &[170, 240]);
    roll.notes_mut().notes[0].played.velocity = U7::low_bits(40);
    song.lay(Letter::A, roll);
    set(&mut song, |feel| feel.rolls = true);
    // At 120 BPM 70 ticks are 36 ms.
    assert_eq!(heard(&song, 1, View::Corrected), [(210, 60), (280, 120)]);
}

#[test]
fn a_velocity_stays_between_1_and_127() {
    let mut song = grooved(&[0, 0]);
    for (step, loudness) in [(1, 0), (2, 1000)] {
        let lean = Lean { loudness, ..Lean::default() };
        let edit = GrooveEdit::Step(StepAt { bar: 1, step }, Some(lean));
        Edit::Groove(GROOVE, edit).apply(&mut song).unwrap();
    }
    song.lay(Letter::A, pass(5, BAR, &[0, 240]));
    assert_eq!(heard(&song, 1, View::Corrected), [(0, 1), (240, 127)]);
}

/// A bar of sixteenths on a track with both.
fn sixteenths() -> Song {
    let mut song = grooved(&[-12, 20, 5, -30, 14]);
    let starts: Vec<i64> = (0..16).map(|step| step * 240).collect();
    song.lay(Letter::A, pass(5, BAR, &starts));
    set(&mut song, |feel| feel.human = Human { timing: 60, loudness: 60, seed: 7 });
    song
}

#[test]
fn every_round_is_like_the_first_and_taking_feel_off_gives_the_part_back() {
    let song = sixteenths();
    let all = heard(&song, 5, View::Corrected);
    let round = |number: i64| -> Vec<(i64, u8)> {
        let first = number * BAR - 1000;
        let mine = all.iter().filter(|(at, _)| (first..first + BAR).contains(at));
        mine.map(|&(at, velocity)| (at - number * BAR, velocity)).collect()
    };
    assert_eq!(round(1).len(), 16);
    assert!((2..=4).all(|number| round(number) == round(1)));
    assert_eq!(all, heard(&song, 5, View::Corrected), "the same song gives the same bytes");
    let straight: Vec<(i64, u8)> = (0..16).map(|step| (step * 240, 80)).collect();
    let first_bar = |song: &Song, view| heard(song, 1, view);
    assert_eq!(first_bar(&song, View::Played), straight);
    assert_eq!(first_bar(&song, View::Straight), straight);
    let mut off = song.clone();
    for edit in [TrackEdit::Groove(None), TrackEdit::Human(Human::NONE)] {
        Edit::Track(TrackId(1), edit).apply(&mut off).unwrap();
    }
    assert_eq!(first_bar(&off, View::Corrected), straight);
    assert_eq!(off.passes, song.passes, "what was played never changes");
}

#[test]
fn a_pass_with_a_feel_of_its_own_has_its_own_groove() {
    let mut song = sixteenths();
    let feel = Feel {
        groove: Some(GivenGroove { timing: 50, ..GivenGroove::whole(GROOVE) }),
        ..Feel::off(false)
    };
    Edit::Pass(PassId(5), PassEdit::Feel(Some(feel))).apply(&mut song).unwrap();
    assert_eq!(starts(&song, 1)[..5], [0, 250, 483, 705, 967]);
}

#[test]
fn a_changed_groove_is_heard_at_once() {
    let mut bench = Bench::new(sixteenths());
    bench.command(Command::Play);
    bench.to(BAR + 500);
    let lean = Lean { timing: Tick(77), ..Lean::default() };
    let edit = GrooveEdit::Step(StepAt { bar: 1, step: 5 }, Some(lean));
    assert!(bench.command(Command::Edit(Commit::of(Edit::Groove(GROOVE, edit)))));
    bench.to(2 * BAR);
    let changed = |all: Vec<i64>| -> Vec<i64> {
        all.into_iter().filter(|at| (BAR + 510..2 * BAR - 100).contains(at)).collect()
    };
    let (sent, expected) = (changed(pressed(&bench)), starts(bench.engine.song(), 3));
    assert!(sent.contains(&4880), "{sent:?}");
    assert_eq!(sent, changed(expected));
}

#[test]
fn layers_with_a_groove_are_merged_only_if_they_are_equally_long() {
    let mut song = grooved(&[-12, 20]);
    Arc::make_mut(&mut song.sections[0]).metre =
        MetreMap::new(2, chaconne_time::Metre::common()).unwrap();
    song.lay(Letter::A, pass(5, BAR, &[0, 240]));
    song.lay(Letter::A, pass(6, 2 * BAR, &[480]));
    song.lay(Letter::A, pass(7, 2 * BAR, &[720, BAR]));
    let before = starts(&song, 4);
    let refused = merge_layers(&song, Letter::A, PassId(6), PassId(9)).unwrap_err();
    let sentence =
        "the layers differ in length and have a groove or human variation: take those off first";
    assert_eq!(refused.to_string(), sentence);
    merge_layers(&song, Letter::A, PassId(7), PassId(9)).unwrap().apply(&mut song).unwrap();
    assert_eq!(starts(&song, 4), before);
    set(&mut song, |feel| feel.groove = None);
    assert!(merge_layers(&song, Letter::A, PassId(9), PassId(10)).is_ok());
}

/// A song whose feels have been changed, those of tracks and those of passes.
fn with_feels(song: &Song, change: impl Fn(&mut Feel)) -> Song {
    let mut song = song.clone();
    song.tracks.iter_mut().for_each(|track| change(&mut Arc::make_mut(track).feel));
    let passes = song.passes.values_mut();
    passes.filter_map(|pass| Arc::make_mut(pass).feel.as_mut()).for_each(change);
    song
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// Random songs: a groove given at 0 %, and no human variation, is no groove; and as played or straight
    /// for print, a song sounds as it would without both.
    #[test]
    fn at_0_percent_and_in_other_views_everything_is_where_it_would_be_without(tape in tape(1500)) {
        let song = Chooser::new(tape).song();
        let off = with_feels(&song, |feel| (feel.groove, feel.human) = (None, Human::NONE));
        let zero = with_feels(&song, |feel| {
            feel.human = Human { timing: 0, loudness: 0, ..feel.human };
            let given = feel.groove.as_mut();
            given.into_iter().for_each(|given| (given.timing, given.loudness) = (0, 0));
        });
        let letter = song.sections[0].letter;
        let played = |song: &Song, view| {
            perform(song, &Route::open(letter), Span::new(Tick::ZERO, Tick(20_000)), view).events
        };
        prop_assert_eq!(played(&zero, View::Corrected), played(&off, View::Corrected));
        for view in [View::Played, View::Straight] {
            prop_assert_eq!(played(&song, view), played(&off, view));
        }
    }

    /// Whatever feel does with timing and loudness, each note sounds as often as without it.
    #[test]
    fn no_note_is_lost_or_doubled(tape in tape(1500)) {
        let song = with_feels(&Chooser::new(tape).song(), |feel| feel.rolls = false);
        let off = with_feels(&song, |feel| (feel.groove, feel.human) = (None, Human::NONE));
        let letter = song.sections[0].letter;
        let route = Route::rounds(&song, letter, 3).unwrap();
        let struck = |song: &Song| {
            let events = perform(song, &route, route.span(), View::Corrected).events;
            let voices = events.into_iter().filter_map(|event| event.voice);
            let mut voices: Vec<_> = voices.map(|voice| (voice.pass, voice.note, voice.cycle)).collect();
            voices.sort();
            voices
        };
        prop_assert_eq!(struck(&song), struck(&off));
    }
}
