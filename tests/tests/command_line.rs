//! The command line: exit codes, one sentence for each error, and no harm from broken files.

use chaconne_tests::program::{PATIENCE, Ran, command, finish, run};
use std::path::Path;
use std::process::Stdio;

/// A song with two passes and a pedal, written by hand.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Two layers",
    key: "D minor",
    form: "A A",
    tracks: [
        (id: 1, name: "Keys", channel: 2, program: 5),
        (id: 2, name: "Kit", channel: 10, pitched: false, feel: (grid: "1/16", swing: 56)),
    ],
    sections: [
        (
            letter: "A",
            bars: 2,
            metre: "4/4",
            tempo: 500000, // 120 BPM
            layers: [
                (
                    id: 3,
                    track: 1, // "Keys"
                    length: "2 bars",
                    notes: [
                        (id: 4, at: "1.1.0", length: 900, key: 62, velocity: 80),
                        (id: 5, at: "2.2.100", length: 400, key: 65, velocity: 81),
                    ],
                ),
                (
                    id: 6,
                    track: 2, // "Kit"
                    length: "1 bar",
                    channel: 10,
                    notes: [
                        (id: 7, at: "0.4.950", length: 60, key: 36, velocity: 100),
                        (id: 8, at: "1.3.7", length: 60, key: 38, velocity: 90),
                    ],
                ),
            ],
        ),
    ],
)
"#;

fn text_of(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_song_is_created_checked_listed_exported_and_imported_again() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let (song, midi, back) = (at("waltz.ron"), at("waltz.mid"), at("back.ron"));
    let new = ["new", text_of(&song), "--bars", "8", "--tempo", "87.5", "--metre", "3/4"];
    run(&new).ends(0);
    let text = std::fs::read_to_string(&song).unwrap();
    assert!(text.contains("bars: 8") && text.contains("metre: \"3/4\""), "{text}");
    // 60,000,000 / 87.5, rounded: microseconds per quarter note, as in a Standard MIDI File.
    assert!(text.contains("tempo: 685714"), "{text}");
    let sentence = run(&new).refused();
    assert!(sentence.ends_with("waltz.ron already exists; --replace overwrites it"), "{sentence}");
    run(&[&new[..], &["--replace"]].concat()).ends(0);
    std::fs::write(&song, SONG).unwrap();
    run(&["check", text_of(&song)]).ends(0);
    let listing = run(&["list", text_of(&song)]).ends(0).out;
    assert_eq!(listing, run(&["list", text_of(&song)]).ends(0).out);
    // Two notes, and a bar of two strokes that sounds twice; the form has the section twice.
    assert_eq!(listing.lines().filter(|line| line.contains(" note ")).count(), 2 * (2 + 4));
    run(&["export", text_of(&song), "--midi", text_of(&midi)]).ends(0);
    let first = std::fs::read(&midi).unwrap();
    let again = ["export", text_of(&song), "--midi", text_of(&midi)];
    let sentence = run(&again).refused();
    assert!(sentence.ends_with("waltz.mid already exists; --replace overwrites it"), "{sentence}");
    run(&[&again[..], &["--replace"]].concat()).ends(0);
    assert_eq!(first, std::fs::read(&midi).unwrap(), "same song, same bytes");
    run(&["import", text_of(&midi), text_of(&back)]).ends(0);
    run(&["check", text_of(&back)]).ends(0);
    let notes = |listing: &str| {
        let notes = listing.lines().filter(|line| line.contains(" note "));
        let words = |line: &str| {
            let words: Vec<&str> = line.split_whitespace().collect();
            // The position and the content; the import renames the section.
            (words[0].to_string(), words[3..].join(" "))
        };
        notes.map(words).collect::<Vec<_>>()
    };
    let again = run(&["list", text_of(&back)]).ends(0).out;
    assert_eq!(notes(&again), notes(&listing));
    assert!(run(&["import", text_of(&midi), text_of(&back)]).refused().contains("back.ron"));
}

