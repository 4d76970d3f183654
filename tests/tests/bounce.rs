//! Bounces by the whole program: notes at the right time, files that another reader can read, and the
//! same bytes from every run.

use chaconne_tests::program::run;
use chaconne_tests::wav::Wav;
use std::path::Path;

/// Two bars of claves, the sharpest sound of the kit, and xylophone, both at irregular positions; and a
/// quiet bass. At these tempi a tick is not a whole number of frames.
const SONG: &str = r#"(
    chaconne: 2,
    title: "Sticks",
    form: "A",
    tracks: [
        (id: 1, name: "Sticks", channel: 10, pitched: false),
        (id: 2, name: "Bars", channel: 1, program: 14),
        (id: 3, name: "Low, soft", channel: 2, program: 33),
    ],
    sections: [
        (
            letter: "A",
            bars: 2,
            metre: "4/4",
            tempo: [
                (at: "1.1.0", tempo: 640000),
                (at: "2.1.0", tempo: 517000),
            ],
            layers: [
                (id: 4, track: 1, length: "2 bars", notes: [STICKS]),
                (id: 5, track: 2, length: "2 bars", notes: [BARS]),
                (
                    id: 6,
                    track: 3,
                    length: "2 bars",
                    notes: [(id: 7, at: "1.1.0", length: 900, key: 33, velocity: 60)],
                ),
            ],
        ),
    ],
)
"#;

/// The ticks of the claves, 960 to the quarter.
const STICKS: [i64; 12] = [0, 613, 1201, 1920, 2401, 2999, 3840, 4127, 4803, 5333, 6001, 7111];
/// The ticks and keys of the xylophone.
const BARS: [(i64, u8); 10] = [
    (97, 79),
    (857, 84),
    (1501, 76),
    (2203, 88),
    (3011, 81),
    (3907, 91),
    (4733, 72),
    (5501, 86),
    (6203, 77),
    (7001, 93),
];

/// The time of a tick in seconds: a quarter takes 0.64 s in the first bar and 0.517 s in the second.
fn due(tick: i64) -> f64 {
    let (before, after) = (tick.min(3840), (tick - 3840).max(0));
    (before as f64 * 0.64 + after as f64 * 0.517) / 960.0
}

fn song_in(folder: &Path) -> String {
    let note = |id: usize, tick: i64, key: u8| {
        let (bar, beat, rest) = (tick / 3840 + 1, tick % 3840 / 960 + 1, tick % 960);
        format!("(id: {id}, at: \"{bar}.{beat}.{rest}\", length: 60, key: {key}, velocity: 100),")
    };
    let sticks: String =
        STICKS.iter().enumerate().map(|(place, &tick)| note(place + 10, tick, 75)).collect();
    let bars: String =
        BARS.iter().enumerate().map(|(place, &(tick, key))| note(place + 30, tick, key)).collect();
    let path = folder.join("sticks.ron");
    std::fs::write(&path, SONG.replace("STICKS", &sticks).replace("BARS", &bars)).unwrap();
    path.to_str().unwrap().to_string()
}

/// The tick of a line of the listing, from its bar.beat.tick in 4/4 time.
fn tick_of(line: &str) -> i64 {
    let place = line.split_whitespace().next().unwrap();
    let figures: Vec<i64> = place.split('.').map(|figure| figure.parse().unwrap()).collect();
    (figures[0] - 1) * 3840 + (figures[1] - 1) * 960 + figures[2]
}

/// The frame at which the note due at frame `due` begins: where it first reaches a tenth of its peak.
fn onset(sound: &[f32], due: f64) -> f64 {
    let near = (due as usize).saturating_sub(40)..due as usize + 400;
    let height = sound[near.clone()].iter().fold(0.0f32, |most, x| most.max(x.abs()));
    assert!(height > 0.01, "no sound: {height}");
    (near.start + sound[near].iter().position(|x| x.abs() > height / 10.0).unwrap()) as f64
}

