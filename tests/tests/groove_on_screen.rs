//! A drummer's groove taken, given to a straight part and taken off again with the keys of a real terminal,
//! while the part loops: what goes out between the pulses of the clock, and what the song's file plays.
//!
//! The performance is that of `drummer.rs`; `tests/python/take_groove.py` reads it with mido and takes the
//! medians with numpy.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::program::{data, run};
use chaconne_tests::python::lines_of;
use chaconne_tests::terminal::Terminal;
use chaconne_tests::wire::{Heard, assert_balanced};
use std::path::Path;

const SAVE: &str = "\x13";
const LOOP: &str = "\x1bOQ";
const FORM: &str = "\x1b[17~";
const DOWN: &str = "\x1b[B";
const LEFT: &str = "\x1b[D";

const BAR: i64 = 3840;
const GRID: i64 = 240;
/// Ticks from one pulse of MIDI clock to the next: 24 to the quarter (MIDI 1.0 Detailed Specification 4.2, "Timing
/// Clock"), of 960 ticks.
const PULSE: i64 = 40;
/// A message of three bytes takes a millisecond on a serial cable (31.25 kilobaud, ten bits a byte; the same
/// specification, "Hardware"): that is 4 ticks at 240 BPM. A note so near a pulse may be on either side of it.
const CABLE: i64 = 4;

/// Section A is for the drummer; section B is a bar of straight sixteenths at velocity 80.
fn song() -> String {
    let notes: String = (0..16)
        .map(|step| {
            let (beat, tick) = (step / 4 + 1, step % 4 * GRID);
            let id = step + 1;
            format!("(id: {id}, at: \"1.{beat}.{tick}\", length: 100, key: 40, velocity: 80),")
        })
        .collect();
    let time = "metre: \"4/4\", tempo: 250000";
    format!(
        "(chaconne: 2, form: \"A B\", tracks: [(id: 1, name: \"Drums\", channel: 10, pitched: false), \
         (id: 2, name: \"Bass\", channel: 2)], sections: [(letter: \"A\", bars: 16, {time}), (letter: \"B\", \
         bars: 1, {time}, layers: [(id: 3, track: 2, length: \"1 bar\", notes: [{notes}])])])"
    )
}

/// Where each sixteenth of the bar sounds, in ticks, and how loud, as the other libraries find it.
fn theirs() -> Vec<(i64, u8)> {
    let take = data("groove-funk-138.mid");
    let lines = lines_of("take_groove.py", &[take.to_str().unwrap(), "16", "1"]);
    let stroke = |line: &String| {
        let numbers: Vec<i64> = line.split(' ').map(|number| number.parse().unwrap()).collect();
        let (step, late, loudness) = (numbers[1] - 1, numbers[2], numbers[4] as f64);
        let velocity = (80.0 * loudness / 100.0 + 0.5).floor().clamp(1.0, 127.0);
        (step * GRID + late, velocity as u8)
    };
    let all: Vec<(i64, u8)> = lines.iter().map(stroke).collect();
    assert_eq!(all.len(), 16);
    assert!(all.is_sorted(), "no step overtakes another");
    all
}

fn straight() -> Vec<(i64, u8)> {
    (0..16).map(|step| (step * GRID, 80)).collect()
}

fn pulses(heard: &[Heard]) -> i64 {
    let start = heard.iter().rposition(|message| *message == Heard::Start);
    start.map_or(0, |start| heard[start..].iter().filter(|it| **it == Heard::Pulse).count() as i64)
}

/// The strokes of the bass since the start: after how many pulses, and how loud.
fn bass(heard: &[Heard]) -> Vec<(i64, u8)> {
    let start = heard.iter().rposition(|message| *message == Heard::Start).unwrap();
    let mut count = 0;
    let mut strokes = Vec::new();
    for message in &heard[start..] {
        match *message {
            Heard::Pulse => count += 1,
            Heard::On(2, _, velocity) => strokes.push((count, velocity)),
            _ => {}
        }
    }
    strokes
}

