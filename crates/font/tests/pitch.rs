//! Every pitched program is in tune.
//!
//! Sources: the programs are those of the General MIDI System Level 1 sound set; A4 (key 69) is
//! 440 Hz by ISO 16; the other keys follow in twelve equal steps per octave. The tolerance of 5 cents
//! is common practice; no source, and so are the ranges of the families.

mod ear;

use ear::{Note, RATE, Spectrum, font, frequency};

/// The programs of each family, and the range of keys in which it is usually played.
const FAMILIES: [(&[u8], u8, u8); 16] = [
    (&[1, 2, 3, 4, 5, 6, 7, 8], 33, 93),
    (&[9, 10, 11, 12, 13, 14, 15, 16], 55, 96),
    (&[17, 18, 19, 20, 21, 22, 23, 24], 36, 90),
    (&[25, 26, 27, 28, 29, 30, 31, 32], 40, 84),
    (&[33, 34, 35, 36, 37, 38, 39, 40], 28, 60),
    (&[41, 42, 43, 44, 45, 46, 47, 48], 36, 88),
    (&[49, 50, 51, 52, 53, 54, 55, 56], 40, 84),
    (&[57, 58, 59, 60, 61, 62, 63, 64], 36, 82),
    (&[65, 66, 67, 68, 69, 70, 71, 72], 40, 84),
    (&[73, 74, 75, 76, 77, 78, 79, 80], 60, 96),
    (&[81, 82, 83, 84, 85, 86, 87, 88], 36, 96),
    (&[89, 90, 91, 92, 93, 94, 95, 96], 36, 90),
    (&[97, 98, 99, 100, 101, 102, 103, 104], 48, 84),
    (&[105, 106, 107, 108, 109, 110, 111, 112], 48, 84),
    (&[113, 114, 115, 116, 117, 118], 48, 84),
    // A synthesizer drum falls to its pitch; a cymbal played backwards has none.
    (&[119], 48, 72),
];

/// The tolerance in cents.
const NEAR_ENOUGH: f64 = 5.0;
/// How far the fundamental may be below the strongest partial, in decibels.
const HEARD: f64 = -40.0;

/// How many cents a note is off equal temperament, and how loud its fundamental is.
fn off(program: u8, key: u8, font: &std::sync::Arc<rustysynth::SoundFont>) -> Option<(f64, f64)> {
    // Measured after the attack but before a delayed vibrato; pads need longer.
    let from = if (89..=104).contains(&program) { RATE } else { RATE / 20 };
    let from = if program == 119 { RATE / 2 } else { from };
    let length = if frequency(key) < 120.0 { RATE * 6 / 10 } else { RATE * 45 / 100 };
    let note = Note::new(program, key, (from + length) as f64 / RATE as f64);
    let spectrum = Spectrum::of(&note.mono(font)[from..]);
    let (hertz, level) = spectrum.peak_near(frequency(key), 80.0)?;
    Some((1200.0 * (hertz / frequency(key)).log2(), level))
}

#[test]
fn each_family_is_in_tune_on_21_keys_of_its_range() {
    let font = font();
    let mut faults = Vec::new();
    for (programs, from, to) in FAMILIES {
        for program in programs {
            for step in 0..21_u32 {
                let key = u32::from(from) + (u32::from(to - from) * step + 10) / 20;
                let found = off(*program, key as u8, &font);
                if !found.is_some_and(|(cents, level)| cents.abs() <= NEAR_ENOUGH && level > HEARD)
                {
                    faults.push(format!("program {program} key {key}: {found:.1?}"));
                }
            }
        }
    }
    assert!(faults.is_empty(), "{} notes are off: {faults:#?}", faults.len());
}

#[test]
fn the_measurement_finds_a_note_that_is_out_of_tune() {
    let tone = |cents: f64| -> Vec<f32> {
        let hertz = 440.0 * (cents / 1200.0).exp2();
        let turn = |at: usize| at as f64 / RATE as f64 * hertz * std::f64::consts::TAU;
        (0..RATE / 2).map(|at| turn(at).sin() as f32).collect()
    };
    for cents in [-30.0, -6.0, 0.0, 6.0, 30.0] {
        let (hertz, _) = Spectrum::of(&tone(cents)).peak_near(440.0, 80.0).unwrap();
        assert!((1200.0 * (hertz / 440.0).log2() - cents).abs() < 0.1, "{cents}");
    }
}
