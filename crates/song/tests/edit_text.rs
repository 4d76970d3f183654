//! Edits, commits and histories as text: they read back equal and do the same, and any other text
//! is refused without a panic.

mod common;

use chaconne_song::*;
use common::edits::{KINDS, edit, kind};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::collections::BTreeSet;

/// The edit, written as text and read back.
fn through_text(edit: &Edit) -> Edit {
    let written = text::write_edit(edit);
    assert!(!written.contains('\n'), "{written}");
    let read = text::read_edit(&written).unwrap_or_else(|errors| panic!("{errors:?}: {written}"));
    assert_eq!(read, *edit, "{written}");
    assert_eq!(text::write_edit(&read), written);
    read
}

/// Applies random edits to one song, and the same edits read from their text to a copy. Then undoes
/// them on the copy with the text of their inverses.
fn the_same_twice(tape: Vec<u64>, kinds: &mut BTreeSet<&'static str>) {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let start = song.clone();
    let mut other = song.clone();
    let mut inverses = Vec::new();
    for _ in 0..20 {
        let edit = edit(&mut chooser, &song);
        let Ok(inverse) = edit.clone().apply(&mut song) else { continue };
        kinds.insert(kind(&edit));
        through_text(&edit).apply(&mut other).unwrap();
        assert_eq!(other, song);
        inverses.push(text::write_edit(&inverse));
    }
    assert_eq!(text::write(&other), text::write(&song));
    for inverse in inverses.iter().rev() {
        text::read_edit(inverse).unwrap().apply(&mut other).unwrap();
    }
    assert_eq!(text::write(&other), text::write(&start));
    assert_eq!(other, start);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]
    #[test]
    fn edits_read_from_text_make_and_undo_the_same_changes(tape in tape(3000)) {
        the_same_twice(tape, &mut BTreeSet::new());
    }
}

