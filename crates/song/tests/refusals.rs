//! What the reader refuses: each error has the right line, says what is wrong and what would be
//! right. Any text at all gets an answer.

mod common;

use chaconne_song::{Song, text};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::fmt::Write;

/// The example of the file reference.
fn example() -> &'static str {
    let reference = include_str!("../../../docs/song-file.md");
    reference.split("```ron\n").nth(1).unwrap().split("```").next().unwrap()
}

/// Replaces the first `right` in the example by `wrong`. Returns its line and the errors.
fn refused(right: &str, wrong: &str) -> (usize, Vec<String>) {
    let before = example().split_once(right).unwrap_or_else(|| panic!("no {right}")).0;
    let line = before.matches('\n').count() + 1;
    let errors = text::read(&example().replacen(right, wrong, 1)).unwrap_err();
    (line, errors.iter().map(ToString::to_string).collect())
}

/// A text in the example, its replacement, and the error that the replacement causes.
const WRONG_VALUES: &[(&str, &str, &str)] = &[
    ("velocity: 101", "velocity: 200", "velocity 200 is outside 1 to 127"),
    ("velocity: 101", "velocity: 0", "velocity 0 is outside 1 to 127"),
    ("velocity: 101", "velocity: -5", "velocity -5 is outside 1 to 127"),
    (
        "velocity: 101",
        "velocity: 99999999999999999999999",
        "velocity 99999999999999999999999 is outside 1 to 127",
    ),
    ("velocity: 101", "velocity: 1.5", "velocity: '1.5' is not a whole number from 1 to 127"),
    (
        "velocity: 101",
        "velocity: \"loud\"",
        "velocity: \"loud\" is not a whole number from 1 to 127",
    ),
    ("velocity: 101", "velocity: (1, 2)", "velocity: '(1, 2)' is not a whole number from 1 to 127"),
    ("key: 36", "key: 128", "key 128 is outside 0 to 127"),
    ("release: 40", "release: 128", "release 128 is outside 0 to 127"),
    ("channel: 1,", "channel: 0,", "channel 0 is outside 1 to 16"),
    ("channel: 10", "channel: 17", "channel 17 is outside 1 to 16"),
    ("program: 34", "program: 0", "program 0 is outside 1 to 128"),
    ("program: 34", "program: 129", "program 129 is outside 1 to 128"),
    ("bank: 128", "bank: 16384", "bank 16384 is outside 0 to 16383"),
    ("volume: 100", "volume: 128", "volume 128 is outside 0 to 127"),
    ("pan: 60", "pan: -1", "pan -1 is outside 0 to 127"),
    ("pass_length: 7680", "pass_length: 0", "pass_length 0 is outside 1 to 245514240"),
    (
        "keys_play: \"chords\"",
        "keys_play: \"tunes\"",
        "'tunes' is none of notes, scale, chord notes, chords, chart",
    ),
    ("stack: \"sevenths\"", "stack: \"fourths\"", "'fourths' is none of triads, sevenths, ninths"),
    ("inversion: 1", "inversion: 5", "inversion 5 is outside 0 to 4"),
    ("open: true", "open: 1", "open: '1' is not true or false"),
    ("leading: false", "leading: 0", "leading: '0' is not true or false"),
    (
        "\"C3 E7\"",
        "\"C3\"",
        "'C3' is not a key with its chord: write a note and a chord, such as C4 Am7",
    ),
    ("\"C3 E7\"", "\"D3 E7\"", "this key has a chord already; give each key one"),
    ("pitched: false", "pitched: no", "pitched: 'no' is not true or false"),
    ("rolls: false", "rolls: 0", "rolls: '0' is not true or false"),
    ("pull: 70", "pull: 101", "pull 101 is outside 0 to 100"),
    ("reach: 80", "reach: 101", "reach 101 is outside 0 to 100"),
    ("swing: 56.25", "swing: 76", "swing '76' is outside 50 to 75 percent"),
    (
        "grid: \"1/16\"",
        "grid: \"1/15\"",
        "'1/15' is not a note value: use 1/1 to 1/64, alone or followed by 'triplet' or 'dotted'",
    ),
    ("grid: \"1/16\"", "grid: 16", "grid: '16' is not text in quotes"),
    ("timing: 80", "timing: 201", "timing 201 is outside 0 to 200"),
    ("loudness: 60", "loudness: 201", "loudness 201 is outside 0 to 200"),
    ("(timing: 20", "(timing: 101", "timing 101 is outside 0 to 100"),
    ("loudness: 10,", "loudness: 101,", "loudness 101 is outside 0 to 100"),
    ("seed: 3", "seed: 10000", "seed 10000 is outside 0 to 9999"),
    ("(id: 9, timing", "(id: 8, timing", "there is no groove 8; a feel has a groove of the song"),
    ("timing: 38", "timing: 241", "timing 241 is outside -240 to 240"),
    ("timing_spread: 9", "timing_spread: 481", "timing_spread 481 is outside 0 to 480"),
    ("loudness: 118", "loudness: 1001", "loudness 1001 is outside 0 to 1000"),
    ("loudness_spread: 4)", "loudness_spread: -1)", "loudness_spread -1 is outside 0 to 1000"),
    ("(bar: 2, step: 8", "(bar: 5, step: 8", "bar 5 is outside 1 to 4"),
    ("bars: 4", "bars: 17", "bars 17 is outside 1 to 16"),
    ("(step: 1, l", "(step: 0, l", "step 0 is outside 1 to 6144"),
    ("(step: 2, t", "(step: 1, t", "step 1 of bar 1 is already on line 18"),
    ("id: 1,", "id: 0,", "id 0 is outside 1 to 4000000000"),
    ("id: 3,", "id: 4000000001,", "id 4000000001 is outside 1 to 4000000000"),
    (
        "\"A minor\"",
        "\"H minor\"",
        "'H minor' is not a key: use a note name from Cb to C# and 'major' or 'minor'",
    ),
    (
        "letter: \"B\"",
        "letter: \"b\"",
        "'b' is not a rehearsal letter: use one to three capitals, A to ZZZ",
    ),
    ("bars: 2", "bars: 1000", "bars 1000 is outside 1 to 999"),
    ("bars: 2", "bars: 0", "bars 0 is outside 1 to 999"),
    (
        "\"4/4\"",
        "\"4/3\"",
        "'4/3' is not a metre: write it as 4/4, with 1 to 64 beats over 1, 2, 4, 8, 16 or 32",
    ),
    (
        "tempo: 576923",
        "tempo: 104",
        "tempo (microseconds per quarter note) 104 is outside 60000 to 6000000",
    ),
    ("(bar: 3,", "(bar: 4,", "bar 4 is outside 1 to 3"),
    ("(bar: 3,", "(bar: 1,", "the metre at bar 1 must come after the one at bar 1"),
    ("(bar: 1,", "(bar: 2,", "the first metre is at bar 2; it must be at bar 1"),
    ("2+2+3", "2+2+4", "the groups add up to 8, but the bar has 7 beats"),
    ("2+2+3", "2+2+x", "'2+2+x' is not a grouping: use numbers of beats, such as 2+2+3"),
    (
        "(at: \"1.1.0\", tempo",
        "(at: \"1.2.0\", tempo",
        "the first tempo is at 1.2.0; it must be at 1.1.0",
    ),
    (
        "(at: \"3.1.0\", ramp",
        "(at: \"1.1.0\", ramp",
        "the tempo at 1.1.0 must come after the end of the one before it, at 1.1.0",
    ),
    (
        // Three tempi, one a pulse of 40 ticks.
        "(at: \"1.1.0\", tempo: 500000),",
        "(at: \"1.1.0\", ramp: [500000, 490000, 480000]), (at: \"1.1.80\", tempo: 500000),",
        "the tempo at 1.1.80 must come after the end of the one before it, at 1.1.80",
    ),
    (
        "(at: \"3.1.0\", ramp",
        "(at: \"1000.1.0\", ramp",
        "the tempo at 1000.1.0 is outside 1.1.0 to the end of bar 999",
    ),
    (
        "ramp: [500000",
        "ramp: [50",
        "tempo (microseconds per quarter note) 50 is outside 60000 to 6000000",
    ),
    (
        "tempo: 500000",
        "ramp: [500000], tempo: 500000",
        "a tempo has either the field 'tempo' or the field 'ramp'",
    ),
    ("track: 2", "track: 9", "there is no track 9; a pass belongs to a track of the song"),
    (
        "\"1 bar\"",
        "\"1000 bars\"",
        "'1000 bars' is not a length: use a number of bars or beats, from 1 beat to 999 bars",
    ),
    (
        "\"3 beats\"",
        "\"4000 beats\"",
        "'4000 beats' is not a length: use a number of bars or beats, from 1 beat to 999 bars",
    ),
    (
        "\"3 beats\"",
        "\"0 beats\"",
        "'0 beats' is not a length: use a number of bars or beats, from 1 beat to 999 bars",
    ),
    ("length: 110", "length: 3841", "length 3841 is outside 1 to 3840"),
    ("length: 110", "length: 0", "length 0 is outside 1 to 3840"),
    (
        "\"0.4.940\"",
        "\"0.1.0\"",
        "a note at 0.1.0 is outside its pass, which allows 0.1.1 to 1.4.959",
    ),
    (
        "\"0.4.940\"",
        "\"2.1.0\"",
        "a note at 2.1.0 is outside its pass, which allows 0.1.1 to 1.4.959",
    ),
    (
        "\"0.4.940\"",
        "\"0.5.0\"",
        "at 0.5.0 is not in its bar, which has beats 1 to 4, each with ticks 0 to 959",
    ),
    (
        "\"0.4.940\"",
        "\"1.1.960\"",
        "at 1.1.960 is not in its bar, which has beats 1 to 4, each with ticks 0 to 959",
    ),
    ("\"0.4.940\"", "\"1,4\"", "at 1,4 is not bar.beat.tick, such as \"1.1.0\""),
    ("\"0.4.940\"", "\"9000000000.1.0\"", "at 9000000000.1.0 is outside bar -1000000 to 1000000"),
    (
        "(from: \"1.1.0\", to: \"1.3.0\")",
        "(from: \"1.1.0\", to: \"1.4.1\")",
        "a cover from 1.1.0 to 1.4.1 must end after it starts, and stay within 0.2.0 to 1.4.0",
    ),
    (
        "(from: \"1.1.0\", to: \"1.3.0\")",
        "(from: \"1.1.0\", to: \"1.1.0\")",
        "a cover from 1.1.0 to 1.1.0 must end after it starts, and stay within 0.2.0 to 1.4.0",
    ),
    (
        "(from: \"1.1.0\", to: \"1.3.0\")",
        "(from: \"1.1.0\", to: \"1.3.0\"), (from: \"1.2.0\", to: \"1.4.0\")",
        "the cover at 1.2.0 starts before the end of the one before it, at 1.3.0",
    ),
    (
        "to: \"2.1.0\"",
        "to: \"900.1.0\"",
        "a lane from 1.1.0 to 900.1.0 must end after it starts, and stay within 0.2.0 to 751.1.0",
    ),
    (
        "(at: \"1.4.0\", value: 0)",
        "(at: \"2.1.0\", value: 0)",
        "a point at 2.1.0 is outside its lane, which runs from 1.1.0 to 1.4.959",
    ),
    (
        "(at: \"1.2.480\", value: 8192)",
        "(at: \"1.1.480\", value: 8192)",
        "a point at 1.1.480 is outside its lane, which runs from 1.2.0 to 1.2.959",
    ),
    ("value: 127", "value: 128", "value 128 is outside 0 to 127"),
    ("value: 8704", "value: 16384", "value 16384 is outside 0 to 16383"),
    (
        "F0 7E 7F 09 01 F7",
        "F0 7E 80 09 01 F7",
        "a message of 6 bytes must be F0, then bytes 00 to 7F, then F7, at most 65536 in all",
    ),
    (
        "F0 7E 7F 09 01 F7",
        "F0 7E 7G F7",
        "bytes must be pairs of hexadecimal digits with spaces between them",
    ),
    ("A (A B) x2 A", "A A C A", "the form names section C, which is not in the song"),
    ("A (A B) x2 A", "A (A B x2 A", "a group is not closed; end it with )"),
    ("transpose: -2", "transpose: -37", "transpose -37 is outside -36 to 36"),
    (
        "chord: \"Am7\"",
        "chord: \"Hm7\"",
        "'Hm7' is not a chord: use a root and a kind, such as Am7, Bb or F#m7b5/E, or N.C.",
    ),
    (
        "(at: \"2.1.0\", chord",
        "(at: \"1.1.0\", chord",
        "the chord at 1.1.0 must come after the one at 1.1.0",
    ),
    (
        "(at: \"2.1.0\", chord",
        "(at: \"1000.1.0\", chord",
        "the chord at 1000.1.0 is outside 1.1.0 to the end of bar 999",
    ),
    (
        "[\"2.4.0\"]",
        "[\"1000.1.0\"]",
        "the fermata at 1000.1.0 is outside 1.1.0 to the end of bar 999",
    ),
    (
        "[\"2.4.0\"]",
        "[\"2.4.0\", \"2.3.0\"]",
        "the fermata at 2.3.0 must come after the one at 2.4.0",
    ),
    ("slow end", "fast", "'fast' is not a shape: use step, straight, slow start or slow end"),
    (
        "(pass: 7,",
        "(pass: 8,",
        "pass 8 is not in an earlier section; write it in full where it first appears",
    ),
    ("(pass: 7,", "(pass: 0,", "pass 0 is outside 1 to 4000000000"),
    ("(pass: 3)", "(pass: 7)", "the section already has this pass on line 99"),
    ("chaconne: 2", "chaconne: 0", "chaconne 0 is outside 1 to 4294967295"),
];