#[test]
fn notes_sound_when_the_listing_says() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let listing = run(&["list", &song]).ends(0).out;
    let ticks = |track: &str| -> Vec<i64> {
        let struck = listing.lines().filter(|line| line.contains(track) && line.contains(" note "));
        struck.map(tick_of).collect()
    };
    assert_eq!(ticks("Sticks"), STICKS);
    assert_eq!(ticks("Bars"), BARS.map(|(tick, _)| tick));
    let (wav, stems) = (folder.path().join("mix.wav"), folder.path().join("stems"));
    let words =
        ["bounce", &song, wav.to_str().unwrap(), "--replace", "--stems", stems.to_str().unwrap()];
    for rate in ["44100", "48000"] {
        run(&[&words[..], &["--bits", "32f", "--rate", rate]].concat()).ends(0);
        for (track, file) in [("Sticks", "mix-01-Sticks.wav"), ("Bars", "mix-02-Bars.wav")] {
            let sound = Wav::read(&stems.join(file));
            let rate = f64::from(sound.rate);
            let late =
                |&tick: &i64| (onset(&sound.left, due(tick) * rate) / rate - due(tick)) * 1e3;
            // How long a stroke takes to a tenth of its peak depends only on the sound, so the mean is
            // subtracted.
            let late: Vec<f64> = ticks(track).iter().map(late).collect();
            let constant = late.iter().sum::<f64>() / late.len() as f64;
            assert!(constant.abs() < 1.0, "{track}: the constant part is small: {constant} ms");
            assert!(late.iter().all(|ms| (ms - constant).abs() <= 0.2), "{track}: {late:?}");
        }
    }
}

#[test]
fn the_click_sounds_on_each_beat_if_the_option_is_given() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let (wav, stems) = (folder.path().join("mix.wav"), folder.path().join("stems"));
    let words =
        ["bounce", &song, wav.to_str().unwrap(), "--replace", "--stems", stems.to_str().unwrap()];
    for rate in ["44100", "48000"] {
        run(&[&words[..], &["--click", "--bits", "32f", "--rate", rate]].concat()).ends(0);
        let sound = Wav::read(&stems.join("mix-04-click.wav"));
        assert_eq!(sound.left, sound.right);
        let rate = f64::from(sound.rate);
        let beats: Vec<f64> = (0..8).map(|beat| due(beat * 960)).collect();
        let late = |due: &f64| (onset(&sound.left, due * rate) / rate - due) * 1e3;
        let late: Vec<f64> = beats.iter().map(late).collect();
        let constant = late.iter().sum::<f64>() / late.len() as f64;
        // A frame is 0.02 ms: only the rounding to frames is left.
        assert!(late.iter().all(|ms| (ms - constant).abs() < 0.05), "{late:?}");
        assert!(constant.abs() < 0.5, "{constant}");
        // The click on beat one is higher, so it crosses zero more often in 20 ms.
        let crossings = |due: &f64| {
            let from = (due * rate) as usize;
            let frames = &sound.left[from..from + (rate * 0.02) as usize];
            frames.windows(2).filter(|two| (two[0] < 0.0) != (two[1] < 0.0)).count()
        };
        let crossings: Vec<usize> = beats.iter().map(crossings).collect();
        let plain = crossings[1];
        let is_one = |(beat, &count): (usize, &usize)| (count > plain + 10) == (beat % 4 == 0);
        assert!(crossings.iter().enumerate().all(is_one), "{crossings:?}");
        // Between two clicks there is silence.
        let before = (beats[1] * rate) as usize - 200;
        assert!(sound.left[before..before + 100].iter().all(|x| x.abs() < 1e-4));
    }
    // 6 dB less is half the amplitude.
    let softer = ["--click", "--click-level", "-18.0206", "--bits", "32f", "--rate", "48000"];
    let before = Wav::read(&stems.join("mix-04-click.wav"));
    run(&[&words[..], &softer].concat()).ends(0);
    let after = Wav::read(&stems.join("mix-04-click.wav"));
    let mut both = before.left.iter().zip(&after.left);
    assert!(both.all(|(before, after)| (before / 2.0 - after).abs() < 1e-5));
    // Without the option there is no click.
    let (plain, none) = (folder.path().join("plain.wav"), folder.path().join("none"));
    let words = ["bounce", &song, plain.to_str().unwrap(), "--stems", none.to_str().unwrap()];
    run(&words).ends(0);
    assert_eq!(std::fs::read_dir(none).unwrap().count(), 3);
}

