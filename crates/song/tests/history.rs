//! The history: undoing and redoing steps, runs and amendments restores the song's exact text.

mod common;

use chaconne_song::*;
use chaconne_time::*;
use common::edits::edit;
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::sync::Arc;

/// One or two random edits under a label.
fn commit(chooser: &mut Chooser, song: &Song) -> Commit {
    let edits = (0..=chooser.within(0, 1)).map(|_| edit(chooser, song)).collect::<Vec<_>>();
    Commit::new(Label::of(&edits[0]), edits)
}

/// How many commits were made as runs, and how many times all of them joined the step before.
#[derive(Default)]
struct Tally {
    runs: usize,
    joined: usize,
}

fn there_and_back(tape: Vec<u64>, tally: &mut Tally) {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let (start, mut history) = (song.clone(), History::default());
    for _ in 0..20 {
        let commit = commit(&mut chooser, &song);
        let steps = history.undo_steps().len();
        // Holding a key repeats the same commit as a run.
        for _ in 0..chooser.within(1, 3) {
            if history.run(&mut song, commit.clone()).is_ok() {
                tally.runs += 1;
            }
        }
        tally.joined += usize::from(history.undo_steps().len() == steps);
        match chooser.within(0, 5) {
            0 => history.end_run(),
            1 => drop(history.undo(&mut song).unwrap()),
            2 => drop(history.redo(&mut song).unwrap()),
            _ => {}
        }
    }
    let end = song.clone();
    let written = history.clone();
    while history.undo(&mut song).unwrap().is_some() {}
    assert_eq!(song, start);
    assert_eq!(text::write(&song), text::write(&start));
    for _ in written.undo_steps() {
        assert!(history.redo(&mut song).unwrap().is_some());
    }
    assert_eq!(song, end);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn undoing_and_redoing_everything_restores_the_song(tape in tape(2000)) {
        there_and_back(tape, &mut Tally::default());
    }
}

#[test]
fn some_random_runs_join_the_step_before() {
    let mut tally = Tally::default();
    (1..30).for_each(|seed| there_and_back(steady_tape(seed, 2000), &mut tally));
    assert!(tally.runs > 100 && tally.joined > 20, "{} {}", tally.runs, tally.joined);
}

/// Random commits, runs and trials; what is tried leaves one step or none.
fn tried_and_undone(tape: Vec<u64>) -> usize {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let (start, mut history) = (song.clone(), History::default());
    let mut trials = 0;
    for _ in 0..20 {
        match chooser.within(0, 4) {
            0 => drop(history.undo(&mut song).unwrap()),
            1 => {
                let commit = commit(&mut chooser, &song);
                drop(history.step(&mut song, commit));
            }
            _ => {
                let (base, steps) = (song.clone(), history.undo_steps().len());
                for _ in 0..chooser.within(1, 4) {
                    let known = song.clone();
                    // Always of the song before the trial, which the one before it has changed.
                    let made = history.attempt(&mut song, commit(&mut chooser, &base));
                    trials += usize::from(made.is_ok());
                    assert!(made.is_ok() || song == known);
                    assert!(history.undo_steps().len() <= steps + 1);
                }
                if chooser.within(0, 1) == 0 {
                    history.withdraw(&mut song).unwrap();
                    assert_eq!((&song, history.undo_steps().len()), (&base, steps));
                }
                history.keep_tried();
            }
        }
    }
    while history.undo(&mut song).unwrap().is_some() {}
    assert_eq!(text::write(&song), text::write(&start));
    trials
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn trying_leaves_one_step_or_none(tape in tape(3000)) {
        tried_and_undone(tape);
    }
}

#[test]
fn random_trials_are_made() {
    let trials: usize = (1..10).map(|seed| tried_and_undone(steady_tape(seed, 3000))).sum();
    assert!(trials > 50, "{trials}");
}

#[test]
fn a_trial_is_replaced_where_it_is_and_ends_with_an_undo() {
    let mut song = song();
    let title = |title: &str| Commit::of(Edit::Title(title.into()));
    let mut history = History::default();
    history.attempt(&mut song, title("one")).unwrap();
    history.attempt(&mut song, title("two")).unwrap();
    assert_eq!((song.title.as_str(), history.undo_steps().len()), ("two", 1));
    history.undo(&mut song).unwrap();
    assert_eq!(song.title, "Plain");
    history.attempt(&mut song, title("three")).unwrap();
    history.keep_tried();
    history.attempt(&mut song, title("four")).unwrap();
    assert_eq!(history.undo_steps().len(), 2);
    assert_eq!(history.withdraw(&mut song).unwrap(), Some(Label::Title));
    assert_eq!((song.title.as_str(), history.undo_steps().len()), ("three", 1));
    assert_eq!(history.withdraw(&mut song).unwrap(), None);
}