#[test]
fn a_wrong_value_is_reported_with_its_line_and_range() {
    for (right, wrong, message) in WRONG_VALUES {
        let (line, errors) = refused(right, wrong);
        assert_eq!(errors, [format!("line {line}: {message}")], "{wrong}");
    }
}

#[test]
fn a_wrong_control_is_reported_with_the_known_ones() {
    for wrong in ["change 120", "change", "sustain", "key pressure 128", "registered 16384", ""] {
        let (line, errors) = refused("change 64", wrong);
        let start = format!("line {line}: control '{wrong}' is not program, change 0 to 119, bend");
        assert!(errors[0].starts_with(&start), "{}", errors[0]);
    }
}

#[test]
fn a_quoted_value_is_shortened_and_escaped() {
    let (_, errors) = refused("A minor", &format!("\\u{{1b}}[31m{}", "x".repeat(100_000)));
    assert!(errors[0].starts_with("line 4: '\\u{1b}[31mxxx"), "{}", errors[0]);
    assert!(
        errors[0]
            .ends_with("x' is not a key: use a note name from Cb to C# and 'major' or 'minor'")
    );
    assert!(errors[0].len() < 450, "{}", errors[0].len());
}

#[test]
fn points_must_be_in_time_order() {
    let (line, errors) = refused(
        "(at: \"1.4.0\", value: 0)",
        "(at: \"1.4.0\", value: 0), (at: \"1.3.0\", value: 0)",
    );
    let message =
        "the point at 1.3.0 is listed after the one at 1.4.0; points must be in time order";
    assert_eq!(errors, [format!("line {line}: {message}")]);
}