/// Waits for two whole rounds that begin after what was heard so far, and asserts that both play these strokes.
#[track_caller]
fn assert_rounds(tap: &Tap, what: &str, strokes: &[(i64, u8)]) {
    let per_round = BAR / PULSE;
    let now = pulses(&tap.wait("anything", |_| true));
    let first = now / per_round + 2;
    let end = (first + 2) * per_round;
    let heard = tap.wait(what, |heard| pulses(heard) > end + 6);
    // What is early at the top comes before it.
    let window = first * per_round - 3..end - 3;
    let mut all = bass(&heard);
    all.retain(|(after, _)| window.contains(after));
    let rounds = [first, first + 1]
        .map(|round| strokes.iter().map(move |&(at, velocity)| (round * BAR + at, velocity)));
    let wanted: Vec<(i64, u8)> = rounds.into_iter().flatten().collect();
    assert_eq!(all.len(), wanted.len(), "{what}: {all:?}");
    for (&(after, velocity), (at, loud)) in all.iter().zip(wanted) {
        // A pulse is sent at tick 0, 40, 80: so many come before a tick.
        let earliest = (at - CABLE).div_euclid(PULSE) + 1;
        let latest = (at + CABLE).div_euclid(PULSE) + 1;
        let fits = (earliest..=latest).contains(&after) && velocity == loud;
        assert!(fits, "{what}: tick {at}, velocity {loud}: after {after} pulses, {velocity}");
    }
}

/// The strokes of the bass in section B that the song's file plays: tick of the bar, and velocity.
fn listed(song: &str) -> Vec<(i64, u8)> {
    let listing = run(&["list", song]).ends(0).out;
    let lines = listing.lines().filter(|line| line.contains("Bass") && line.contains(" note "));
    let stroke = |line: &str| {
        let words: Vec<&str> = line.split_whitespace().collect();
        let place: Vec<i64> = words[0].split('.').map(|part| part.parse().unwrap()).collect();
        let velocity = words.iter().position(|word| *word == "velocity").unwrap() + 1;
        let at = (place[0] - 17) * BAR + (place[1] - 1) * 960 + place[2];
        (at, words[velocity].parse().unwrap())
    };
    lines.map(stroke).collect()
}

fn save(terminal: &Terminal, path: &Path) -> chaconne_song::Song {
    terminal.keys(SAVE);
    terminal.wait("the song is saved", |screen| {
        let top = screen.lines().next().unwrap_or_default();
        top.contains("saved") && !top.contains("not saved")
    });
    chaconne_song::text::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn the_drummers_groove_is_taken_given_and_taken_off_on_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("kit.ron");
    let name = path.to_str().unwrap();
    std::fs::write(&path, song()).unwrap();
    let take = data("groove-funk-138.mid");
    let take = take.to_str().unwrap();
    run(&["lay", name, "--track", "Drums", "--from", take, "--keep", "one"]).ends(0);
    let before = chaconne_song::text::read(&std::fs::read_to_string(&path).unwrap()).unwrap();
    let out = make(folder.path(), "out");
    let tap = Tap::open(&out);
    let port = format!("bytes:{}", out.display());
    let mut terminal = Terminal::start(&["sketch", name, "--out", &port, "--clock"]);
    terminal.wait_for("STOPPED");
    // Two keys take it.
    terminal.keys("N");
    terminal.wait_for("Take the groove of Drums");
    terminal.keys("\r");
    terminal.wait_for("Groove Drums taken: 16 steps");
    // The bass loops in section B.
    terminal.keys(&format!("{FORM}{DOWN}\r{LOOP}{DOWN} "));
    terminal.wait_for("PLAYING");
    assert_rounds(&tap, "the straight part", &straight());
    terminal.keys("P");
    terminal.wait_for("gives it to Bass");
    terminal.keys("\r");
    terminal.wait_for("Feel of Bass: groove Drums 100 %.");
    assert_rounds(&tap, "the drummer's groove", &theirs());
    let given = save(&terminal, &path);
    assert_eq!(listed(name), theirs());
    assert_eq!(given.passes, before.passes, "what was played never changes");
    // Taken off in the feel.
    terminal.keys(&format!("v{}{LEFT}", DOWN.repeat(5)));
    assert_rounds(&tap, "the straight part again", &straight());
    terminal.keys("\r");
    terminal.wait_for("Feel of Bass: quantise off, as you played it.");
    let off = save(&terminal, &path);
    assert_eq!(listed(name), straight());
    assert_eq!((&off.tracks, &off.passes), (&before.tracks, &before.passes));
    // One step each: taken off, given, taken.
    terminal.keys("uuu");
    terminal.wait_for("Undone: new groove");
    assert_eq!(save(&terminal, &path), before);
    terminal.keys("q");
    terminal.wait_for("Quit?");
    terminal.keys("q");
    assert_eq!(terminal.end(), 0);
    terminal.assert_restored();
    assert_balanced(&tap.close());
}
