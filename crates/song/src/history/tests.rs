//! Which edits make a run, and what becomes of a trial and of two steps alike.

use super::*;
use crate::{
    Channel, Control, Feel, Form, LaneId, Letter, NoteId, Placement, PointId, Release, Section,
    Shape, TrackEdit, TrackId, Transpose, U7, U14,
};
use chaconne_time::{Metre, MetreMap, Tempo, TempoMap, Tick};

const HIGH: U7 = U7::MAX;
const LOW: U7 = U7::MIN;

fn track(id: u32, edit: TrackEdit) -> Edit {
    Edit::Track(TrackId(id), edit)
}

fn section(letter: &str, edit: SectionEdit) -> Edit {
    Edit::Section(letter.parse().unwrap(), edit)
}

fn pass(id: u32, edit: PassEdit) -> Edit {
    Edit::Pass(PassId(id), edit)
}

fn point(at: i64, nth: usize) -> PointId {
    let lane = LaneId { channel: Channel::default(), control: Control::Bend, from: Tick(0) };
    PointId { lane, at: Tick(at), nth }
}

fn place(fields: &[(u32, Placement)]) -> Edit {
    let fields = fields.iter().map(|&(note, field)| (NoteId(note), field));
    pass(1, PassEdit::Place(fields.collect()))
}

fn played(notes: &[u32], length: i64) -> Edit {
    let held = |&note| Release { note: NoteId(note), length: Tick(length), release: HIGH };
    pass(1, PassEdit::Played(notes.iter().map(held).collect()))
}

fn metre(bars: u32) -> SectionEdit {
    SectionEdit::Metre(MetreMap::new(bars, Metre::common()).unwrap())
}

fn tempo(micros: u32) -> SectionEdit {
    SectionEdit::Tempo(TempoMap::new(Tempo::from_micros(micros).unwrap()))
}

/// A run of such edits is one step, and undoing its first edit undoes them all.
#[test]
fn edits_of_one_value_set_the_same() {
    use {PassEdit as P, SectionEdit as S, TrackEdit as T};
    let up = Transpose::new(1).unwrap();
    let pairs = [
        [Edit::Title("a".into()), Edit::Title("b".into())],
        [Edit::Key(None), Edit::Key("C major".parse().ok())],
        [Edit::Transpose(up), Edit::Transpose(Transpose::default())],
        [Edit::Form(Form::default()), Edit::Form(Form::of([Letter::A]))],
        [Edit::MoveSection(Letter::A, 1), Edit::MoveSection(Letter::A, 2)],
        [Edit::MoveTrack(TrackId(1), 0), Edit::MoveTrack(TrackId(1), 1)],
        [track(1, T::Pan(None)), track(1, T::Pan(Some(HIGH)))],
        [section("A", S::Name("a".into())), section("A", S::Name("b".into()))],
        [section("A", S::Key(None)), section("A", S::Key("C major".parse().ok()))],
        [section("A", S::Transpose(up)), section("A", S::Transpose(Transpose::default()))],
        [section("A", metre(1)), section("A", metre(2))],
        [section("A", tempo(500_000)), section("A", tempo(600_000))],
        [section("A", S::Chord(Tick(0), None)), section("A", S::Chord(Tick(0), "Am".parse().ok()))],
        [section("A", S::Mute(PassId(1), true)), section("A", S::Mute(PassId(1), false))],
        [section("A", S::Move(PassId(1), 0)), section("A", S::Move(PassId(1), 1))],
        [pass(1, P::Feel(None)), pass(1, P::Feel(Some(Feel::off(true))))],
        [pass(1, P::Length(Tick(960))), pass(1, P::Length(Tick(1920)))],
        [pass(1, P::Covers(vec![])), pass(1, P::Covers(vec![]))],
        [played(&[1, 2], 100), played(&[1, 2], 200)],
        [
            place(&[(1, Placement::Key(None)), (2, Placement::Key(None))]),
            place(&[(1, Placement::Key(Some(LOW))), (2, Placement::Key(Some(HIGH)))]),
        ],
        [
            pass(1, P::PointValue(point(96, 0), U14::MAX)),
            pass(1, P::PointValue(point(96, 0), U14::CENTRE)),
        ],
        [
            pass(1, P::PointShape(point(96, 0), Shape::Step)),
            pass(1, P::PointShape(point(96, 0), Shape::Straight)),
        ],
    ];
    for [one, other] in &pairs {
        assert!(sets_the_same(one, other), "{one:?} {other:?}");
    }
    for (index, [one, _]) in pairs.iter().enumerate() {
        let others = pairs.iter().enumerate().filter(|(other, _)| *other != index);
        for (_, [other, _]) in others {
            assert!(!sets_the_same(one, other), "{one:?} {other:?}");
        }
    }
}