#[test]
fn a_step_beside_a_trial_leaves_it_to_be_tried_otherwise_or_withdrawn() {
    let mut song = song();
    let mut history = History::default();
    history.attempt(&mut song, Commit::of(Edit::Title("one".into()))).unwrap();
    let pass = Arc::new(Pass::empty(PassId(7), TrackId(1), Tick(3840)));
    history.step_beside(&mut song, Commit::of(Edit::lay(Letter::A, 0, pass))).unwrap();
    history.attempt(&mut song, Commit::of(Edit::Title("two".into()))).unwrap();
    let labels: Vec<Label> = history.undo_steps().iter().map(|step| step.label).collect();
    assert_eq!(labels, [Label::Title, Label::NewPass]);
    history.withdraw(&mut song).unwrap();
    assert_eq!((song.title.as_str(), song.passes.len()), ("Plain", 1));
    assert_eq!(history.undo(&mut song).unwrap(), Some(Label::NewPass));
}

#[test]
fn the_newest_two_steps_are_joined_if_they_set_the_same() {
    let mut song = song();
    let mut history = History::default();
    let title = |title: &str| Commit::of(Edit::Title(title.into()));
    history.step(&mut song, title("one")).unwrap();
    assert!(!history.join_newest());
    history.step(&mut song, title("two")).unwrap();
    assert!(history.join_newest());
    history.run(&mut song, title("three")).unwrap();
    assert_eq!(history.undo_steps().len(), 1);
    history.step(&mut song, Commit::of(Edit::Key(None))).unwrap();
    assert!(!history.join_newest());
    history.undo(&mut song).unwrap();
    history.undo(&mut song).unwrap();
    assert_eq!(song.title, "Plain");
    assert_eq!(history.redo(&mut song).unwrap(), Some(Label::Title));
    assert_eq!(song.title, "three");
}

/// A point that a held key has added and then moves is one step.
#[test]
fn values_of_a_point_join_the_step_that_added_it() {
    let mut song = song();
    let mut history = History::default();
    let pass = Arc::new(Pass::empty(PassId(7), TrackId(1), Tick(3840)));
    history.step(&mut song, Commit::of(Edit::lay(Letter::A, 0, pass))).unwrap();
    let bend = Curve { channel: Channel::default(), control: Control::Bend };
    let add = |history: &mut History, song: &mut Song, at| {
        let made = bend.set(song.pass(PassId(7)).unwrap(), Tick(at), U14::CENTRE).unwrap();
        history.step(song, made).unwrap();
    };
    let raise = |history: &mut History, song: &mut Song, at| {
        let here = Span::new(Tick(at), Tick(at + 1));
        let made = bend.shift(song.pass(PassId(7)).unwrap(), here, 64).unwrap();
        history.run(song, made).unwrap();
        history.undo_steps().len()
    };
    // The first point begins a gesture, the next goes into it.
    add(&mut history, &mut song, 0);
    assert_eq!(raise(&mut history, &mut song, 0), 2);
    add(&mut history, &mut song, 480);
    assert_eq!(raise(&mut history, &mut song, 480), 3);
    assert_eq!(raise(&mut history, &mut song, 0), 4);
    history.undo(&mut song).unwrap();
    history.undo(&mut song).unwrap();
    assert_eq!(Curve::all_of(song.pass(PassId(7)).unwrap()), [bend]);
    history.redo(&mut song).unwrap();
    let whole = Span::new(Tick(0), Tick(3840));
    let points = bend.points_in(song.pass(PassId(7)).unwrap(), whole);
    let values: Vec<u16> = points.iter().map(|(_, point)| point.value.get()).collect();
    assert_eq!(values, [8192 + 64, 8192 + 64]);
}

