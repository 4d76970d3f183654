//! The default sounds with other players: two independent SoundFont libraries read the committed file,
//! and one of them plays the same notes as the player that our own tests use.
//!
//! Source: names and numbers are those of the General MIDI System Level 1 sound set; A4 (key 69) is
//! 440 Hz by ISO 16.

#[path = "../../crates/font/tests/ear/mod.rs"]
mod ear;

use chaconne_tests::python::python;
use ear::{Note, RATE, Spectrum, frequency};
use std::fs;
use std::path::Path;
use std::process::Command;

/// Programs, from 1, with a key: some for each kind of synthesis.
const NOTES: [(u8, u8); 12] = [
    (1, 69),
    (5, 48),
    (12, 72),
    (20, 55),
    (25, 52),
    (34, 33),
    (41, 76),
    (49, 60),
    (57, 65),
    (74, 84),
    (82, 60),
    (106, 62),
];

/// What the libraries report about the committed file, and the folder with the notes they rendered.
fn read() -> (String, tempfile::TempDir) {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let folder = tempfile::tempdir().unwrap();
    let font = folder.path().join("default.sf2");
    fs::copy(top.join("assets/default.sf2"), &font).unwrap();
    let notes = NOTES.map(|(program, key)| format!("{program}:{key}"));
    let ran = Command::new(python())
        .arg(top.join("tests/python/read_font.py"))
        .arg(font)
        .args(notes)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    (String::from_utf8(ran.stdout).unwrap(), folder)
}

/// The words of each line of this kind.
fn lines<'a>(report: &'a str, kind: &'a str) -> Vec<Vec<&'a str>> {
    let words = report.lines().map(|line| line.split(' ').collect::<Vec<_>>());
    words.filter(|words| words[0] == kind).collect()
}

fn cents(one: f64, other: f64) -> f64 {
    1200.0 * (one / other).log2()
}

#[test]
fn other_libraries_read_the_default_sounds_and_play_the_same_pitches() {
    let (report, _folder) = read();
    check_structure(&report);
    let font = ear::font();
    let rendered = lines(&report, "rendered");
    assert_eq!(rendered.len(), NOTES.len());
    for (line, (program, key)) in rendered.iter().zip(NOTES) {
        let bytes = fs::read(line[4]).unwrap();
        let frame = |pair: &[u8]| f32::from(i16::from_le_bytes([pair[0], pair[1]])) / 32_768.0;
        let theirs: Vec<f32> = bytes.chunks_exact(2).map(frame).collect();
        let ours = Note::new(program, key, 0.5).mono(&font);
        let pitch = |frames: &[f32]| {
            let spectrum = Spectrum::of(&frames[RATE / 20..]);
            spectrum.peak_near(frequency(key), 80.0).expect("a fundamental").0
        };
        let (theirs, ours) = (pitch(&theirs), pitch(&ours));
        let (apart, off) = (cents(theirs, ours), cents(theirs, frequency(key)));
        assert!(apart.abs() < 2.0, "program {program} key {key}: {apart:.2} cents apart");
        assert!(off.abs() < 5.0, "program {program} key {key}: {off:.2} cents off");
    }
}

/// A font has room for names of 20 bytes, so its names may shorten the song's program names or leave
/// words out. Other words are wrong.
fn check_name(program: u8, short: &str) {
    let full = chaconne_song::program_name(chaconne_song::U7::new(program).unwrap());
    let words = |name: &str| -> Vec<String> {
        let words = name.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
        words.map(|word| if word == "Gtr" { "Guitar" } else { word }.to_lowercase()).collect()
    };
    let known = words(full);
    assert!(!short.is_empty() && short.len() <= 20, "{short}");
    assert!(words(short).iter().all(|word| known.contains(word)), "'{short}' is not '{full}'");
}

fn check_structure(report: &str) {
    let presets = lines(report, "preset");
    assert_eq!(presets.len(), 129);
    assert!(report.contains("preset 128 0 Drum kit\n"));
    for line in presets.iter().filter(|line| line[1] == "0") {
        check_name(line[2].parse().unwrap(), &line[3..].join(" "));
    }
    let samples = lines(report, "sample");
    assert!(samples.len() > 150, "{} samples", samples.len());
    for words in samples {
        let [rate, root, start, end, from, to] =
            [1, 2, 3, 4, 5, 6].map(|at| words[at].parse::<i64>().unwrap());
        assert!((400..=50_000).contains(&rate) && root <= 127 && start < end, "{words:?}");
        // The reader counts the frames of a loop from the start of its sample.
        assert!(0 <= from && from <= to && to <= end - start, "{words:?}");
    }
}
