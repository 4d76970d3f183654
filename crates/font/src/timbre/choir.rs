//! Voices: a buzz filtered by the resonances of a mouth.

use super::Timbre;
use crate::dsp::additive::{Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::spectrum::{Peak, body, choir_of, dull, harmonics, rising};
use crate::dsp::tone::Tone;

/// A choir on "ah".
pub static AHS: Timbre = choir("Ahs", &[50, 62, 73], ahs);
/// A choir on "ooh".
pub static OOHS: Timbre = choir("Oohs", &[50, 62, 74], oohs);

const fn choir(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -19.0 }
}

/// Formants of an open and of a round vowel, from memory of phonetics handbooks.
const AH: [Peak; 4] =
    [(750.0, 180.0, 1.0), (1150.0, 200.0, 0.7), (2800.0, 400.0, 0.25), (3600.0, 500.0, 0.15)];
const OOH: [Peak; 3] = [(350.0, 150.0, 1.0), (750.0, 180.0, 0.45), (2600.0, 500.0, 0.04)];

fn voices(key: u8, peaks: &[Peak], floor: f64) -> Tone {
    let one = harmonics(frequency(f64::from(key)), 7000.0, |n, hertz| {
        body(hertz, peaks, floor) / n.sqrt() * dull(hertz, 3500.0, 2)
    });
    let partials = rising(choir_of(&one, &[0.0, -9.0, 9.0, -4.0, 4.0]), 0.06, 0.0);
    let tone = additive(key, Shape { onset: 0.1, repeat: 0.5, rate: 16_000.0 }, &partials);
    let rate = f64::from(tone.rate);
    let mut air = [Filter::band_pass(2500.0, 0.6, rate)];
    tone.with_breath(0.02, &mut air)
}

fn ahs(key: u8) -> Tone {
    voices(key, &AH, 0.06)
}

fn oohs(key: u8) -> Tone {
    voices(key, &OOH, 0.03)
}
