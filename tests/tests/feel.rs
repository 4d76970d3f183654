//! A drummer's groove given to a straight part: his timing and loudness, as other libraries work them out
//! from the file, and the straight part again when it is taken off.
//!
//! The performance is that of `drummer.rs`; `tests/python/take_groove.py` reads it with mido and takes the
//! medians with numpy.

use chaconne_song::{Song, StepAt};
use chaconne_tests::program::{data, run};
use chaconne_tests::python::lines_of;
use std::path::Path;

const BAR: i64 = 3840;
const GRID: i64 = 240;

/// The drummer's track, and a straight one in sixteenths at velocity 80.
fn song() -> String {
    let notes: String = (0..16)
        .map(|step| {
            let (beat, tick) = (step / 4 + 1, step % 4 * 240);
            let id = step + 1;
            format!("(id: {id}, at: \"1.{beat}.{tick}\", length: 100, key: 40, velocity: 80),")
        })
        .collect();
    format!(
        "(chaconne: 2, form: \"A\", tracks: [(id: 1, name: \"Drums\", channel: 10, pitched: false), \
         (id: 2, name: \"Bass\", channel: 2)], sections: [(letter: \"A\", bars: 16, metre: \"4/4\", \
         tempo: 434783, layers: [(id: 3, track: 2, length: \"1 bar\", notes: [{notes}])])])"
    )
}

fn read(path: &Path) -> Song {
    chaconne_song::text::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// A folder with a song into which the performance was laid as one pass.
fn laid() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("kit.ron");
    std::fs::write(&path, song()).unwrap();
    let song = path.to_str().unwrap().to_string();
    let take = data("groove-funk-138.mid");
    let take = take.to_str().unwrap();
    run(&["lay", &song, "--track", "Drums", "--from", take, "--keep", "one"]).ends(0);
    (folder, song)
}

/// What the other libraries find: bar, step, timing and its spread, loudness and its spread.
fn theirs(steps: &str, bars: &str) -> Vec<[i64; 6]> {
    let take = data("groove-funk-138.mid");
    let lines = lines_of("take_groove.py", &[take.to_str().unwrap(), steps, bars]);
    let numbers = |line: &String| -> Vec<i64> {
        line.split(' ').map(|number| number.parse().unwrap()).collect()
    };
    lines.iter().map(|line| numbers(line).try_into().unwrap()).collect()
}

/// The notes of the bass in a listing: tick and velocity.
fn bass(song: &str, view: &str) -> Vec<(i64, i64)> {
    let listing = run(&["list", song, "--view", view]).ends(0).out;
    let mut notes = Vec::new();
    for line in listing.lines().filter(|line| line.contains("Bass") && line.contains(" note ")) {
        let words: Vec<&str> = line.split_whitespace().collect();
        let place: Vec<i64> = words[0].split('.').map(|part| part.parse().unwrap()).collect();
        let velocity = words.iter().position(|word| *word == "velocity").unwrap() + 1;
        let at = (place[0] - 1) * BAR + (place[1] - 1) * 960 + place[2];
        notes.push((at, words[velocity].parse().unwrap()));
    }
    notes
}

#[test]
fn the_drummers_groove_is_what_other_libraries_find_in_the_file() {
    let (_folder, song) = laid();
    for (grid, steps, bars) in [("1/16", "16", "1"), ("1/16", "16", "2"), ("1/8", "8", "4")] {
        let name = format!("Sam {grid} {bars}");
        let how =
            ["feel", &song, "--take", &name, "--from", "Drums", "--grid", grid, "--bars", bars];
        let curve = run(&how).ends(0).out;
        let groove = read(Path::new(&song)).groove_named(&name).unwrap().clone();
        let ours: Vec<[i64; 6]> = groove
            .steps
            .iter()
            .map(|(&StepAt { bar, step }, lean)| {
                let (loudness, spread) = (lean.loudness.into(), lean.loudness_spread.into());
                [bar.into(), step.into(), lean.timing.0, lean.timing_spread.0, loudness, spread]
            })
            .collect();
        assert_eq!(ours, theirs(steps, bars), "{grid} {bars}");
        assert_eq!(curve.lines().count(), 2 + ours.len(), "{curve}");
    }
}

