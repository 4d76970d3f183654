//! Time code and machine control as a recorder at the far end of a cable receives them.
//!
//! mido, a general Python library for MIDI, reads the bytes (`tests/python/read_wire.py`). The expected
//! messages are from MIDI Time Code ("Quarter Frame Messages", "Full Message") and MIDI Machine Control
//! 1.0, MMA RP-013; bar one is 01:00:00:00 (common practice; no source).
#![cfg(unix)]

use chaconne_tests::fifo::{Tape, make};
use chaconne_tests::program::{PATIENCE, finish, run, signal, spawn};
use chaconne_tests::python::lines_of;
use rustix::process::Signal;
use std::path::Path;

/// Two bars of 4/4 at 240 BPM, which last two seconds, with a note at their start.
const SONG: &str = r#"(
    chaconne: 2,
    title: "To tape",
    tracks: [(id: 1, name: "Keys", channel: 1)],
    sections: [(
        letter: "A",
        bars: 2,
        metre: "4/4",
        tempo: 250000,
        layers: [(id: 2, track: 1, length: "2 bars", notes: [
            (id: 3, at: "1.1.0", length: 900, key: 62, velocity: 90),
        ])],
    )],
)"#;
/// The full message of bar one at 25 frames per second: rate 1 in the upper bits of the hour byte.
const FULL_25: &str = "exclusive F0 7F 7F 01 01 21 00 00 00 F7";
/// The same at 29.97 frames per second, which is rate 2.
const FULL_29: &str = "exclusive F0 7F 7F 01 01 41 00 00 00 F7";
const LOCATE: &str = "exclusive F0 7F 7F 06 44 06 01 21 00 00 00 00 F7";
const PLAY: &str = "exclusive F0 7F 7F 06 02 F7";
const STOP: &str = "exclusive F0 7F 7F 06 01 F7";

/// What mido reads in these bytes.
fn read(folder: &Path, bytes: &[u8]) -> Vec<String> {
    let path = folder.join("bytes");
    std::fs::write(&path, bytes).unwrap();
    lines_of("read_wire.py", &[path.to_str().unwrap()])
}

fn place(lines: &[String], wanted: &str) -> usize {
    let found = lines.iter().position(|line| line == wanted);
    found.unwrap_or_else(|| panic!("no '{wanted}' in {:?}", &lines[..lines.len().min(40)]))
}

/// The quarter frames as piece and value.
fn quarters(lines: &[String]) -> Vec<(u8, u8)> {
    let rests = lines.iter().filter_map(|line| line.strip_prefix("quarter "));
    let parts = rests.filter_map(|rest| rest.split_once(' '));
    parts.map(|(piece, value)| (piece.parse().unwrap(), value.parse().unwrap())).collect()
}

/// The time code of each complete set of eight quarter frames: rate, hours, minutes, seconds, frames.
fn codes(quarters: &[(u8, u8)]) -> Vec<[u8; 5]> {
    let code = |set: &[(u8, u8)]| {
        assert!((0..8).eq(set.iter().map(|&(piece, _)| piece)), "{set:?}");
        let value = |piece: usize| set[piece].1 | set[piece + 1].1 << 4;
        [value(6) >> 5, value(6) & 31, value(4), value(2), value(0)]
    };
    quarters.chunks_exact(8).map(code).collect()
}