#[test]
fn another_reader_finds_the_same_sound_in_every_format_and_each_run_gives_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let names = ["mix.wav", "stems/mix-01-Sticks.wav", "stems/mix-02-Bars.wav"];
    let names = [&names[..], &["stems/mix-03-Low-soft.wav"]].concat();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_string();
    let (wav, stems) = (at("mix.wav"), at("stems"));
    for (rate, frames) in [("44100", 248_195), ("48000", 270_144)] {
        let bounce = |bits: &str| -> Vec<Wav> {
            let words = ["bounce", &song, &wav, "--tail", "1", "--rate", rate, "--bits", bits];
            let words = [&words[..], &["--replace"]].concat();
            let ran = run(&[&words[..], &["--stems", &stems]].concat()).ends(0);
            // Four quarters of 0.64 s, four of 0.517 s, and a tail of one second.
            assert!(ran.out.starts_with("length 5.628 s\npeak -"), "{}", ran.out);
            assert!(ran.out.contains("\nloudness -"), "{}", ran.out);
            let bytes = || -> Vec<_> {
                names.iter().map(|name| std::fs::read(at(name)).unwrap()).collect()
            };
            let first = bytes();
            run(&[&words[..], &["--stems", &stems]].concat()).ends(0);
            assert!(first == bytes(), "same song, same bytes");
            run(&words).ends(0);
            assert!(first[0] == std::fs::read(&wav).unwrap(), "stems change nothing in the mix");
            names.iter().map(|name| Wav::read(Path::new(&at(name)))).collect()
        };
        let formats = [("16", "PCM_16"), ("24", "PCM_24"), ("32f", "FLOAT")];
        let read = formats.map(|(bits, format)| {
            let files = bounce(bits);
            for file in &files {
                assert_eq!((file.format.as_str(), file.left.len()), (format, frames));
                assert_eq!(file.rate.to_string(), rate);
            }
            files
        });
        for ((short, long), float) in read[0].iter().zip(&read[1]).zip(&read[2]) {
            // The limiter's ceiling is -1 dBFS, 10^(-1/20).
            assert!((0.01..0.8913).contains(&float.peak()));
            compare(short, long, float);
        }
    }
}

/// A 24-bit file has the nearest value to the float; a 16-bit file is within its rounding (half a step)
/// and its dither (a step each way) of it, and right on average. The variance of the error is a quarter
/// of a step squared (Lipshitz, Wannamaker and Vanderkooy, "Quantization and Dither: A
/// Theoretical Survey", JAES 40(5), 1992; from memory).
fn compare(short: &Wav, long: &Wav, float: &Wav) {
    let (mut errors, mut count) = ((0.0, 0.0), 0.0);
    for ((short, long), float) in short.samples().zip(long.samples()).zip(float.samples()) {
        let [short, long, float] = [short, long, float].map(f64::from);
        assert!((long - float).abs() * 8_388_608.0 <= 0.5, "{long} {float}");
        let error = (short - float) * 32_768.0;
        assert!(error.abs() <= 1.5, "{short} {float}");
        if float == 0.0 {
            assert_eq!(short, 0.0, "silence stays silent");
        } else {
            errors = (errors.0 + error, errors.1 + error * error);
            count += 1.0;
        }
    }
    let (mean, variance) = (errors.0 / count, errors.1 / count);
    assert!(count > 100_000.0 && mean.abs() < 0.01, "{mean} of {count}");
    assert!((variance - 0.25).abs() < 0.01, "{variance}");
}