#[test]
fn a_straight_part_moves_as_the_drummer_moves_and_comes_back_to_the_tick() {
    let (_folder, song) = laid();
    let straight = bass(&song, "corrected");
    assert_eq!(straight.len(), 256);
    run(&["feel", &song, "--take", "Sam", "--from", "drums"]).ends(0);
    let played = read(Path::new(&song)).passes;
    for depth in [100, 50, 200] {
        let percent = depth.to_string();
        run(&["feel", &song, "--give", "Sam", "--to", "Bass", "--depth", &percent]).ends(0);
        let heard = bass(&song, "corrected");
        assert_eq!(heard.len(), straight.len());
        let half_up = |number: f64| (number + 0.5).floor() as i64;
        for [_, step, timing, _, loudness, _] in theirs("16", "1") {
            let late = half_up(timing as f64 * depth as f64 / 100.0);
            let factor = 1.0 + (loudness - 100) as f64 * depth as f64 / 10_000.0;
            let velocity = half_up(80.0 * factor).clamp(1, 127);
            for bar in 0..16 {
                // Before the first bar there is nothing, so an early first note sounds at once.
                let at = (bar * BAR + (step - 1) * GRID + late).max(0);
                assert!(
                    heard.contains(&(at, velocity)),
                    "{depth} %: step {step} of bar {bar}: {at} {velocity}"
                );
            }
        }
        for view in ["played", "straight"] {
            assert_eq!(bass(&song, view), straight);
        }
        assert_eq!(read(Path::new(&song)).passes, played, "what was played never changes");
    }
    run(&["feel", &song, "--to", "Bass", "--human", "60"]).ends(0);
    let both = bass(&song, "corrected");
    assert_eq!(both, bass(&song, "corrected"));
    run(&["feel", &song, "--to", "Bass", "--off"]).ends(0);
    assert_eq!(bass(&song, "corrected"), straight);
    run(&["feel", &song, "--drop", "Sam"]).ends(0);
}

#[test]
fn what_cannot_be_done_is_refused_in_one_sentence() {
    let (_folder, song) = laid();
    let before = std::fs::read_to_string(&song).unwrap();
    for (more, part) in [
        (
            &["--take", "Sam", "--from", "Piano"][..],
            "there is no track 'Piano'; tracks: Drums, Bass",
        ),
        (&["--take", "", "--from", "Bass"], "a groove needs a name of 1 to 64 characters"),
        (
            &["--take", "Sam", "--from", "Bass", "--layer", "2"],
            "there is no layer '2': 'Bass' has 1 layer in section A",
        ),
        (
            &["--give", "Sam", "--to", "Bass"],
            "there is no groove 'Sam': --take it from a track first",
        ),
        (&["--section", "C"], "there is no section C; sections: A"),
    ] {
        let sentence = run(&[&["feel", &song][..], more].concat()).refused();
        assert!(sentence.contains(part), "{sentence}");
    }
    assert_eq!(std::fs::read_to_string(&song).unwrap(), before);
    run(&["feel", &song, "--take", "Sam", "--from", "Drums"]).ends(0);
    run(&["feel", &song, "--give", "Sam", "--to", "Bass", "--layer", "1"]).ends(0);
    for (more, part) in [
        (&["--take", "Sam", "--from", "Bass"][..], "there is a groove 'Sam' already"),
        (&["--give", "Pat", "--to", "Bass"], "there is no groove 'Pat'; grooves: Sam"),
        (&["--drop", "Sam"], "groove 'Sam' is still given to a layer of track 'Bass'"),
    ] {
        let sentence = run(&[&["feel", &song][..], more].concat()).refused();
        assert!(sentence.contains(part), "{sentence}");
    }
    let shown = run(&["feel", &song]).ends(0).out;
    assert!(
        shown.starts_with("groove Sam, 1 bar of 1/16; given to the layer of Bass (timing 100 %, "),
        "{shown}"
    );
}
