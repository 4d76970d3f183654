//! Bounces by the whole program, measured in the samples that another reader finds: pitch, timing,
//! levels, bends, pedal and loudness.

#[path = "../../crates/font/tests/ear/mod.rs"]
mod ear;
#[path = "../../crates/sound/tests/common/measure.rs"]
#[allow(dead_code)]
mod measure;
#[path = "../../crates/sound/tests/common/tiny.rs"]
#[allow(dead_code)]
mod tiny;

use chaconne_tests::loudness::lufs;
use chaconne_tests::program::run;
use chaconne_tests::wav::Wav;
use ear::{RATE, Spectrum, frequency};
use std::fmt::Write;
use std::path::Path;

/// The text of a song in one section, built track by track.
struct Song {
    bars: u32,
    metre: &'static str,
    tempo: u32,
    tracks: String,
    passes: String,
    id: u32,
}

impl Song {
    fn new(bars: u32, metre: &'static str, tempo: u32) -> Song {
        Song { bars, metre, tempo, tracks: String::new(), passes: String::new(), id: 100 }
    }

    /// Adds a track with its channel and its program, both counted from 1, and one pass as long as the
    /// song. A note is position, length, key and velocity; a lane is a control and its points.
    fn track(
        &mut self,
        name: &str,
        (channel, program): (u8, u8),
        notes: &[(String, u32, u8, u8)],
        lanes: &[(&str, Vec<(String, u32)>)],
    ) {
        let (track, pass) = (self.next(), self.next());
        let _ = writeln!(
            self.tracks,
            "(id: {track}, name: \"{name}\", channel: {channel}, program: {program}),"
        );
        let _ = write!(
            self.passes,
            "(id: {pass}, track: {track}, length: \"{} bars\", notes: [",
            self.bars
        );
        for (at, length, key, velocity) in notes {
            let id = self.next();
            let _ = writeln!(
                self.passes,
                "(id: {id}, at: \"{at}\", length: {length}, key: {key}, velocity: {velocity}),"
            );
        }
        let _ = write!(self.passes, "], lanes: [");
        for (control, points) in lanes {
            let _ = write!(
                self.passes,
                "(control: \"{control}\", from: \"1.1.0\", to: \"{}.1.0\", points: [",
                self.bars + 1
            );
            for (at, value) in points {
                let _ = writeln!(self.passes, "(at: \"{at}\", value: {value}),");
            }
            let _ = write!(self.passes, "]),");
        }
        let _ = writeln!(self.passes, "]),");
    }

    fn next(&mut self) -> u32 {
        self.id += 1;
        self.id
    }

    /// Writes the song and bounces it with these options; returns the program's results and messages.
    fn bounce(&self, folder: &Path, wav: &Path, words: &[&str]) -> (String, String) {
        let path = folder.join("song.ron");
        let Song { bars, metre, tempo, tracks, passes, .. } = self;
        let section = format!(
            "(letter: \"A\", bars: {bars}, metre: \"{metre}\", tempo: {tempo}, layers: [{passes}])"
        );
        let text = format!("(chaconne: 2, tracks: [{tracks}], sections: [{section}])");
        std::fs::write(&path, text).unwrap();
        let first = ["bounce", path.to_str().unwrap(), wav.to_str().unwrap(), "--replace"];
        let ran = run(&[&first[..], words].concat()).ends(0);
        (ran.out, ran.err)
    }
}

/// A program of each melodic family, from 1, with its usual range of keys (common
/// practice; no source; names and numbers are those of the General MIDI System Level 1 sound set).
const FAMILIES: [(u8, u8, u8); 15] = [
    (1, 33, 93),
    (12, 55, 96),
    (17, 36, 90),
    (25, 40, 84),
    (34, 28, 60),
    (42, 36, 88),
    (49, 40, 84),
    (57, 54, 82),
    (67, 40, 84),
    (74, 60, 96),
    (82, 36, 96),
    (90, 36, 90),
    (98, 48, 84),
    (105, 48, 84),
    (115, 48, 84),
];

/// Programs with a slow attack, which get longer notes.
fn is_slow(program: u8) -> bool {
    (89..=104).contains(&program)
}