#[test]
fn programs_in_a_lane_count_from_one() {
    let lane = "control: \"change 64\"";
    let text = example().replacen(lane, "control: \"program\"", 1);
    let errors = text::read(&text).unwrap_err();
    assert_eq!(errors[0].message, "value 0 is outside 1 to 128");
}

#[test]
fn a_duplicate_id_or_letter_is_reported_with_the_line_of_the_first() {
    let first = |id: &str| example().split(id).next().unwrap().matches('\n').count() + 1;
    for (right, id) in [("id: 2,", 1), ("id: 3,\n", 1), ("id: 7,\n", 3)] {
        let end = right.trim_start_matches(char::is_alphabetic).len() - 4;
        let wrong = format!("id: {id},{}", &"\n"[..end]);
        let (line, errors) = refused(right, &wrong);
        let earlier = first(&format!("id: {id},"));
        let expected = format!("line {line}: id {id} is already used on line {earlier}");
        assert!(errors.contains(&expected), "{errors:?}");
    }
    let (line, errors) = refused("letter: \"B\"", "letter: \"A\"");
    let earlier = first("letter: \"A\"");
    let expected = format!("line {line}: section A is already on line {earlier}");
    assert!(errors.contains(&expected), "{errors:?}");
}

#[test]
fn two_notes_of_a_pass_with_one_id_are_reported_with_the_line_of_the_first() {
    let (line, errors) = refused("(id: 2, at", "(id: 1, at");
    assert_eq!(errors, [format!("line {line}: id 1 is already used on line {}", line - 1)]);
}

