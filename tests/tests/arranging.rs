//! Sections and tempi changed on the command line, and what another reader finds in the exports before and
//! after.

use chaconne_tests::program::run;
use chaconne_tests::song_copy::SongCopy;

#[test]
fn a_form_is_exported_as_before_when_its_sections_are_split_and_joined() {
    let copy = SongCopy::of_demo();
    let read = ["note", "tempo", "metre", "end"];
    let before = copy.exported(&read);
    assert!(before.len() > 100, "{before:?}");
    let said = copy.does("section", "split a --at 3");
    assert_eq!(said, "section A split: 2 bars in A, 2 bars in C; form: A C A C B A C");
    assert_eq!(copy.exported(&read), before);
    let said = copy.does("section", "join A C");
    assert_eq!(said, "section C joined to A, 4 bars; form: A A B A");
    assert_eq!(copy.exported(&read), before);
}

#[test]
fn bars_are_lifted_doubled_and_halved() {
    let copy = SongCopy::of_demo();
    let before = copy.exported(&["note"]);
    let said = copy.does("section", "lift B --from 2 --bars 2");
    assert_eq!(said, "2 bars of section B from bar 2 copied to the new section C");
    assert_eq!(copy.exported(&["note"]), before);
    let length = copy.lasts();
    assert_eq!(copy.does("section", "double B"), "section B doubled: 8 bars");
    // The form A A B A has one bar in four more.
    assert!((copy.lasts() * 4 - length * 5).abs() < 100, "{length}");
    assert_eq!(copy.does("section", "halve B"), "section B halved: 4 bars");
    assert_eq!(copy.exported(&["note"]), before);
    assert_eq!(copy.does("section", "half-time B"), "section B in half time: 8 bars");
    assert_eq!(copy.does("section", "double-time B"), "section B in double time: 4 bars");
    assert_eq!(copy.exported(&["note"]), before);
    let said = copy.does("section", "bars A 2 --track Bass --layer 1");
    assert_eq!(said, "layer 1 of Bass in section A set to 2 bars");
    assert_eq!(copy.does("section", "bars A 6"), "section A now has 6 bars");
    // Bars lifted from the start to the end of a section share its layers.
    assert!(copy.does("section", "lift B --from 1 --bars 4").ends_with("to the new section D"));
    assert_eq!(copy.does("section", "own D --track Bass"), "1 layer of Bass is now D's own");
    let before = copy.exported(&["note"]);
    copy.does("section", "halve D --track Bass");
    assert_eq!(copy.exported(&["note"]), before);
    let said = copy.refuses("section", "own D --track Bass");
    assert!(said.contains("no other section shares this layer"), "{said}");
}

#[test]
fn the_form_lasts_as_long_as_it_is_told_to() {
    let copy = SongCopy::of_demo();
    let song = copy.path();
    let facts = run(&["tempo", song]).ends(0).out;
    assert_eq!(facts, "tempo A 104, B 104; the form lasts 0:36.923\n");
    let said = copy.does("tempo", "--fit 0:45");
    assert!(said.ends_with("; the form lasts 0:45.000"), "{said}");
    // 64 quarter notes, each right to half a microsecond.
    assert!((copy.lasts() - 45_000_000).abs() <= 32 + 1, "{}", copy.lasts());
    let said = copy.does("tempo", "--bpm 96");
    assert_eq!(said, "tempo A 96, B 96; the form lasts 0:40.000");
    assert_eq!(copy.lasts(), 40_000_000);
    let said = copy.does("tempo", "--percent -4 --section B");
    assert_eq!(said, "tempo B 92.16; section B lasts 0:10.417");
}

#[test]
fn a_ramp_is_exported_pulse_by_pulse_and_removed() {
    let copy = SongCopy::of_demo();
    copy.does("tempo", "--bpm 96");
    let before = copy.exported(&["tempo"]);
    let said = copy.does("tempo", "--bpm 64 --ramp 3-4 --section B");
    assert!(said.starts_with("tempo B 96, then 96 to 64 from bar 3; section B lasts "), "{said}");
    // The form is A A B A, so bar 3 of B is bar 11; a pulse is a 24th of a quarter note.
    let tempi = copy.exported(&["tempo"]);
    let ramp = |pulse: i64| 10 * 3840 + pulse * 40;
    let bpm = |pulse: i64| 96.0 - 32.0 * pulse as f64 / 191.0;
    for pulse in [1, 2, 95, 190, 191] {
        let micros = (60_000_000.0 / bpm(pulse)).round() as i64;
        assert!(tempi.contains(&format!("tempo {} {micros}", ramp(pulse))), "{pulse} {micros}");
    }
    copy.does("tempo", "--no-ramp 4 --section B");
    assert_eq!(copy.exported(&["tempo"]), before);
}

#[test]
fn what_cannot_be_done_is_one_sentence_and_leaves_the_file() {
    let copy = SongCopy::of_demo();
    for (command, words, sentence) in [
        ("section", "split A --at 5", "section A has 4 bars: split it at a bar from 2 to 4"),
        ("section", "split Q --at 2", "there is no section Q; sections: A, B"),
        ("section", "join A B", "does not always play B right after A"),
        ("section", "lift A --from 3 --bars 3", "end with bar 4 at the latest"),
        ("section", "double A --track Flute", "there is no track 'Flute'; tracks: Drums, Bass"),
        ("section", "double A --track Bass --layer 7", "Bass has 1 layer in section A, not 7"),
        ("tempo", "--fit 0:01", "outside 10 to 1000"),
        ("tempo", "--bpm 90 --at 2", "name one with --section"),
        ("tempo", "--bpm 90 --ramp 4-9 --section A", "section A has bars 1 to 4, not 4 to 9"),
        ("tempo", "--no-ramp 1 --section A", "bar 1 of section A has no ramp"),
    ] {
        let said = copy.refuses(command, words);
        assert!(said.contains(sentence), "{words}: {said}");
        assert_eq!(said.trim().lines().count(), 1, "{said}");
    }
}