/// The key of a bar: one of 21 spread over the range, in wide leaps, so that a note that rings on is far
/// from the next one.
fn key_of_bar(from: u8, to: u8, bar: u32) -> u8 {
    (u32::from(from) + (u32::from(to - from) * (bar * 8 % 21) + 10) / 20) as u8
}

/// A4 (key 69) is 440 Hz by ISO 16, and an octave has twelve equal steps. A tolerance of 5 cents is
/// common practice; no source.
#[test]
fn a_bounced_melody_of_each_family_is_in_tune_on_21_keys() {
    let mut faults = Vec::new();
    for (slow, quarter, begin) in [(false, 250_000, RATE / 20), (true, 600_000, RATE)] {
        let families: Vec<_> =
            FAMILIES.into_iter().filter(|family| is_slow(family.0) == slow).collect();
        let folder = tempfile::tempdir().unwrap();
        let mut song = Song::new(21, "3/4", quarter);
        let channels = (1..=16).filter(|&channel| channel != 10);
        for (channel, &(program, from, to)) in channels.zip(&families) {
            let note = |bar: u32| (format!("{}.1.0", bar + 1), 2800, key_of_bar(from, to, bar), 80);
            let notes: Vec<_> = (0..21).map(note).collect();
            song.track(&format!("Family {program}"), (channel, program), &notes, &[]);
        }
        let (wav, stems) = (folder.path().join("mix.wav"), folder.path().join("stems"));
        let words = ["--rate", "48000", "--tail", "0", "--stems", stems.to_str().unwrap()];
        song.bounce(folder.path(), &wav, &words);
        let bar = RATE * 3 * quarter as usize / 1_000_000;
        for (place, (program, from, to)) in families.into_iter().enumerate() {
            let name = format!("mix-{:02}-Family-{program}.wav", place + 1);
            let sound = Wav::read(&stems.join(name));
            assert_eq!((sound.rate, sound.left.len()), (48_000, 21 * bar));
            for number in 0..21 {
                let key = key_of_bar(from, to, number);
                // After the attack, and before a late vibrato.
                let length = if frequency(key) < 120.0 { RATE * 6 / 10 } else { RATE * 45 / 100 };
                let at = bar * number as usize + begin;
                faults.extend(fault(&sound, at..at + length, key).map(|off| (program, key, off)));
            }
        }
    }
    assert!(faults.is_empty(), "{} notes are off: {faults:#?}", faults.len());
}

/// What is wrong with the pitch of these frames, if anything: how far out of tune it is, in cents, or
/// that there is no clear fundamental.
fn fault(sound: &Wav, frames: std::ops::Range<usize>, key: u8) -> Option<String> {
    let sides = sound.left[frames.clone()].iter().zip(&sound.right[frames]);
    let mono: Vec<f32> = sides.map(|(left, right)| left + right).collect();
    // A clear fundamental is at most 40 dB below the strongest partial.
    let Some((hertz, -40.0..)) = Spectrum::of(&mono).peak_near(frequency(key), 80.0) else {
        return Some("no clear fundamental".into());
    };
    let cents = 1200.0 * (hertz / frequency(key)).log2();
    (cents.abs() > 5.0).then(|| format!("{cents:.1} cents"))
}

/// The frames of a beat at 120 quarter notes per minute and 44,100 frames per second.
const BEAT: usize = 22_050;

fn beat(number: usize) -> String {
    format!("{}.{}.0", number / 4 + 1, number % 4 + 1)
}

/// The points of a lane with these values, one on each beat.
fn each_beat(values: &[u32]) -> Vec<(String, u32)> {
    values.iter().enumerate().map(|(number, &value)| (beat(number), value)).collect()
}

/// Bounces these notes and lanes with a font of the test's own, whose key 60 is a dry tone of 500 Hz at
/// a constant level.
fn bounced(
    name: &str,
    notes: &[(String, u32, u8, u8)],
    lanes: &[(&str, Vec<(String, u32)>)],
) -> Wav {
    let folder = tempfile::tempdir().unwrap();
    let font = folder.path().join("tone.sf2");
    // A note of program 1 is silent within 10 ms of its end.
    std::fs::write(&font, tiny::font(&[tiny::tone(0, 0, -12_000)])).unwrap();
    let mut song = Song::new(8, "4/4", 500_000);
    let dry = [("change 91", vec![(beat(0), 0)])];
    song.track(name, (3, 1), notes, &[&dry[..], lanes].concat());
    let wav = folder.path().join("mix.wav");
    let words = ["--bits", "32f", "--tail", "0", "--font", font.to_str().unwrap()];
    let (_, messages) = song.bounce(folder.path(), &wav, &words);
    assert!(!messages.contains("instead"), "{messages}");
    let sound = Wav::read(&wav);
    assert_eq!((sound.rate, sound.left.len()), (44_100, 32 * BEAT));
    sound
}