#[test]
fn two_lanes_of_one_control_and_channel_may_not_start_together() {
    let twice = |channel: u8| {
        let other = format!(
            "lanes: [\n(control: \"change 64\", channel: {channel}, from: \"1.1.0\", to: \"1.2.0\", \
             points: [(at: \"1.1.0\", value: 9)]),\n"
        );
        example().replacen("lanes: [\n", &other, 1)
    };
    // The pass is on channel 2.
    let errors = text::read(&twice(2)).unwrap_err();
    let line = twice(2).split("lanes: [").next().unwrap().matches('\n').count() + 1;
    let message = format!("a lane of change 64 starting there is already on line {}", line + 1);
    assert_eq!(errors.iter().map(|error| &error.message).collect::<Vec<_>>(), [&message]);
    assert_eq!(errors[0].line, line + 3);
    assert!(text::read(&twice(3)).is_ok());
}

#[test]
fn a_mistake_in_the_layout_is_reported_in_plain_words() {
    for (right, wrong, message) in [
        (
            "velocity: 101",
            "velo: 101",
            "a note has no field 'velo'; its fields are \
             id, at, length, key, velocity, release, channel and placed",
        ),
        (", velocity: 101", "", "the note that ends here is missing its field 'velocity'"),
        (
            "(pass: 7,",
            "(pass: 7, note: 1,",
            "a pass has no field 'note'; its fields are pass and mute",
        ),
        (
            "(pass: 7, mute: true)",
            "(mute: true, pass: 7, mute: true)",
            "the field 'mute' is given twice",
        ),
        ("key: 36", "key: 36, key: 37", "the field 'key' is given twice"),
        ("key: 36,", "key: 36", "expected comma"),
        ("(id: 1, at", "4, (id: 1, at", "expected '(' to open a note"),
        ("(id: 1, at", "Chord(id: 1, at", "expected '(' to open a note, found 'Chord'"),
        ("grid: \"1/16\"", "grid: ", "unexpected char ','"),
        (
            "(at: \"1.1.0\", tempo",
            "(at: \"1.1.0\", bpm",
            "a tempo has no field 'bpm'; its fields are at, tempo and ramp",
        ),
        (
            "ramp: [500000, 510000, 520000]",
            "ramp: []",
            "the list is empty; a ramp needs at least one tempo",
        ),
    ] {
        let (line, errors) = refused(right, wrong);
        assert_eq!(errors, [format!("line {line}: {message}")], "{wrong}");
    }
}