#[test]
fn edits_of_every_kind_are_written_and_read() {
    let mut kinds = BTreeSet::new();
    (1..100).for_each(|seed| the_same_twice(steady_tape(seed, 3000), &mut kinds));
    let missing: Vec<_> = KINDS.iter().filter(|kind| !kinds.contains(*kind)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// A history of random commits, and the song after them.
fn history(chooser: &mut Chooser) -> (Song, History) {
    let (mut song, mut history) = (chooser.song(), History::default());
    for _ in 0..12 {
        let commit = Commit::of(edit(chooser, &song));
        let written = text::write_commit(&commit);
        if history.step(&mut song, commit.clone()).is_ok() {
            assert_eq!(text::read_commit(&written), Ok(commit));
        }
        if chooser.once_in(4) {
            history.undo(&mut song).unwrap();
        }
    }
    (song, history)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn a_history_read_from_text_undoes_the_same_steps(tape in tape(2500)) {
        let (mut song, mut history) = history(&mut Chooser::new(tape));
        let written = text::write_history(&history);
        let mut again = text::read_history(&written).unwrap();
        prop_assert_eq!(again.undo_steps(), history.undo_steps());
        prop_assert_eq!(again.redo_steps(), history.redo_steps());
        prop_assert_eq!(text::write_history(&again), written);
        let mut other = song.clone();
        while history.undo(&mut song).unwrap().is_some() {
            again.undo(&mut other).unwrap();
            prop_assert_eq!(&song, &other);
        }
        prop_assert_eq!(again.undo(&mut other).unwrap(), None);
    }
}

#[test]
fn these_edits_are_written_back_unchanged() {
    for line in [
        r#"(title: "Slow ferry")"#,
        r#"(key: None)"#,
        r#"(form: "A (B C) x2 A")"#,
        r#"(add_track: (id: 1, name: "Drums", channel: 10, pitched: false), at: 0)"#,
        r#"(track: 2, name: "Bass")"#,
        r#"(track: 2, grid: "1/16")"#,
        r#"(track: 2, pass_length: None)"#,
        r#"(section: "A", letter: "Z")"#,
        r#"(section: "A", bars: 4, metre: "6/8")"#,
        r#"(section: "A", bars: 4, metre: [(bar: 1, metre: "7/8", groups: "2+2+3")])"#,
        r#"(section: "A", tempo: 500000)"#,
        r#"(section: "A", chord: "Am7", at: 960)"#,
        r#"(section: "A", share: 7, at: 2, mute: true)"#,
        r#"(section: "A", replace: 7, copy: 7, id: 12)"#,
        r#"(section: "A", layer: 7, to: 1)"#,
        r#"(section: "A", layer: 7, mute: true)"#,
        r#"(pass: 7, add_notes: [(id: 1, at: -20, length: 110, key: 36, velocity: 101)])"#,
        r#"(pass: 7, played: [(id: 1, length: 400, release: 20), (id: 2, length: 90)])"#,
        r#"(pass: 7, place: [(id: 1, at: 0), (id: 2, at: None)])"#,
        r#"(pass: 7, lane: (control: "change 64", from: 0), point: 96, value: 127)"#,
        r#"(pass: 7, lane: (control: "bend", channel: 3, from: 0), from: 0, to: 960)"#,
        r#"(pass: 7, remove_sysex: 0, nth: 1)"#,
    ] {
        let edit = text::read_edit(line).unwrap_or_else(|errors| panic!("{errors:?}: {line}"));
        assert_eq!(text::write_edit(&edit), line);
    }
    let commit = r#"(label: "move notes", edits: [(pass: 7, place: [(id: 1, at: 0)])])"#;
    assert_eq!(text::write_commit(&text::read_commit(commit).unwrap()), commit);
}

#[test]
fn a_history_is_written_one_step_a_line() {
    let metre = chaconne_time::MetreMap::new(1, chaconne_time::Metre::common()).unwrap();
    let section = Section::new(Letter::A, metre, chaconne_time::Tempo::DEFAULT);
    let (mut song, mut history) = (Song::new("Ferry", section), History::default());
    for title in ["Slow ferry", "Night ferry"] {
        history.step(&mut song, Commit::of(Edit::Title(title.into()))).unwrap();
    }
    history.undo(&mut song).unwrap();
    let expected = r#"(
    undo: [
        (label: "title", edits: [(title: "Ferry")]),
    ],
    redo: [
        (label: "title", edits: [(title: "Night ferry")]),
    ],
)
"#;
    assert_eq!(text::write_history(&history), expected);
    let read = text::read_history(expected).unwrap();
    assert_eq!(read.undo_steps(), history.undo_steps());
    assert_eq!(read.redo_steps(), history.redo_steps());
}

#[test]
fn each_wrong_edit_has_its_own_message() {
    for (line, message) in [
        ("()", "an edit has at least one field"),
        ("(tempo: 5)", "an edit cannot change 'tempo' here"),
        ("(track: 2)", "this edit does not say what it changes"),
        ("(track: 2, pull: 101)", "pull 101 is outside 0 to 100"),
        ("(track: 2, pull: 50, reach: 5)", "an edit of this kind has no field 'reach'"),
        ("(track: 2, track: 3)", "the field 'track' is given twice"),
        ("(section: \"A\", share: 7)", "this edit is missing its field 'at'"),
        ("(section: \"A\", share: 7, at: -1)", "at -1 is outside 0 to 4000000000"),
        ("(section: \"A\", shuffle: 7)", "an edit cannot change 'shuffle' here"),
        ("(section: \"A\", layer: 7, solo: true)", "an edit cannot change 'solo' here"),
        (
            "(pass: 7, lane: (control: \"bend\", from: 0), point: 96, shade: \"straight\")",
            "an edit cannot change 'shade' here",
        ),
        (
            "(section: \"A\", chord: \"C\", at: 491028481)",
            "at 491028481 is outside -491028480 to 491028480",
        ),
        ("(pass: 7, place: [(id: 1, pitch: 3)])", "an edit cannot change 'pitch' here"),
        ("(pass: 7, covers: [(from: 0)])", "the cover that ends here is missing its field 'to'"),
        (
            "(pass: 7, length: \"4 bars\")",
            "length: \"4 bars\" is not a whole number from 1 to 245514240",
        ),
        ("title", "expected '(' to open an edit, found 'title'"),
        ("(title: \"x\") (", "there is more text after the last closing bracket"),
        ("(", "the text ends too soon: a bracket or a comment is not closed"),
        (
            "(section: \"A\", tempo: [(at: 960, tempo: 500000)])",
            "the first tempo is at 960; it must be at 0",
        ),
    ] {
        let errors = text::read_edit(line).map(|edit| format!("{edit:?}")).unwrap_err();
        assert_eq!(errors[0].message, message, "{line}");
        assert_eq!(errors[0].line, 1);
    }
    let errors = text::read_commit("(label: \"fun\", edits: [])").unwrap_err();
    let message = "'fun' is not a label; use one such as \"new pass\"";
    assert_eq!(errors[0].message, message);
}

#[test]
fn an_error_inside_a_value_has_the_line_and_column_of_the_whole_text() {
    let place = |text: &str| {
        let errors = text::read_edit(text).unwrap_err();
        (errors[0].line, errors[0].column)
    };
    // The bracket that ends the cover, which has no field 'to'.
    let edit = "(pass: 7, covers: [(from: 0)])";
    assert_eq!(place(edit), (1, edit.find(")])").unwrap() + 1));
    let lower = edit.replace("pass: 7, ", "pass: 7,\n\n");
    assert_eq!(place(&lower), (3, "covers: [(from: 0)".len()));
    let split = edit.replace("0)", "\n  0)");
    assert_eq!(place(&split), (2, "  0)".len()));
}

/// Reads any text as an edit, a commit and a history; none may panic or give no answer.
fn answers(text: &str) {
    if let Ok(edit) = text::read_edit(text) {
        assert_eq!(text::read_edit(&text::write_edit(&edit)), Ok(edit.clone()), "{text}");
        // A song accepts the edit or refuses it, whatever it asks for.
        let mut song = Chooser::new(steady_tape(7, 900)).song();
        let before = song.clone();
        match edit.apply(&mut song) {
            Ok(inverse) => drop(inverse.apply(&mut song).unwrap()),
            Err(error) => assert!(!error.to_string().is_empty()),
        }
        assert_eq!(song, before, "{text}");
    }
    for errors in [text::read_edit(text).err(), text::read_commit(text).err()] {
        assert!(errors.is_none_or(|errors| !errors.is_empty()));
    }
    drop(text::read_history(text));
}

#[test]
fn very_long_or_deeply_nested_edits_are_answered() {
    let deep = 50_000;
    for text in [
        "(".repeat(deep),
        "[".repeat(deep),
        "(pass: 7, add_notes: [".repeat(deep),
        format!("(pass: 7, remove_notes: [{}])", "1,".repeat(deep)),
        format!("(section: \"A\", bars: 4, metre: {})", "[".repeat(deep)),
        format!("({})", "a: 1, ".repeat(deep)),
        format!("(pass: 1, length: {})", "9".repeat(deep)),
    ] {
        answers(&text);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]
    #[test]
    fn a_changed_edit_is_read_or_refused(
        tape in tape(1200),
        at in any::<prop::sample::Index>(),
        piece in prop::sample::select(vec!["", "(", "]", "9", "-", "None", "\"", "id: 1", ",", "é"]),
        cut in 0usize..8,
    ) {
        let mut chooser = Chooser::new(tape);
        let song = chooser.song();
        let mut text: Vec<char> = text::write_edit(&edit(&mut chooser, &song)).chars().collect();
        let from = at.index(text.len());
        let to = (from + cut).min(text.len());
        drop(text.splice(from..to, piece.chars()));
        answers(&text.into_iter().collect::<String>());
    }
}