/// One note that is held for the whole song.
fn held() -> Vec<(String, u32, u8, u8)> {
    vec![(beat(0), 32 * 960, 60, 127)]
}

/// The part of a beat in which the level is steady: without its start and its end.
fn within(side: &[f32], number: usize) -> &[f32] {
    &side[number * BEAT + BEAT / 5..(number + 1) * BEAT - BEAT / 10]
}

/// The level in a beat, in dB.
fn level(side: &[f32], number: usize) -> f64 {
    measure::db(within(side, number))
}

/// RP-036 (MMA): left 20 log10 cos(π/2 · max(0, v − 1)/126), right the same with sin.
#[test]
fn a_bounced_sweep_of_pan_follows_the_law() {
    let values: Vec<u32> = (0..32).map(|beat| if beat == 0 { 0 } else { beat * 4 + 3 }).collect();
    let sound = bounced("Pan", &held(), &[("change 10", each_beat(&values))]);
    let hard = level(&sound.left, 0);
    assert!(within(&sound.right, 0).iter().all(|x| x.abs() < 1e-6));
    for (number, value) in values.iter().enumerate() {
        let angle = f64::from(value.saturating_sub(1)) / 126.0 * std::f64::consts::FRAC_PI_2;
        for (side, expected) in [(&sound.left, angle.cos()), (&sound.right, angle.sin())] {
            let (found, expected) = (level(side, number) - hard, 20.0 * expected.log10());
            if expected > -40.0 {
                assert!((found - expected).abs() < 0.1, "{value}: {found} {expected}");
            } else {
                assert!(found < -39.0, "{value}: {found}");
            }
        }
    }
}

/// General MIDI Level 1 Developer Guidelines, 2nd revision (MMA 1998): 40 log10(v/127) dB for volume
/// and the same for expression; the two add up.
#[test]
fn a_bounced_ramp_of_volume_and_expression_follows_the_law() {
    let volumes: Vec<u32> = (0..24).map(|beat| 127 - 5 * beat).chain([100; 8]).collect();
    let expressions: Vec<u32> =
        std::iter::repeat_n(127, 24).chain([127, 100, 80, 64, 48, 32, 20, 0]).collect();
    let lanes = [("change 7", each_beat(&volumes)), ("change 11", each_beat(&expressions))];
    let sound = bounced("Volume", &held(), &lanes);
    // A change of level must not jump by more than the largest step of the tone itself.
    let steepest = measure::step(within(&sound.left, 0));
    assert!(measure::step(&sound.left[BEAT / 5..]) <= steepest * 1.01);
    let full = level(&sound.left, 0);
    let law = |value: u32| 40.0 * (f64::from(value) / 127.0).log10();
    for number in 0..31 {
        let expected = law(volumes[number]) + law(expressions[number]);
        for side in [&sound.left, &sound.right] {
            let found = level(side, number) - full;
            assert!((found - expected).abs() < 0.1, "beat {number}: {found} {expected}");
        }
    }
    assert!(within(&sound.left, 31).iter().all(|x| *x == 0.0));
}

/// MIDI 1.0 Detailed Specification, pitch bend and registered parameter 0: range · (v − 8192)/8192
/// semitones. The range is the coarse half of the parameter, in semitones.
#[test]
fn a_bounced_bend_reaches_as_far_as_its_range() {
    let bends = [8192, 16_383, 12_288, 4096, 0, 9000, 8192, 8192];
    let values: Vec<u32> = bends.iter().chain(&bends).copied().collect();
    let range = vec![(beat(0), 2 << 7), (beat(8), 12 << 7)];
    let sound = bounced("Bend", &held(), &[("registered 0", range), ("bend", each_beat(&values))]);
    for (number, &value) in values.iter().enumerate() {
        let range = if number < 8 { 2.0 } else { 12.0 };
        let expected = 100.0 * range * (f64::from(value) - 8192.0) / 8192.0;
        let cents = 1200.0 * (measure::pitch(within(&sound.left, number), 44_100) / 500.0).log2();
        assert!((cents - expected).abs() < 1.0, "{value} of {range}: {cents} {expected}");
    }
}