#[test]
fn a_song_needs_a_version_and_one_section() {
    let least = "(chaconne:1,sections:[(letter:\"A\",bars:1,metre:\"4/4\",tempo:500000)])";
    assert_eq!(text::read(least).unwrap().sections.len(), 1);
    for (text, message) in [
        ("", "line 1: expected '(' to open a song"),
        ("()", "line 1: the song that ends here is missing its field 'chaconne'"),
        ("(\n\nchaconne: 1)", "line 3: the song that ends here is missing its field 'sections'"),
        ("(chaconne: 1,\nsections: [])", "line 2: the list is empty; it needs at least one entry"),
        (
            "(chaconne: 1, sections: [(letter: \"A\", bars: 1, metre: [], tempo: 500000)])",
            "line 1: the list is empty; it needs at least one metre",
        ),
        (
            "(chaconne: 1, sections: [(letter: \"A\", bars: 1, metre: \"4/4\", tempo: [])])",
            "line 1: the list is empty; it needs at least one tempo",
        ),
    ] {
        let errors = text::read(text).unwrap_err();
        assert_eq!(errors.iter().map(ToString::to_string).collect::<Vec<_>>(), [message]);
    }
    let twice = format!("{least}\n{least}");
    let error = text::read(&twice).unwrap_err().remove(0).to_string();
    assert_eq!(error, "line 2: there is more text after the last closing bracket");
}

