//! What undo and redo say, and when something can be redone.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Command, Turn, When};
use chaconne_song::{Commit, Edit, Label, Letter, PassEdit, Section, SectionEdit, TrackId};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

fn said(b: &Bench) -> String {
    b.engine.status(b.now).said.1
}

/// A bench with a finished pass on its first track, which is called Track 1.
fn with_a_pass() -> Bench {
    let mut b = Bench::new(song(1, 2));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b
}

#[test]
fn undo_and_redo_say_what_they_did_and_on_which_track_if_it_was_one() {
    let mut b = with_a_pass();
    let pass = b.engine.song().sections[0].layers[0].pass;
    let covers = PassEdit::Covers(vec![Span::new(Tick(0), Tick(960))]);
    let add = Command::AddTrack { name: "Pad".into(), drums: false, program: None };
    b.command(Command::Edit(Commit::of(Edit::Title("Evening".into()))));
    b.command(Command::Edit(Commit::of(Edit::Pass(pass, covers))));
    b.command(add);
    let pad = b.engine.status(b.now).armed.unwrap().0;
    b.command(Command::MuteTrack(TrackId(2), true));
    let steps = [
        (Label::MuteTrack, Some((2, "Track 2"))),
        (Label::NewTrack, Some((pad, "Pad"))),
        (Label::Covers, Some((1, "Track 1"))),
        (Label::Title, None),
        (Label::NewPass, Some((1, "Track 1"))),
    ];
    let words = |what: &str, label: Label, track: Option<(u32, &str)>| {
        format!("{what}: {}", label.about(track.map(|(_, name)| name), None))
    };
    let turn = |label, track: Option<(u32, &str)>| {
        Some(Turn::Step(label, track.map(|(id, _)| TrackId(id)), None))
    };
    for (label, track) in steps {
        assert!(b.command(Command::Undo));
        assert_eq!(said(&b), words("undone", label, track));
    }
    assert_eq!(b.engine.status(b.now).undo, None);
    for (label, track) in steps.into_iter().rev() {
        assert_eq!(b.engine.status(b.now).redo, turn(label, track));
        assert!(b.command(Command::Redo));
        assert_eq!(said(&b), words("redone", label, track));
        assert_eq!(b.engine.status(b.now).undo, turn(label, track));
    }
}

#[test]
fn a_step_names_its_section_where_there_are_several() {
    let mut b = Bench::new(song(2, 1));
    let undo = |b: &Bench| b.engine.status(b.now).undo;
    b.command(Command::Edit(Commit::of(Edit::Section(
        Letter::A,
        SectionEdit::Name("Verse".into()),
    ))));
    let step = |b: &Bench| match undo(b) {
        Some(Turn::Step(_, None, section)) => section,
        other => panic!("{other:?}"),
    };
    assert_eq!(step(&b), None);
    let letter = "B".parse().unwrap();
    let section = Arc::new(Section { letter, ..(*b.engine.song().sections[0]).clone() });
    b.command(Command::Edit(Commit::of(Edit::AddSection { at: 1, section, passes: Vec::new() })));
    assert_eq!(step(&b), Some(letter));
    b.command(Command::Edit(Commit::of(Edit::Section(
        Letter::A,
        SectionEdit::Name("Tune".into()),
    ))));
    assert_eq!(step(&b), Some(Letter::A));
}

#[test]
fn after_a_change_a_discarded_round_cannot_be_redone() {
    let mut b = Bench::new(song(2, 2));
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.command(Command::Undo);
    assert_eq!(b.engine.status(b.now).redo, Some(Turn::UnfinishedRound));
    b.command(Command::MuteTrack(TrackId(2), true));
    assert_eq!(b.engine.status(b.now).redo, None);
    assert!(!b.command(Command::Redo));
    b.to(2 * BAR + 10);
    assert!(b.passes().is_empty());
}

#[test]
fn a_release_leaves_a_discarded_round_to_redo() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(3000, 60);
    b.press(BAR + 500, 62);
    b.lift(BAR + 600, 62);
    b.command(Command::Undo);
    // This completes the pass of the first round.
    b.lift(BAR + 1000, 60);
    b.to(BAR + 1200);
    assert!(b.command(Command::Redo), "{}", said(&b));
    b.to(2 * BAR + 10);
    assert_eq!(b.passes(), [vec![(3000, BAR + 1000 - 3000, 60)], vec![(500, 100, 62)]]);
}

#[test]
fn a_note_still_held_when_its_pass_is_undone_ends_there() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::Record(true));
    b.press(3000, 60);
    b.to(BAR + 300);
    assert!(b.command(Command::Undo));
    b.lift(BAR + 1000, 60);
    assert!(b.command(Command::Redo));
    assert_eq!(b.passes(), [vec![(3000, BAR + 300 - 3000, 60)]]);
}

/// A bench with two sections, A and B, and a finished pass in A.
fn two_sections() -> Bench {
    let mut two = song(1, 1);
    let section = Section { letter: b(), layers: Vec::new(), ..(*two.sections[0]).clone() };
    two.sections.push(section.into());
    let mut b = Bench::new(two);
    b.command(Command::Record(true));
    b.press(100, 60);
    b.lift(200, 60);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    b
}