/// MIDI 1.0 Detailed Specification, controller 64: the pedal is down at 64 to 127, and keys released
/// meanwhile sound on until it comes up.
#[test]
fn a_bounced_pedal_holds_until_it_comes_up() {
    let notes: Vec<_> = [0, 8, 16].map(|number| (beat(number), 480, 60, 127)).into();
    // The pedal is down under the first and the third note, and just short of down under the second.
    let pedal = [(0, 127), (4, 0), (8, 63), (16, 64), (19, 63)];
    let pedal = pedal.map(|(number, value)| (beat(number), value)).into();
    let sound = bounced("Pedal", &notes, &[("change 64", pedal)]);
    let ends = [4.0, 8.5, 19.0].map(|beats: f64| (beats * BEAT as f64) as usize);
    let begins = [0, 8, 16].map(|number: usize| number * BEAT);
    let full = level(&sound.left, 0);
    for (place, (begin, end)) in begins.into_iter().zip(ends).enumerate() {
        let upto = begins.get(place + 1).copied().unwrap_or(sound.left.len());
        assert!((measure::db(&sound.left[begin + 882..end - 8]) - full).abs() < 0.05, "{place}");
        // 20 ms later there is silence.
        assert!(sound.left[end + 882..upto - 8].iter().all(|x| *x == 0.0), "{place}");
    }
}

/// An independent meter finds the loudness that the option asks for, and no format exceeds the ceiling.
#[test]
fn a_loud_bounce_is_as_loud_as_asked_and_never_clipped() {
    let folder = tempfile::tempdir().unwrap();
    let wav = folder.path().join("mix.wav");
    let mut song = Song::new(4, "4/4", 500_000);
    let mut hits = Vec::new();
    for number in 0..16 {
        hits.push((beat(number), 200, if number % 2 == 0 { 36 } else { 38 }, 127));
        hits.push((beat(number), 100, 42, 127));
    }
    song.track("Kit", (10, 1), &hits, &[]);
    for (channel, key) in [(1, 48), (2, 60), (3, 64), (4, 67), (5, 72)] {
        let notes: Vec<_> = (0..16).map(|number| (beat(number), 900, key, 127)).collect();
        song.track(
            &format!("Loud {channel}"),
            (channel, 57),
            &notes,
            &[("change 7", vec![(beat(0), 127)])],
        );
    }
    for (bits, wanted) in [("16", -16.0), ("24", -9.0), ("32f", -8.0)] {
        let loudness = wanted.to_string();
        let words = ["--bits", bits, "--rate", "48000", "--loudness", &loudness];
        let (results, messages) = song.bounce(folder.path(), &wav, &words);
        let printed = results.lines().find_map(|line| line.strip_prefix("loudness ")).unwrap();
        let printed: f64 = printed.trim_end_matches(" LUFS").parse().unwrap();
        assert!((printed - wanted).abs() <= 0.1, "{results}");
        assert!(!messages.contains("instead"), "{messages}");
        let sound = Wav::read(&wav);
        let peak = results.lines().find_map(|line| line.strip_prefix("peak ")).unwrap();
        let peak: f32 = peak.trim_end_matches(" dBFS").parse().unwrap();
        assert!((20.0 * sound.peak().log10() - peak).abs() <= 0.06, "{results}: {}", sound.peak());
        let measured = lufs(&sound.left, &sound.right).unwrap();
        assert!((measured - wanted).abs() <= 0.1, "{bits}: {measured}");
        // -1 dBFS, and 1.5 steps of 16 bits for rounding and dither.
        let ceiling = 10f32.powf(-1.0 / 20.0) + 1.5 / 32_768.0;
        assert!(sound.peak() <= ceiling && sound.peak() > 0.3, "{bits}: {}", sound.peak());
        if wanted > -10.0 {
            assert!(results.contains("\nthe limiter turned the mix down by up to "), "{results}");
        }
    }
}