#[test]
fn edits_of_two_values_do_not_set_the_same() {
    use {PassEdit as P, SectionEdit as S, TrackEdit as T};
    let key = Placement::Key(None);
    let notes = P::RemoveNotes(vec![NoteId(1)]);
    for [one, other] in [
        [Edit::MoveSection(Letter::A, 1), Edit::MoveSection("B".parse().unwrap(), 1)],
        [Edit::MoveTrack(TrackId(1), 0), Edit::MoveTrack(TrackId(2), 0)],
        [track(1, T::Pan(None)), track(2, T::Pan(None))],
        [track(1, T::Pan(None)), track(1, T::Volume(None))],
        [section("A", S::Key(None)), section("B", S::Key(None))],
        [section("A", S::Chord(Tick(0), None)), section("A", S::Chord(Tick(960), None))],
        [section("A", S::Mute(PassId(1), true)), section("A", S::Mute(PassId(2), true))],
        [section("A", S::Move(PassId(1), 0)), section("A", S::Move(PassId(2), 0))],
        [section("A", S::Remove(PassId(1))), section("A", S::Remove(PassId(1)))],
        [pass(1, P::Feel(None)), pass(2, P::Feel(None))],
        [played(&[1, 2], 100), played(&[1, 3], 100)],
        [played(&[1, 2], 100), played(&[1], 100)],
        [place(&[(1, key)]), place(&[(2, key)])],
        [place(&[(1, key)]), place(&[(1, key), (2, key)])],
        [place(&[(1, Placement::Velocity(None))]), place(&[(1, Placement::Release(None))])],
        [
            pass(1, P::PointValue(point(96, 0), U14::MAX)),
            pass(1, P::PointValue(point(96, 1), U14::MAX)),
        ],
        [
            pass(1, P::PointShape(point(96, 0), Shape::Step)),
            pass(1, P::PointShape(point(192, 0), Shape::Step)),
        ],
        [pass(1, notes.clone()), pass(1, notes)],
    ] {
        assert!(!sets_the_same(&one, &other), "{one:?} {other:?}");
    }
}

/// A song without passes, and the edits that the trials below make.
fn song() -> Song {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("Plain", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(std::sync::Arc::new(crate::Track::pitched(TrackId(1), "Bass")));
    song
}

fn title(text: &str) -> Commit {
    Commit::of(Edit::Title(text.into()))
}

fn key(text: &str) -> Commit {
    Commit::of(Edit::Key(text.parse().ok()))
}

fn labels(history: &History) -> Vec<Label> {
    history.undo_steps().iter().map(|step| step.label).collect()
}

#[test]
fn what_is_tried_is_known_until_it_is_kept_or_withdrawn() {
    let (mut song, mut history) = (song(), History::default());
    assert_eq!(history.tried(), None);
    for text in ["a", "b"] {
        history.attempt(&mut song, title(text)).unwrap();
        assert_eq!(history.tried(), Some(&[Edit::Title("Plain".into())][..]));
    }
    assert_eq!(history.withdraw(&mut song).unwrap(), Some(Label::Title));
    assert_eq!((song.title.as_str(), history.tried()), ("Plain", None));
    history.attempt(&mut song, title("c")).unwrap();
    history.keep_tried();
    assert_eq!(history.tried(), None);
    assert_eq!(history.withdraw(&mut song).unwrap(), None);
    assert_eq!(song.title, "c");
}

/// A history of these steps.
fn steps(commits: &[Commit]) -> (Song, History) {
    let (mut song, mut history) = (song(), History::default());
    for commit in commits {
        history.step(&mut song, commit.clone()).unwrap();
    }
    (song, history)
}

#[test]
fn two_steps_that_one_undo_takes_back_are_joined() {
    let (mut song, mut history) = steps(&[key("C major"), title("a"), title("b")]);
    assert!(history.join_newest());
    assert_eq!(labels(&history), [Label::Key, Label::Title]);
    history.undo(&mut song).unwrap();
    assert_eq!(song.title, "Plain");
    for commits in [
        vec![],
        vec![title("a")],
        vec![title("a"), key("C major")],
        vec![title("a"), title("b").called(Label::Several)],
        vec![title("a"), key("C major").called(Label::Title)],
    ] {
        let (_, mut history) = steps(&commits);
        assert!(!history.join_newest(), "{commits:?}");
        assert_eq!(history.undo_steps().len(), commits.len());
    }
}

#[test]
fn steps_are_not_joined_while_one_is_tried_or_redone() {
    let (mut song, mut history) = steps(&[title("a")]);
    history.attempt(&mut song, title("b")).unwrap();
    assert!(!history.join_newest());
    history.keep_tried();
    assert!(history.join_newest());

    let (mut song, mut history) = steps(&[title("a"), title("b"), title("c")]);
    history.undo(&mut song).unwrap();
    assert!(!history.join_newest());
}

#[test]
fn what_is_amended_outside_the_pass_is_undone_with_the_step_that_laid_it() {
    let mut song = song();
    let (first, mut history) = (song.clone(), History::default());
    let new = crate::Pass::empty(PassId(2), TrackId(1), Tick(3840));
    history.step(&mut song, Commit::of(Edit::lay(Letter::A, 0, new))).unwrap();
    let amended =
        vec![pass(2, PassEdit::Name("line".into())), track(1, TrackEdit::Volume(Some(HIGH)))];
    history.amend(&mut song, PassId(2), amended).unwrap();
    let whole = song.clone();
    history.undo(&mut song).unwrap();
    assert_eq!(song, first);
    history.redo(&mut song).unwrap();
    assert_eq!(song, whole);
}