#[test]
fn chords_are_written_outlined_and_refused_with_their_bar() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("a.ron");
    let song = text_of(&song);
    run(&["new", song, "--bars", "4"]).ends(0);
    run(&["chords", song, "C | Am7 | Dm7 G7 | C"]).ends(0);
    run(&["check", song]).ends(0);
    let outline = run(&["outline", song, "--section", "a"]).ends(0).out;
    let expected = "section A, 4 bars, no key set\n  \
        chords        C | Am7 | Dm7 G7 | C\n  \
        notes suggest no key\n";
    assert_eq!(outline, expected);
    let text = std::fs::read_to_string(song).unwrap();
    assert!(text.contains("(at: \"3.3.0\", chord: \"G7\")"), "{text}");
    // Nothing is changed by a chart that is refused, or that is there already.
    let sentence = run(&["chords", song, "C | H"]).refused();
    assert!(sentence.contains("section A: bar 2: 'H' is not a chord"), "{sentence}");
    let sentence = run(&["chords", song, "C", "--section", "B"]).refused();
    assert!(sentence.ends_with("there is no section B; sections: A"), "{sentence}");
    run(&["chords", song, "C|Am7|Dm7 G7|C"]).ends(0);
    assert_eq!(std::fs::read_to_string(song).unwrap(), text);
    run(&["chords", song, ""]).ends(0);
    assert!(run(&["outline", song]).ends(0).out.contains("chords        none"));
}

#[test]
fn lay_replaces_only_its_own_song_without_the_option() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let (song, take, other) = (at("a.ron"), at("take.mid"), at("other.ron"));
    std::fs::write(&song, SONG).unwrap();
    std::fs::write(&take, midi()).unwrap();
    std::fs::write(&other, "kept").unwrap();
    let (song, taken) = (text_of(&song), text_of(&take));
    let lay = ["lay", song, "--track", "Lead", "--from", taken];
    let lay_to = |words: &[&str]| run(&[&lay[..], words].concat());
    lay_to(&[]).ends(0);
    lay_to(&["--save-as", song]).ends(0);
    let sentence = lay_to(&["--save-as", text_of(&other)]).refused();
    assert!(sentence.ends_with("other.ron already exists; --replace overwrites it"), "{sentence}");
    assert_eq!(std::fs::read_to_string(&other).unwrap(), "kept");
    // The take it reads is not a song, so not even --replace overwrites it.
    let sentence = lay_to(&["--save-as", taken, "--replace"]).refused();
    assert!(sentence.ends_with("is not a song, so it is not replaced"), "{sentence}");
    assert_eq!(std::fs::read(&take).unwrap(), midi());
    lay_to(&["--save-as", text_of(&other), "--replace"]).ends(0);
    run(&["check", text_of(&other)]).ends(0);
}

#[test]
fn commands_that_read_a_song_mention_its_rescue_copy() {
    let folder = tempfile::tempdir().unwrap();
    let (song, copy) = (folder.path().join("a.ron"), folder.path().join("a.rescue.ron"));
    std::fs::write(&song, SONG).unwrap();
    std::fs::write(&copy, SONG).unwrap();
    let (song, copy) = (text_of(&song), text_of(&copy));
    let sentence = format!(
        "{copy} holds unsaved changes to {song}; 'chaconne sketch' offers to restore them\n"
    );
    for job in ["list", "check"] {
        assert_eq!(run(&[job, song]).ends(0).err, sentence, "{job}");
        assert_eq!(run(&[job, copy]).ends(0).err, "", "{job}");
    }
}

#[test]
fn a_rescue_copy_that_is_older_than_the_song_is_not_mentioned() {
    let folder = tempfile::tempdir().unwrap();
    let (song, copy) = (folder.path().join("a.ron"), folder.path().join("a.rescue.ron"));
    // The song's file did not exist when the copy was written, and has been saved since.
    let head = "// written: 1, held: no file, beside: no file\n";
    std::fs::write(&song, SONG).unwrap();
    std::fs::write(&copy, format!("{head}{SONG}")).unwrap();
    assert_eq!(run(&["list", text_of(&song)]).ends(0).err, "");
    run(&["check", text_of(&copy)]).ends(0);
}

#[test]
fn a_midi_file_is_refused_as_a_song_and_a_song_as_a_midi_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| text_of(&folder.path().join(name)).to_string();
    let (song, take, other) = (at("a.ron"), at("a.mid"), at("other.mid"));
    std::fs::write(&song, SONG).unwrap();
    std::fs::write(&take, midi()).unwrap();
    for arguments in [
        vec!["list", &take],
        vec!["check", &take],
        vec!["rehearse", &take],
        vec!["export", &take, "--midi", &other],
        vec!["lay", &take, "--track", "T", "--from", &take],
    ] {
        let sentence = run(&arguments).refused();
        assert!(sentence.contains("is a Standard MIDI File, not a song"), "{sentence}");
        assert!(sentence.contains("chaconne import"), "{sentence}");
    }
    for arguments in
        [vec!["import", &song, &other], vec!["lay", &song, "--track", "T", "--from", &song]]
    {
        let sentence = run(&arguments).refused();
        assert!(sentence.contains("is a song, not a Standard MIDI File"), "{sentence}");
    }
}