fn b() -> Letter {
    "B".parse().unwrap()
}

#[test]
fn a_change_names_its_section_if_the_song_has_several() {
    let track = Some("Track 1");
    let mut bench = with_a_pass();
    bench.command(Command::Undo);
    assert_eq!(said(&bench), format!("undone: {}", Label::NewPass.about(track, None)));
    let mut bench = two_sections();
    bench.command(Command::Undo);
    let words = Label::NewPass.about(track, Some(Letter::A));
    assert_eq!(said(&bench), format!("undone: {words}"));
    bench.command(Command::Redo);
    assert_eq!(said(&bench), format!("redone: {words}"));
    for (edit, label) in [
        (Edit::MoveSection(b(), 0), Label::MoveSection),
        (Edit::Section(b(), SectionEdit::Name("Bridge".into())), Label::SectionName),
        (Edit::RemoveSection(b()), Label::RemoveSection),
    ] {
        assert!(bench.command(Command::Edit(Commit::of(edit))));
        for (command, what) in [(Command::Undo, "undone"), (Command::Redo, "redone")] {
            bench.command(command);
            assert_eq!(said(&bench), format!("{what}: {}", label.about(None, Some(b()))));
        }
    }
}

#[test]
fn what_was_removed_is_said_and_how_to_get_it_back() {
    let mut bench = two_sections();
    let pass = bench.engine.song().sections[0].layers[0].pass;
    let notes = PassEdit::RemoveNotes(vec![bench.engine.song().passes[&pass].notes()[0].id]);
    let track = Some("Track 1");
    let removals = [
        (Command::Edit(Commit::of(Edit::Pass(pass, notes))), Label::RemoveNotes, track, None),
        (Command::RemoveTop, Label::RemovePass, track, Some(Letter::A)),
        (
            Command::Edit(Commit::of(Edit::RemoveSection(b()))),
            Label::RemoveSection,
            None,
            Some(b()),
        ),
        (Command::Edit(Commit::of(Edit::RemoveTrack(TrackId(1)))), Label::RemoveTrack, track, None),
    ];
    for (command, label, track, section) in removals {
        assert!(bench.command(command));
        assert_eq!(Some(said(&bench)), label.removed(track, section));
    }
    // Other changes can be seen on the screen.
    let told = said(&bench);
    bench.command(Command::Edit(Commit::of(Edit::Title("Evening".into()))));
    assert_eq!(said(&bench), told);
}

#[test]
fn the_section_that_takes_the_place_of_a_removed_one_is_shown() {
    let mut bench = two_sections();
    bench.command(Command::Stop);
    let shown = |bench: &Bench| bench.engine.status(bench.now).section;
    let remove = |letter| Command::Edit(Commit::of(Edit::RemoveSection(letter)));
    let third: Letter = "C".parse().unwrap();
    let section = Section { letter: third, ..(*bench.engine.song().sections[1]).clone() };
    let (section, passes) = (Arc::new(section), Vec::new());
    bench.command(Command::Edit(Commit::of(Edit::AddSection { at: 2, section, passes })));
    bench.command(Command::Jump(b(), When::Seam));
    assert!(bench.command(remove(Letter::A)));
    assert_eq!(shown(&bench), b(), "another one was removed");
    bench.command(Command::Undo);
    assert!(bench.command(remove(b())));
    assert_eq!(shown(&bench), third);
    // The last one has only a neighbour before it.
    assert!(bench.command(remove(third)));
    assert_eq!(shown(&bench), Letter::A);
    bench.command(Command::Play);
    bench.run_to(bench.now + 1_000_000_000);
    assert_eq!((shown(&bench), bench.engine.entries()[0].section), (Letter::A, Letter::A));
    bench.command(Command::Stop);
    // While it plays, the loop goes on in the neighbour.
    bench.command(Command::Undo);
    bench.command(Command::Undo);
    bench.command(Command::Jump(b(), When::Seam));
    bench.command(Command::Play);
    bench.run_to(bench.now + 1_000_000_000);
    assert!(bench.command(remove(b())));
    bench.run_to(bench.now + 10_000_000);
    assert_eq!(shown(&bench), third);
    bench.command(Command::Stop);
}

#[test]
fn rounds_that_were_discarded_one_after_the_other_are_redone_one_by_one() {
    let mut bench = Bench::new(song(1, 1));
    bench.command(Command::Record(true));
    for (at, key) in [(100, 60), (1000, 62)] {
        bench.press(at, key);
        bench.lift(at + 100, key);
        assert!(bench.command(Command::Undo));
    }
    for keys in [&[62][..], &[60, 62]] {
        assert!(bench.command(Command::Redo));
        let open = bench.engine.status(bench.now).unfinished.unwrap();
        let found: Vec<u8> = open.notes().iter().map(|note| note.played.key.get()).collect();
        assert_eq!(found, keys);
    }
    assert!(!bench.command(Command::Redo));
}