#[test]
fn a_recorder_is_located_started_kept_in_time_and_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("song.ron");
    std::fs::write(&song, SONG).unwrap();
    let (tape, drop) = (make(folder.path(), "tape"), make(folder.path(), "drop"));
    let ends = (Tape::open(&tape), Tape::open(&drop));
    let ports = [
        format!("tape=bytes:{},clock,mtc=25,mmc", tape.display()),
        format!("drop=bytes:{},mtc=29.97", drop.display()),
    ];
    let song = song.to_str().unwrap();
    let run = ["rehearse", song, "--rounds", "1", "--out", &ports[0], "--out", &ports[1]];
    finish(spawn(&run), PATIENCE).ends(0);

    let lines = read(folder.path(), &ends.0.close());
    let marks = [FULL_25, LOCATE, PLAY, STOP].map(|mark| place(&lines, mark));
    assert!(marks.is_sorted(), "{marks:?}");
    let first = lines.iter().position(|line| line.starts_with("quarter")).unwrap();
    assert!(marks[1] < first, "the position is sent before time runs");
    // After Stop the position is sent, which is the top again at the end of the song.
    let after: Vec<&str> = lines[marks[3] + 1..].iter().map(String::as_str).collect();
    assert!(after.iter().all(|line| !line.starts_with("quarter")), "{after:?}");
    assert_eq!(after.iter().filter(|&&line| line == FULL_25).count(), 1, "{after:?}");
    assert!(place(&lines, "start") < place(&lines, "note_on"));
    // Two seconds are 50 frames, and a code takes two. The program may stop a moment after the last.
    let sent = codes(&quarters(&lines));
    assert!(sent.len() >= 25, "{}", sent.len());
    for (code, frame) in sent.into_iter().zip((0..).step_by(2)) {
        assert_eq!(code, [1, 1, 0, frame / 25, frame % 25]);
    }

    let lines = read(folder.path(), &ends.1.close());
    assert!(place(&lines, FULL_29) < lines.iter().position(|l| l.starts_with("quarter")).unwrap());
    let full: Vec<&String> = lines.iter().filter(|line| line.starts_with("exclusive")).collect();
    assert_eq!(full, [FULL_29, FULL_29], "the position before the start and at the end");
    assert!(!lines.iter().any(|line| line == "clock"));
    // 2 s * 30,000 / 1,001 are 59.9 frames.
    let sent = codes(&quarters(&lines));
    assert!(sent.len() >= 29, "{}", sent.len());
    for (code, frame) in sent.into_iter().zip((0..).step_by(2)) {
        assert_eq!(code, [2, 1, 0, frame / 30, frame % 30]);
    }
}

#[test]
fn a_signal_stops_the_recorder_too() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("song.ron");
    std::fs::write(&song, SONG).unwrap();
    let tape = make(folder.path(), "tape");
    let end = Tape::open(&tape);
    let port = format!("bytes:{},mtc=25,mmc", tape.display());
    let child = spawn(&["rehearse", song.to_str().unwrap(), "--out", &port]);
    end.wait_for(0xF1, 100);
    signal(child.id(), Signal::TERM);
    finish(child, PATIENCE).ends(0);
    let lines = read(folder.path(), &end.close());
    let stop = place(&lines, STOP);
    let after = &lines[stop + 1..];
    assert!(after.iter().all(|line| !line.starts_with("quarter")), "{after:?}");
    // The position is where the song would continue, at most a sixteenth (62.5 ms, two frames) before
    // the last code.
    let codes = codes(&quarters(&lines));
    let frames = |[_, _, m, s, f]: [u8; 5]| (i64::from(m) * 60 + i64::from(s)) * 25 + i64::from(f);
    let last = frames(codes[codes.len() - 1]);
    let full = after.iter().filter_map(|line| line.strip_prefix("exclusive F0 7F 7F 01 01 21 "));
    let full: Vec<i64> = full.map(|rest| frames(code_of(rest))).collect();
    assert_eq!(full.len(), 1, "{after:?}");
    assert!(full[0] >= last - 2, "{full:?} after {last}");
}

#[test]
fn a_rehearsal_from_a_later_bar_sends_its_position_and_continue() {
    let folder = tempfile::tempdir().unwrap();
    let song = folder.path().join("song.ron");
    std::fs::write(&song, SONG).unwrap();
    let tape = make(folder.path(), "tape");
    let end = Tape::open(&tape);
    let port = format!("bytes:{},clock,mtc=25", tape.display());
    let song = song.to_str().unwrap();
    let words = ["rehearse", song, "--times", "1", "--from", "2", "--out", &port];
    finish(spawn(&words), PATIENCE).ends(0);
    let lines = read(folder.path(), &end.close());
    // Bar 2 is a second after bar one; time code starts at the next even frame.
    let full = place(&lines, "exclusive F0 7F 7F 01 01 21 00 01 01 F7");
    let (position, start) = (place(&lines, "songpos"), place(&lines, "continue"));
    assert!(full < start && position < start, "{lines:?}");
    assert!(!lines.iter().any(|line| line == "start" || line == "note_on"), "{lines:?}");
    // The song has two bars.
    let ran = run(&["rehearse", song, "--from", "3"]).ends(2);
    assert!(ran.err.contains("there is no bar 3; bars run from 1 to 2"), "{}", ran.err);
}

/// The time code of a full message at 25 frames per second, from the text after its hour.
fn code_of(rest: &str) -> [u8; 5] {
    let mut parts = rest.split(' ').map(|part| u8::from_str_radix(part, 16).unwrap());
    let mut next = || parts.next().unwrap();
    [1, 1, next(), next(), next()]
}