#[test]
fn a_failed_check_and_an_error_have_different_exit_codes() {
    let folder = tempfile::tempdir().unwrap();
    let (good, bad) = (folder.path().join("good.ron"), folder.path().join("bad.ron"));
    std::fs::write(&good, SONG).unwrap();
    std::fs::write(&bad, SONG.replace("velocity: 80", "velocity: 200")).unwrap();
    run(&["check", text_of(&good)]).ends(0);
    let ran = run(&["check", text_of(&good), text_of(&bad)]).ends(1);
    let line = 1 + SONG.lines().position(|line| line.contains("velocity: 80")).unwrap();
    let place = format!("bad.ron:{line}: velocity 200 is outside 1 to 127");
    assert!(ran.out.contains(&place), "{}", ran.out);
    run(&["check", text_of(&folder.path().join("none.ron"))]).refused();
    for arguments in [vec!["list"], vec!["play"], vec!["new", "a.ron", "--bars", "0"], vec![]] {
        let ran = run(&arguments).ends(2);
        assert!(!ran.err.is_empty(), "{arguments:?}");
    }
    for arguments in [vec!["--help"], vec!["--version"], vec!["lay", "--help"]] {
        assert!(run(&arguments).ends(0).out.contains("chaconne"));
    }
    for job in ["list", "rehearse"] {
        let sentence = run(&[job, text_of(&bad)]).refused();
        assert!(sentence.contains(&place), "{sentence}");
    }
}

#[test]
fn check_reports_where_a_serial_cable_would_be_late() {
    // Ten notes of one channel and a clock pulse fall on the last beat of bar 2. With running status,
    // that is 21 + 1 bytes of 320 us (MIDI 1.0 Detailed Specification, "Hardware"), or 7.04 ms.
    let notes: String = (8..18)
        .map(|id| {
            let key = id + 32;
            format!("(id: {}, at: \"2.4.0\", length: 400, key: {key}, velocity: 80),", id + 1)
        })
        .collect();
    let song = SONG
        .replace("name: \"Keys\",", "name: \"Keys\", port: \"desk\",")
        .replace("(id: 5,", &format!("{notes}(id: 5,"));
    let folder = tempfile::tempdir().unwrap();
    let (late, plain) = (folder.path().join("late.ron"), folder.path().join("plain.ron"));
    std::fs::write(&late, song).unwrap();
    std::fs::write(&plain, SONG).unwrap();
    let ran = run(&["check", text_of(&plain), text_of(&late)]).ends(0);
    let sentence = "late.ron: on a serial MIDI cable port 'desk' would be 7.1 ms late in section \
                    A, bar 2; 2 bars are later than 6 ms\n2 songs checked, no errors found; 1 \
                    would be late on a serial cable (see above)\n";
    assert!(ran.out.ends_with(sentence) && ran.out.lines().count() == 2, "{}", ran.out);
    let ran = run(&["check", text_of(&late), "--late", "7"]).ends(1);
    assert!(ran.out.ends_with("2 bars are later than 7 ms\n"), "{}", ran.out);
    assert_eq!(
        run(&["check", text_of(&late), "--late", "8"]).ends(0).out,
        "1 song checked, no errors found\n"
    );
    // The last beat of bar 2 is at a whole second, where a quarter frame of two bytes falls (MIDI
    // Time Code, "Quarter Frame Messages"): 24 bytes, 7.68 ms.
    let with_code = ["--out", "desk=none,serial,mtc=25"];
    let ran = run(&[&["check", text_of(&late)], &with_code[..]].concat()).ends(0);
    assert!(ran.out.contains("port 'desk' would be 7.7 ms late"), "{}", ran.out);
    let ran = run(&["check", text_of(&late), "--out", "none"]).refused();
    assert!(ran.contains("none of these outputs is marked as a serial MIDI cable"), "{ran}");
}

