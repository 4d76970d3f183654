//! Bounces by the whole program: when notes sound, what another reader finds, the same bytes twice.

use chaconne_tests::program::run;
use std::path::Path;
use std::process::Command;

/// A song whose drum track is all claves, the sharpest sound of the kit, at odd places of two bars
/// at a tempo that is no whole number of frames to a tick; and a quiet bass.
const SONG: &str = r#"(
    chaconne: 1,
    title: "Sticks",
    form: "A",
    tracks: [
        (id: 1, name: "Sticks", channel: 10, pitched: false),
        (id: 2, name: "Low, soft", channel: 2, program: 33),
    ],
    sections: [
        (
            letter: "A",
            bars: 2,
            metre: "4/4",
            tempo: 640000, // 93.75 BPM
            passes: [
                (
                    id: 3,
                    track: 1, // "Sticks"
                    length: "2 bars",
                    notes: [NOTES],
                ),
                (
                    id: 4,
                    track: 2, // "Low, soft"
                    length: "2 bars",
                    notes: [(id: 5, at: "1.1.0", length: 900, key: 33, velocity: 60)],
                ),
            ],
        ),
    ],
)
"#;

/// Ticks at which the sticks are struck, 960 to the quarter.
const STRIKES: [i64; 12] = [0, 613, 1201, 1920, 2401, 2999, 3840, 4127, 4803, 5333, 6001, 7111];

fn song_in(folder: &Path) -> String {
    let note = |(place, &tick): (usize, &i64)| {
        let (bar, beat, rest) = (tick / 3840 + 1, tick % 3840 / 960 + 1, tick % 960);
        let id = place + 10;
        format!("(id: {id}, at: \"{bar}.{beat}.{rest}\", length: 60, key: 75, velocity: 100),")
    };
    let notes: String = STRIKES.iter().enumerate().map(note).collect();
    let path = folder.join("sticks.ron");
    std::fs::write(&path, SONG.replace("NOTES", &notes)).unwrap();
    path.to_str().unwrap().to_string()
}

/// The left samples of a file of 32-bit floats.
fn left(path: &str) -> Vec<f32> {
    let bytes = std::fs::read(path).unwrap();
    let data = bytes.windows(4).position(|four| four == b"data").unwrap() + 8;
    let frames = bytes[data..].chunks_exact(8);
    frames.map(|frame| f32::from_le_bytes(frame[..4].try_into().unwrap())).collect()
}

/// The tick of a line of the listing, from its bar.beat.tick in 4/4.
fn tick_of(line: &str) -> i64 {
    let place = line.split_whitespace().next().unwrap();
    let figures: Vec<i64> = place.split('.').map(|figure| figure.parse().unwrap()).collect();
    (figures[0] - 1) * 3840 + (figures[1] - 1) * 960 + figures[2]
}

#[test]
fn notes_sound_when_the_listing_says() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let listing = run(&["list", &song]).ends(0).out;
    let struck = listing.lines().filter(|line| line.contains("Sticks") && line.contains(" note "));
    let ticks: Vec<i64> = struck.map(tick_of).collect();
    assert_eq!(ticks, STRIKES);
    for rate in [44_100.0, 48_000.0] {
        let wav = folder.path().join("sticks.wav").to_str().unwrap().to_string();
        let rate_told = format!("{rate}");
        let mut bounce = vec!["bounce", &song, &wav, "--bits", "32f", "--tracks", "Sticks"];
        bounce.extend(["--rate", &rate_told]);
        run(&bounce).ends(0);
        let sound = left(&wav);
        // The delay from a strike to a fixed small part of its height is the same for all: what it
        // is after the first one is taken off.
        let mut errors = Vec::new();
        for (place, tick) in ticks.iter().enumerate() {
            // 60 s / 93.75 / 960 of a tick.
            let due = *tick as f64 * 0.64 / 960.0 * rate;
            let near = (due as usize).saturating_sub(20)..due as usize + 400;
            let height = sound[near.clone()].iter().fold(0.0f32, |most, x| most.max(x.abs()));
            assert!(height > 0.01, "strike {place} sounds: {height}");
            let over = |x: &f32| x.abs() > height / 20.0;
            let onset = near.start + sound[near].iter().position(over).unwrap();
            errors.push((onset as f64 - due) * 1000.0 / rate);
        }
        let constant = errors.iter().sum::<f64>() / errors.len() as f64;
        assert!(constant.abs() < 1.0, "the constant part is small, too: {constant} ms");
        assert!(errors.iter().all(|ms| (ms - constant).abs() <= 0.2), "{errors:?}");
    }
}

#[test]
fn another_reader_finds_the_same_and_each_run_gives_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let (wav, stems) = (at("mix.wav"), at("stems"));
    let bounce = ["bounce", &song, &wav, "--tail", "1", "--stems", &stems];
    let ran = run(&bounce).ends(0);
    // Eight quarters of 0.64 s, and a second.
    assert!(ran.out.starts_with("length 6.120 s\npeak -"), "{}", ran.out);
    assert!(ran.out.contains("\nloudness -"), "{}", ran.out);
    let names = ["mix.wav", "stems/mix-01-Sticks.wav", "stems/mix-02-Low-soft.wav"];
    let bytes = || names.map(|name| std::fs::read(at(name)).unwrap());
    let first = bytes();
    run(&bounce).ends(0);
    assert!(first == bytes(), "same song, same bytes");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("python/read_wav.py");
    let read = |path: &str| {
        let mut python = Command::new(chaconne_tests::python::python());
        let output = python.env("PYTHONDONTWRITEBYTECODE", "1").arg(&script).arg(path).output();
        let output = output.expect("Python starts");
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    for name in names {
        let line = read(&at(name));
        let figures: Vec<i64> = line.split_whitespace().map(|x| x.parse().unwrap()).collect();
        // Two channels of 16 bits at 44.1 kHz: the sound of a CD (IEC 60908).
        assert_eq!(figures[..4], [2, 2, 44_100, 269_892], "{line}");
        // The limiter's ceiling is -1 dBFS: 10^(-1/20) of 32,768, and a step for the dither.
        assert!(figures[4] > 300 && figures[4] < 29_206 && figures[5] < -300, "{line}");
    }
}

#[test]
fn what_is_no_wav_file_is_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let sentence = run(&["bounce", &song, &song]).refused();
    assert!(sentence.ends_with("is there and is no WAV file, so it is not replaced"));
    run(&["check", &song]).ends(0);
    let wav = folder.path().join("a.wav").to_str().unwrap().to_string();
    let sentence = run(&["bounce", &song, &wav, "--loop", "--section", "C"]).refused();
    assert_eq!(sentence, "there is no section C; there is A");
    assert!(!Path::new(&wav).exists());
}

#[cfg(unix)]
#[test]
fn a_signal_ends_it_and_leaves_no_file() {
    use chaconne_tests::program::{PATIENCE, finish, signal, spawn};
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let out = tempfile::tempdir().unwrap();
    let files = || std::fs::read_dir(out.path()).unwrap().count();
    let wav = out.path().join("long.wav").to_str().unwrap().to_string();
    let child = spawn(&["bounce", &song, &wav, "--tail", "600", "--bits", "32f"]);
    let start = std::time::Instant::now();
    while files() == 0 && start.elapsed() < PATIENCE {
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    signal(child.id(), rustix::process::Signal::INT);
    // 128 and the number of the signal, as shells tell it (POSIX, "Exit Status and Errors").
    finish(child, PATIENCE).ends(130);
    assert_eq!(files(), 0);
}
