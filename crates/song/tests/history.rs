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
fn an_expected_pass_is_undone_after_the_steps_made_in_the_meantime() {
    let (mut song, mut history) = (song(), History::default());
    history.expect_pass();
    history.step(&mut song, Commit::of(Edit::Title("Other".into()))).unwrap();
    history.step_expected(&mut song, lay(2)).unwrap();
    assert_eq!(history.undo(&mut song).unwrap(), Some(Label::Title));
    assert_eq!(history.undo(&mut song).unwrap(), Some(Label::NewPass));
    assert!(song.passes.is_empty());
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