#[test]
fn for_a_later_version_the_version_is_the_only_error() {
    let message =
        "the song is written in version 3 of the song text; this program reads versions 1 to 2";
    for (right, wrong) in [
        ("chaconne: 2", "chaconne: 3"),
        ("chaconne: 2", "chaconne: 3, mood: \"calm\""),
        ("chaconne: 2,", "chaconne: 3, tracks: (new: [1]), tracks_before: ["),
    ] {
        let text = example().replacen(right, wrong, 1).replacen("before: [\n    title", "title", 1);
        let text = text.replace("tracks_before: [", "");
        let errors = text::read(&text).unwrap_err();
        assert_eq!(errors[0].to_string(), format!("line 2: {message}"), "{wrong}");
        assert_eq!(errors.len(), 1);
    }
}

#[test]
fn several_wrong_values_are_reported_together_in_order() {
    let text = example().replace("velocity: 9", "velocity: 9000").replace("bars: 3", "bars: 0");
    let errors = text::read(&text).unwrap_err();
    let lines: Vec<usize> = errors.iter().map(|error| error.line).collect();
    assert_eq!(errors.len(), 3, "{errors:?}");
    assert!(lines.is_sorted());
    assert_eq!(errors[2].message, "bars 0 is outside 1 to 999");
    let notes = "(id: 1, at: \"1.1.0\", length: 0, key: 200, velocity: 0),\n".repeat(5000);
    let many = example().replacen("notes: [", &format!("notes: [{notes}"), 1);
    assert_eq!(text::read(&many).unwrap_err().len(), text::MOST_ERRORS);
}

#[test]
fn lines_and_columns_count_characters_and_skip_comments() {
    let text = example().replacen("key: 36", "/* è\n// é */ key: // the drum\n   /* ü */ 360", 1);
    let errors = text::read(&text).unwrap_err();
    let line = text.lines().position(|line| line.contains("360")).unwrap() + 1;
    let column = "   /* ü */ ".chars().count() + 1;
    assert_eq!((errors[0].line, errors[0].column), (line, column));
    let crlf = text.replace('\n', "\r\n");
    assert_eq!(text::read(&crlf).unwrap_err()[0].line, line);
    let marked = format!("\u{feff}{text}");
    assert_eq!(text::read(&marked).unwrap_err()[0].line, line);
}

#[test]
fn too_many_tracks_or_sections_in_the_form_are_refused() {
    let mut tracks = String::new();
    for id in 1..=Song::MAX_TRACKS + 1 {
        writeln!(tracks, "(id: {}, name: \"Choir\"),", id + 10).unwrap();
    }
    let text = example().replacen("tracks: [\n", &format!("tracks: [\n{tracks}"), 1);
    let errors = text::read(&text).unwrap_err();
    assert_eq!(errors[0].message, "a song has at most 4096 tracks; this is one more");
    let form = vec!["A"; 10_001].join(" ");
    let errors = text::read(&example().replacen("A (A B) x2 A", &form, 1)).unwrap_err();
    let message = "the form plays 10001 sections; the most it may play is 10000";
    assert_eq!(errors[0].message, message);
}

/// Reads any text and checks the song or the errors. Returns whether it is a song.
fn answer(text: &str) -> bool {
    match text::read(text) {
        Ok(song) => {
            let written = text::write(&song);
            assert_eq!(text::read(&written).as_ref(), Ok(&song), "{text}");
            true
        }
        Err(errors) => {
            assert!((1..=text::MOST_ERRORS).contains(&errors.len()));
            let lines = text.matches('\n').count() + 1;
            for error in errors {
                assert!((1..=lines).contains(&error.line) && error.column >= 1, "{error:?}");
                let message = &error.message;
                assert!(!message.is_empty() && message.len() < 600, "{message}");
                assert!(!message.contains(char::is_control), "{message:?}");
            }
            false
        }
    }
}