#[test]
fn a_bounce_is_as_long_as_the_part_of_the_song_that_it_renders() {
    let folder = tempfile::tempdir().unwrap();
    let (path, wav) = (folder.path().join("form.ron"), folder.path().join("form.wav"));
    let section = |letter: &str, bars: u32, pass: u32| {
        let notes = format!("(id: {}, at: \"1.1.0\", length: 90, key: 75, velocity: 90)", pass + 1);
        let pass = format!("(id: {pass}, track: 1, length: \"1 bar\", notes: [{notes}])");
        format!(
            "(letter: \"{letter}\", bars: {bars}, metre: \"3/4\", tempo: 400000, layers: [{pass}])"
        )
    };
    let tracks = "(id: 1, name: \"Sticks\", channel: 10, pitched: false)";
    let sections = [section("A", 2, 10), section("B", 1, 20)].join(",");
    let song =
        format!("(chaconne: 2, form: \"A B A\", tracks: [{tracks}], sections: [{sections}])");
    std::fs::write(&path, song).unwrap();
    let bars = |words: &[&str]| {
        let first = ["bounce", path.to_str().unwrap(), wav.to_str().unwrap(), "--replace"];
        run(&[&first[..], words].concat()).ends(0);
        let sound = Wav::read(&wav);
        // A bar has three quarters of 0.4 s, and begins with a stroke.
        let bars = sound.left.len() as f64 / 44_100.0 / 1.2;
        for bar in 0..bars as usize {
            onset(&sound.left, bar as f64 * 1.2 * 44_100.0);
        }
        bars
    };
    assert_eq!(bars(&["--tail", "0"]), 5.0);
    assert_eq!(bars(&["--tail", "0", "--form"]), 5.0);
    assert_eq!(bars(&["--tail", "0", "--section", "B"]), 1.0);
    assert_eq!(bars(&["--tail", "0.6", "--section", "A"]), 2.5);
    assert_eq!(bars(&["--loop"]), 2.0, "the first section");
    assert_eq!(bars(&["--loop", "--section", "B"]), 1.0);
    // The tail of a stroke ends in silence.
    let whole = bars(&["--section", "B"]);
    assert!((1.0..1.0 + 10.0 / 1.2).contains(&whole), "{whole}");
}

#[test]
fn only_a_wav_file_is_replaced_and_only_with_the_option() {
    let folder = tempfile::tempdir().unwrap();
    let song = song_in(folder.path());
    let sentence = run(&["bounce", &song, &song]).refused();
    assert!(sentence.ends_with("use a name that ends in .wav"), "{sentence}");
    run(&["check", &song]).ends(0);
    let (named, text) = (folder.path().join("named.wav"), "no sound at all");
    std::fs::write(&named, text).unwrap();
    let sentence = run(&["bounce", &song, named.to_str().unwrap(), "--replace"]).refused();
    assert!(sentence.ends_with("already exists and is not a WAV file, so it is not replaced"));
    assert_eq!(std::fs::read_to_string(&named).unwrap(), text);
    let wav = folder.path().join("a.wav").to_str().unwrap().to_string();
    let sentence = run(&["bounce", &song, &wav, "--loop", "--section", "C"]).refused();
    assert_eq!(sentence, "there is no section C; sections: A");
    assert!(!Path::new(&wav).exists());
    std::fs::write(&wav, "").unwrap();
    let sentence = run(&["bounce", &song, &wav]).refused();
    assert!(sentence.ends_with("a.wav already exists; --replace overwrites it"), "{sentence}");
}

#[cfg(unix)]
#[test]
fn a_signal_ends_a_bounce_and_leaves_no_file() {
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
    // 128 plus the number of the signal, as shells report it (POSIX, "Exit Status and Errors").
    finish(child, PATIENCE).ends(130);
    assert_eq!(files(), 0);
}
