//! A rehearsal that begins elsewhere: with a count-in, at a bar, in a section. Each round is told in one line with
//! the right section, bar and round, and other gear is led to the same place.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::program::run;
use chaconne_tests::wire::{Heard, assert_balanced};

/// Pulses of MIDI clock in a bar of 4/4 (MIDI 1.0 Detailed Specification 4.2, "Timing Clock").
const BAR: usize = 96;

/// Two sections of two bars at 240 BPM, with a note in each bar: C and D, E and F.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Two doors",
    form: "A B",
    tracks: [(id: 1, name: "Pad", channel: 3)],
    sections: [
        (letter: "A", bars: 2, metre: "4/4", tempo: 250000, layers: [
            (id: 10, track: 1, length: "2 bars", notes: [
                (id: 1, at: "1.1.0", length: 240, key: 60, velocity: 90),
                (id: 2, at: "2.1.0", length: 240, key: 62, velocity: 90),
            ]),
        ]),
        (letter: "B", bars: 2, metre: "4/4", tempo: 250000, layers: [
            (id: 11, track: 1, length: "2 bars", notes: [
                (id: 1, at: "1.1.0", length: 240, key: 64, velocity: 90),
                (id: 2, at: "2.1.0", length: 240, key: 65, velocity: 90),
            ]),
        ]),
    ],
)"#;

/// Rehearses with options; returns the beginnings of the lines about rounds, and what was heard.
fn rehearse(options: &[&str]) -> (Vec<String>, Vec<Heard>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("doors.ron");
    std::fs::write(&path, SONG).unwrap();
    let out = make(folder.path(), "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let song = path.to_str().unwrap();
    let fixed = ["rehearse", song, "--out", &port, "--clock", "--times", "1"];
    let ran = run(&[&fixed, options].concat()).ends(0);
    let words = |line: &str| line.split_whitespace().take(5).collect::<Vec<_>>().join(" ");
    let rounds = ran
        .err
        .lines()
        .chain(ran.out.lines())
        .filter(|line| line.starts_with("round") || line.starts_with("count-in"));
    let rounds = rounds.map(words).collect();
    let heard = tap.close();
    assert_balanced(&heard);
    (rounds, heard)
}

/// The pulses before the music and from there on, and the keys struck.
fn around(heard: &[Heard], start: Heard) -> (usize, usize, Vec<u8>) {
    let at = heard.iter().position(|message| *message == start).unwrap();
    let pulses = |part: &[Heard]| part.iter().filter(|m| **m == Heard::Pulse).count();
    let keys = heard.iter().filter_map(|message| match message {
        Heard::On(3, key, _) => Some(*key),
        _ => None,
    });
    (pulses(&heard[..at]), pulses(&heard[at..]), keys.collect())
}

#[test]
fn a_rehearsal_is_counted_in_to_the_bar_where_it_begins() {
    let (rounds, heard) = rehearse(&["--from", "2", "--count-in", "1"]);
    assert_eq!(rounds, ["count-in 1 bar at tempo", "round 1 A bar 2", "round 2 B bar 3"]);
    // Bar 2 of 4/4 in sixteenths ("Song Position Pointer").
    assert!(heard.contains(&Heard::Position(16)));
    assert_eq!(around(&heard, Heard::Continue), (BAR, 3 * BAR, vec![62, 64, 65]));
}

#[test]
fn a_section_is_counted_in_from_its_top() {
    let (rounds, heard) = rehearse(&["--section", "B", "--count-in", "2"]);
    assert_eq!(rounds, ["count-in 2 bars at tempo", "round 1 B bar 1"]);
    assert_eq!(around(&heard, Heard::Start), (2 * BAR, 2 * BAR, vec![64, 65]));
}

#[test]
fn without_a_count_in_it_begins_at_once() {
    let (rounds, heard) = rehearse(&["--section", "B", "--from", "2"]);
    assert_eq!(rounds, ["round 1 B bar 2"]);
    assert_eq!(around(&heard, Heard::Continue), (0, BAR, vec![65]));
}