fn song() -> Song {
    let metre = MetreMap::new(4, Metre::common()).unwrap();
    let mut song = Song::new("Plain", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Bass")));
    song
}

fn note(id: u32) -> Note {
    let played = Stroke {
        start: Tick(i64::from(id) * 100),
        length: Tick(3840),
        key: U7::CENTRE,
        velocity: U7::CENTRE,
        release: U7::CENTRE,
    };
    Note { id: NoteId(id), channel: Channel::default(), played, placed: Placed::UNCHANGED }
}

fn lay(id: u32) -> Commit {
    let mut pass = Pass::empty(PassId(id), TrackId(1), Tick(3840));
    pass.notes_mut().notes = vec![note(1), note(2)];
    Commit::of(Edit::lay(Letter::A, 0, pass))
}

fn released(id: u32) -> Edit {
    let release = Release { note: NoteId(1), length: Tick(50), release: U7::CENTRE };
    Edit::Pass(PassId(id), PassEdit::Played(vec![release]))
}

fn length(song: &Song, id: u32) -> i64 {
    song.pass(PassId(id)).unwrap().notes()[0].played.length.0
}

#[test]
fn an_amendment_is_undone_and_redone_with_the_step_that_laid_the_pass() {
    let (mut song, mut history) = (song(), History::default());
    let before = song.clone();
    history.step(&mut song, lay(2)).unwrap();
    history.step(&mut song, Commit::of(Edit::Title("Other".into()))).unwrap();
    history.amend(&mut song, PassId(2), vec![released(2)]).unwrap();
    assert_eq!(history.undo_steps().len(), 2);
    history.undo(&mut song).unwrap();
    assert_eq!((song.title.as_str(), length(&song, 2)), ("Plain", 50));
    assert_eq!(history.undo(&mut song).unwrap(), Some(Label::NewPass));
    assert_eq!(song, before);
    let labels: Vec<Label> = history.redo_steps().iter().map(|step| step.label).collect();
    assert_eq!(
        (labels, history.redo_label()),
        (vec![Label::Title, Label::NewPass], Some(Label::NewPass))
    );
    history.redo(&mut song).unwrap();
    assert_eq!(length(&song, 2), 50);
}

#[test]
fn an_amendment_of_a_pass_without_a_step_is_undone_with_the_newest_step() {
    let mut song = song();
    lay(2).apply(&mut song).unwrap();
    let (before, mut history) = (song.clone(), History::default());
    history.step(&mut song, Commit::of(Edit::Title("Other".into()))).unwrap();
    history.amend(&mut song, PassId(2), vec![released(2)]).unwrap();
    assert_eq!(length(&song, 2), 50);
    history.undo(&mut song).unwrap();
    assert_eq!(song, before);
}

#[test]
fn the_newest_edits_are_those_that_undo_the_newest_step() {
    let (mut song, mut history) = (song(), History::default());
    assert_eq!(history.newest(), None);
    history.step(&mut song, Commit::of(Edit::Key(None))).unwrap();
    history.step(&mut song, Commit::of(Edit::Title("Other".into()))).unwrap();
    assert_eq!(history.newest(), Some(&[Edit::Title("Plain".into())][..]));
}

#[test]
fn a_run_is_one_step_until_it_ends_or_another_commit_follows() {
    let (mut song, mut history) = (song(), History::default());
    let title = |text: &str| Commit::of(Edit::Title(text.into()));
    for text in ["a", "b", "c"] {
        history.run(&mut song, title(text)).unwrap();
    }
    assert_eq!(history.undo_steps().len(), 1);
    history.end_run();
    history.run(&mut song, title("d")).unwrap();
    assert_eq!(history.undo_steps().len(), 2);
    history.run(&mut song, Commit::of(Edit::Key(None))).unwrap();
    history.run(&mut song, title("e")).unwrap();
    assert_eq!(history.undo_steps().len(), 4);
    while history.undo(&mut song).unwrap().is_some() {}
    assert_eq!(song.title, "Plain");
    history.redo(&mut song).unwrap();
    assert_eq!(song.title, "c", "one redo restores the whole run");
}

#[test]
fn only_commits_with_one_label_and_as_many_edits_make_a_run() {
    let title = |text: &str| Edit::Title(text.into());
    let one = Commit::of(title("a"));
    for (other, steps) in [
        (Commit::of(title("b")), 1),
        (Commit::of(title("b")).called(Label::Several), 2),
        (Commit::new(Label::Title, vec![title("b"), Edit::Key(None)]), 2),
    ] {
        let (mut song, mut history) = (song(), History::default());
        history.run(&mut song, one.clone()).unwrap();
        history.run(&mut song, other.clone()).unwrap();
        assert_eq!(history.undo_steps().len(), steps, "{other:?}");
    }
}

#[test]
fn a_run_that_ends_where_it_started_leaves_no_step() {
    let (mut song, mut history) = (song(), History::default());
    let title = |text: &str| Commit::of(Edit::Title(text.into()));
    history.step(&mut song, Commit::of(Edit::Key(None))).unwrap();
    for text in ["a", "b", "Plain"] {
        history.run(&mut song, title(text)).unwrap();
    }
    assert_eq!((song.title.as_str(), history.undo_steps().len()), ("Plain", 1));
    assert_eq!(history.undo_label(), Some(Label::Key));
    // What comes next is a step of its own.
    history.run(&mut song, title("c")).unwrap();
    assert_eq!(history.undo_steps().len(), 2);
}

#[test]
fn a_refused_commit_adds_no_step() {
    let (mut song, mut history) = (song(), History::default());
    history.step(&mut song, lay(2)).unwrap();
    let remove = SectionEdit::Remove(PassId(9));
    let both = vec![Edit::Title("x".into()), Edit::Section(Letter::A, remove)];
    let before = (song.clone(), history.clone());
    assert!(history.step(&mut song, Commit::new(Label::Several, both)).is_err());
    assert_eq!((song, history), before);
}