#[test]
fn a_text_cut_short_anywhere_is_refused() {
    let whole = example().trim_end();
    for end in 0..whole.len() {
        if let Some(text) = whole.get(..end) {
            assert!(!answer(text), "cut at {end}");
        }
    }
    assert!(answer(whole));
}

#[test]
fn very_long_or_deeply_nested_texts_are_refused() {
    let deep = 200_000;
    for text in [
        "(".repeat(deep),
        "[".repeat(deep),
        "{".repeat(deep),
        "/*".repeat(deep),
        "Some(".repeat(deep),
        "(a:".repeat(deep),
        "(chaconne:".repeat(deep),
        format!("(chaconne: 1, sections: {}", "[".repeat(deep)),
        format!("(chaconne: 1, title: {}", "(".repeat(deep)),
        format!("(chaconne: 1, title: {}", "[(a: ".repeat(deep)),
        format!("(chaconne: 1, title: {}{}", "Some(".repeat(deep), ")".repeat(deep)),
        format!("(chaconne: {}, sections: [])", "9".repeat(deep)),
        format!("(chaconne: 1e{}, sections: [])", "9".repeat(deep)),
        format!("(chaconne: 1, sections: [{}])", "(),".repeat(deep)),
        format!("(chaconne: 1, title: \"{}\")", "\\u{1f600}".repeat(deep)),
        "\0".repeat(deep),
        "\u{10ffff}\n".repeat(deep),
        "#![enable(implicit_some)]".repeat(1000),
        "r#".repeat(deep),
        "'".repeat(deep),
        "0x".repeat(deep),
    ] {
        assert!(!answer(&text), "{}", &text[..40.min(text.len())]);
    }
}

/// Changes a text a little, as a typing mistake or a bad disk would.
fn mutate(text: &str, chooser: &mut Chooser) -> String {
    let pieces = [
        "(",
        ")",
        "[",
        "]",
        ",",
        ":",
        "\"",
        "\\",
        "-",
        "0",
        "99999999999",
        "Some(",
        "None",
        "//",
        "/*",
        "é",
        "\n",
        "id: 1",
        "placed: ()",
        "1.1.0",
        "\0",
        "{",
        "'",
        "r#\"",
        "inf",
        "..",
    ];
    let mut bytes = text.as_bytes().to_vec();
    for _ in 0..chooser.within(1, 4) {
        let at = chooser.within(0, bytes.len() as i64 - 1) as usize;
        let end = (at + chooser.within(0, 12) as usize).min(bytes.len());
        match chooser.within(0, 3) {
            0 => bytes[at] = chooser.within(0, 255) as u8,
            1 => drop(bytes.drain(at..end)),
            2 => drop(bytes.splice(at..at, chooser.pick(&pieces).bytes())),
            _ => {
                let copy = bytes[at..end].to_vec();
                let to = chooser.within(0, bytes.len() as i64) as usize;
                drop(bytes.splice(to..to, copy));
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]
    #[test]
    fn a_changed_song_is_read_or_refused(tape in tape(40)) {
        answer(&mutate(example(), &mut Chooser::new(tape)));
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*") {
        answer(&text);
    }
}

#[test]
fn some_changed_songs_are_read_and_some_refused() {
    let read = (1..400)
        .filter(|&seed| answer(&mutate(example(), &mut Chooser::new(steady_tape(seed, 40)))));
    let count = read.count();
    assert!((5..395).contains(&count), "{count}");
}

#[test]
fn the_fields_of_a_layer_may_be_in_any_order() {
    for (right, wrong) in [
        ("(pass: 7, mute: true)", "(mute: true, pass: 7)"),
        ("id: 7,\n                    track: 2,", "mute: false, track: 2,\n id: 7,"),
    ] {
        assert!(example().contains(right), "{right}");
        let text = example().replacen(right, wrong, 1);
        let text = text.replacen("channel: 2,\n                    mute: true,", "channel: 2,", 1);
        assert!(text::read(&text).is_ok(), "{wrong}: {:?}", text::read(&text));
    }
}
