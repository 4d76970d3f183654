//! Bowed strings, solo and in sections.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::spectrum::{Peak, body, choir_of, dull, harmonics, rising};
use crate::dsp::tone::Tone;

/// Violin and viola.
pub static HIGH_BOW: Timbre = bowed("High Bow", &[56, 66, 76, 87], high_bow);
/// Cello and double bass.
pub static LOW_BOW: Timbre = bowed("Low Bow", &[33, 44, 56], low_bow);
/// A string section.
pub static SECTION: Timbre = bowed("Section", &[40, 54, 67, 80], section);

const fn bowed(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -19.0 }
}

/// Resonances of a violin's air and wood, from memory of handbooks.
const VIOLIN: [Peak; 5] = [
    (280.0, 80.0, 0.8),
    (460.0, 120.0, 1.0),
    (700.0, 250.0, 0.6),
    (1300.0, 500.0, 0.5),
    (2600.0, 1500.0, 0.9),
];
/// Resonances of a cello, likewise.
const CELLO: [Peak; 4] =
    [(110.0, 60.0, 0.7), (200.0, 90.0, 1.0), (420.0, 250.0, 0.8), (1500.0, 1200.0, 0.5)];

fn sawn(pitch: f64, peaks: &[Peak], cutoff: f64) -> Vec<Partial> {
    harmonics(pitch, 9500.0, |n, hertz| body(hertz, peaks, 0.35) / n * dull(hertz, cutoff, 2))
}

/// Adds the scratch of rosin.
fn rosin(tone: Tone, level: f64) -> Tone {
    let rate = f64::from(tone.rate);
    let mut filters = [Filter::high_pass(900.0, 0.7, rate), Filter::low_pass(5000.0, 0.7, rate)];
    tone.with_breath(level, &mut filters)
}

fn high_bow(key: u8) -> Tone {
    let partials = rising(sawn(frequency(f64::from(key)), &VIOLIN, 4200.0), 0.03, 0.004);
    let tone = additive(key, Shape { onset: 0.09, repeat: 0.1, rate: 22_000.0 }, &partials);
    rosin(tone, 0.012)
}

fn low_bow(key: u8) -> Tone {
    let partials = rising(sawn(frequency(f64::from(key)), &CELLO, 2600.0), 0.04, 0.003);
    let tone = additive(key, Shape { onset: 0.12, repeat: 0.14, rate: 22_000.0 }, &partials);
    rosin(tone, 0.012)
}

fn section(key: u8) -> Tone {
    let peaks = if key < 50 { &CELLO[..] } else { &VIOLIN[..] };
    let one = sawn(frequency(f64::from(key)), peaks, 3600.0);
    let partials = rising(choir_of(&one, &[0.0, -8.0, 8.0, -3.5, 3.5]), 0.05, 0.002);
    additive(key, Shape { onset: 0.12, repeat: 0.5, rate: 20_000.0 }, &partials)
}