/// Asserts that a song is refused with its file's name, and that nothing is exported.
fn refuses_song(folder: &Path, text: &[u8], what: &str) {
    let (path, midi) = (folder.join("broken.ron"), folder.join("none.mid"));
    std::fs::write(&path, text).unwrap();
    let ran = run(&["check", text_of(&path)]);
    assert!(matches!(ran.code, Some(1 | 2)), "{what}: {ran:?}");
    assert!(!ran.err.contains("panicked"), "{what}: {}", ran.err);
    let printed = format!("{}{}", ran.out, ran.err);
    assert!(printed.contains("broken.ron"), "{what}: {printed}");
    assert!(printed.len() < 10_000, "{what}: printed {} bytes", printed.len());
    let export = run(&["export", text_of(&path), "--midi", text_of(&midi)]).ends(2);
    assert!(export.err.contains("broken.ron") && !midi.exists(), "{what}");
}

#[test]
fn broken_songs_are_refused_with_their_name() {
    let folder = tempfile::tempdir().unwrap();
    // A song may be cut nowhere; only the white space after its last bracket may be missing.
    let whole = SONG.trim_end().len();
    for cut in (0..whole).step_by(67).chain([whole - 1]) {
        refuses_song(folder.path(), &SONG.as_bytes()[..cut], &format!("cut at {cut}"));
    }
    let wild = [
        ("bars: 2", "bars: 99999999999999999999"),
        ("bars: 2", "bars: -1"),
        ("\"2 bars\"", "\"1000 bars\""),
        ("tempo: 500000", "tempo: 1"),
        ("\"4/4\"", "\"4/0\""),
        ("track: 1,", "track: 77,"),
        ("id: 4,", "id: 5,"),
        ("\"2.2.100\"", "\"9999999999.1.0\""),
        ("\"A A\"", "\"A Z\""),
        ("chaconne: 2", "chaconne: 3"),
        ("swing: 56", "swing: 99"),
        ("length: 900", "length: 0"),
        ("name: \"Keys\"", "volum: 3"),
    ];
    for (right, wrong) in wild {
        let text = SONG.replacen(right, wrong, 1);
        assert_ne!(text, SONG, "{right}");
        refuses_song(folder.path(), text.as_bytes(), wrong);
    }
    refuses_song(folder.path(), &[0xFF; 4096], "no text");
    refuses_song(folder.path(), "[".repeat(200_000).as_bytes(), "deep brackets");
    refuses_song(folder.path(), &[0; 100_000], "zeros");
}

/// A Standard MIDI File of format 1, written by hand: a tempo track, and one with two notes.
fn midi() -> Vec<u8> {
    let tempo = [0, 0xFF, 0x51, 3, 0x07, 0xA1, 0x20, 0, 0xFF, 0x2F, 0];
    let notes = [
        0, 0x90, 60, 100, 0x60, 0x80, 60, 64, 0, 0x90, 62, 101, 0x83, 0x00, 0x80, 62, 0, 0, 0xFF,
        0x2F, 0,
    ];
    let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x02\x01\xE0".to_vec();
    for track in [&tempo[..], &notes[..]] {
        bytes.extend(b"MTrk");
        bytes.extend((track.len() as u32).to_be_bytes());
        bytes.extend(track);
    }
    bytes
}

/// Imports a file. Returns the run, without the message that the song was created, and whether it was.
fn import(folder: &Path, bytes: &[u8]) -> (Ran, bool) {
    let (from, to) = (folder.join("wild.mid"), folder.join("wild.ron"));
    std::fs::write(&from, bytes).unwrap();
    let _ = std::fs::remove_file(&to);
    let mut ran = run(&["import", text_of(&from), text_of(&to)]);
    let created = format!("{} created\n", text_of(&to));
    assert_eq!(ran.err.contains(&created), to.exists(), "{ran:?}");
    ran.err = ran.err.replace(&created, "");
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    assert!(matches!(ran.code, Some(0 | 2)), "{ran:?}");
    assert!(ran.err.len() < 10_000);
    (ran, to.exists())
}

#[test]
fn midi_files_cut_anywhere_are_refused_or_read_with_a_remark() {
    let folder = tempfile::tempdir().unwrap();
    let whole = midi();
    let remarks = import(folder.path(), &whole).0.ends(0).err;
    assert_eq!(remarks, "", "the whole file needs no remark");
    for cut in 0..whole.len() {
        let (ran, created) = import(folder.path(), &whole[..cut]);
        assert!(!ran.err.is_empty(), "cut at {cut}: no message");
        assert!(created || ran.err.contains("wild.mid"), "cut at {cut}: {}", ran.err);
        // It is refused and no song is created, or it is read as far as possible with a remark.
        assert_eq!(created, ran.code == Some(0), "cut at {cut}");
    }
}

#[test]
fn midi_files_with_wrong_sizes_do_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let whole = midi();
    let second = whole.windows(4).rposition(|chunk| chunk == b"MTrk").unwrap();
    for at in [4, 18, second + 4] {
        for size in [0_u32, 1, 5, 7, 1000, 0x7FFF_FFFF, 0xFFFF_FFFF] {
            let mut bytes = whole.clone();
            bytes[at..at + 4].copy_from_slice(&size.to_be_bytes());
            let (ran, _) = import(folder.path(), &bytes);
            assert!(!ran.err.is_empty(), "size {size} at {at}: no message");
        }
    }
    // A division of 0 and one in SMPTE frames (Standard MIDI Files 1.0, "Header Chunks").
    for division in [[0, 0], [0xE7, 0x28]] {
        let mut bytes = whole.clone();
        bytes[12..14].copy_from_slice(&division);
        let (ran, created) = import(folder.path(), &bytes);
        ran.refused();
        assert!(!created);
    }
    // Single bytes are changed: the file may be read or refused, without a panic or a hang.
    for at in (0..whole.len()).step_by(3) {
        for value in [0, 0x7F, 0xFF] {
            let mut bytes = whole.clone();
            bytes[at] = value;
            import(folder.path(), &bytes);
        }
    }
    let (ran, created) = import(folder.path(), &[]);
    ran.refused();
    assert!(!created);
}

/// A song whose listing does not fit into a pipe (64 KiB on Linux, pipe(7)).
fn long_song() -> String {
    let notes: String = (0..4000)
        .map(|index| {
            let (bar, beat) = (1 + index / 4, 1 + index % 4);
            format!(
                "(id: {}, at: \"{bar}.{beat}.0\", length: 9, key: 60, velocity: 9),\n",
                10 + index
            )
        })
        .collect();
    format!(
        "(chaconne: 2, title: \"long\", tracks: [(id: 1, name: \"T\")], sections: [(letter: \"A\", \
         bars: 999, metre: \"4/4\", tempo: 500000, layers: [(id: 2, track: 1, length: \"999 bars\", \
         notes: [{notes}])])])"
    )
    .replace("at: \"1000.", "at: \"999.")
}

#[test]
fn a_listing_ends_quietly_when_its_reader_closes_the_pipe() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("long.ron");
    std::fs::write(&song, long_song()).unwrap();
    assert!(run(&["list", text_of(&song)]).ends(0).out.len() > 100_000);
    let mut list = command(&["list", text_of(&song)]);
    let mut child = list.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // Like `head`, which reads the first lines and closes the pipe.
    let mut first = [0; 10];
    std::io::Read::read_exact(child.stdout.as_mut().unwrap(), &mut first).unwrap();
    drop(child.stdout.take());
    let ran = finish(child, PATIENCE).ends(0);
    assert_eq!(ran.err, "");
}

#[test]
fn ports_are_listed_or_one_sentence_says_that_there_are_none() {
    let ran = run(&["ports"]);
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    assert!(matches!(ran.code, Some(0..=2)), "{ran:?}");
    let told = format!("{}{}", ran.out, ran.err);
    assert!(!told.trim().is_empty());
    // One sentence about JACK; one if ALSA's MIDI service, which is behind this device, is missing; and
    // one on how to use a port.
    assert_eq!(ran.err.lines().filter(|line| line.contains("jack:")).count(), 1, "{told}");
    assert!(ran.err.lines().last().is_some_and(|line| line.contains("--out PORT")), "{told}");
    if !Path::new("/dev/snd/seq").exists() && cfg!(target_os = "linux") {
        assert_eq!(ran.err.lines().count(), 3, "{told}");
        let missing = "the system's MIDI service does not answer, so there are no midi: ports";
        assert_eq!(ran.err.lines().next(), Some(missing), "{told}");
    }
}

#[test]
fn a_port_that_cannot_be_opened_is_reported_and_the_rest_works() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("fast.ron");
    std::fs::write(&song, SONG.replace("500000, // 120 BPM", "62500,")).unwrap();
    for port in ["midi:no such port", "bytes:/dev/no-such-device"] {
        let ran = run(&["rehearse", text_of(&song), "--rounds", "1", "--out", port]).ends(0);
        assert!(!ran.err.trim().is_empty(), "{port}: no message");
        assert!(ran.err.lines().count() <= 2, "{port}: {}", ran.err);
    }
}
