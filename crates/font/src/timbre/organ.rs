//! Organs with tone wheels, pipes and reeds.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive, scatter};
use crate::dsp::math::frequency;
use crate::dsp::spectrum::{body, choir_of, dull, harmonics, pulse, rising};
use crate::dsp::tone::Tone;

/// Tone wheels with a full, round registration.
pub static DRAWBARS: Timbre = organ("Drawbars", &[41, 55, 69, 83], drawbars);
/// Overdriven tone wheels.
pub static ROCK: Timbre = organ("Rock Organ", &[41, 55, 69, 83], rock);
/// Percussion: the short second harmonic at the start of a note.
pub static CHIP: Timbre = organ("Organ Chip", &[48, 66, 84], chip);
/// Principal pipes of four lengths.
pub static PRINCIPALS: Timbre = organ("Principals", &[43, 60, 77], principals);
/// Reeds blown by foot bellows.
pub static HARMONIUM: Timbre = organ("Harmonium", &[50, 67], harmonium);
/// Two slightly detuned reeds per note.
pub static MUSETTE: Timbre = organ("Musette", &[50, 64, 78], musette);
/// One free reed, blown by the mouth.
pub static HARP_REED: Timbre = organ("Mouth Reed", &[55, 67, 79], harp_reed);

const fn organ(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -19.0 }
}

const RATE: f64 = 26_000.0;

/// Frequencies of the nine drawbars relative to the eight-foot one.
const FEET: [f64; 9] = [0.5, 1.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0];

fn wheels(key: u8, levels: [f64; 9]) -> Tone {
    let mut partials: Vec<Partial> =
        FEET.iter().zip(levels).map(|(&ratio, level)| Partial::steady(ratio, level)).collect();
    partials.iter_mut().for_each(|partial| partial.rise = 0.004);
    scatter(&mut partials, 4);
    additive(key, Shape { onset: 0.02, repeat: 0.05, rate: RATE }, &partials)
}

fn drawbars(key: u8) -> Tone {
    wheels(key, [0.7, 0.6, 1.0, 0.45, 0.2, 0.15, 0.05, 0.04, 0.08])
}

fn rock(key: u8) -> Tone {
    wheels(key, [0.8, 0.8, 1.0, 0.7, 0.4, 0.4, 0.3, 0.25, 0.4]).driven(2.0)
}

fn chip(key: u8) -> Tone {
    let partials = [Partial::steady(2.0, 1.0), Partial::fading(3.0, 0.4, 0.2)];
    additive(key, Shape { onset: 0.05, repeat: 0.02, rate: RATE }, &partials)
}

fn principals(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let ranks = [(1.0, 1.0, 0.0), (2.0, 0.7, 1.5), (3.0, 0.3, 0.0), (4.0, 0.4, -1.5)];
    let mut partials = Vec::new();
    for (foot, level, cents) in ranks {
        let pipe = harmonics(pitch * foot, 9000.0, |n, hertz| {
            level / (n * n.sqrt()) * dull(hertz, 4500.0, 2)
        });
        let pipe: Vec<Partial> =
            pipe.into_iter().map(|one| Partial { ratio: one.ratio * foot, ..one }).collect();
        partials.extend(choir_of(&pipe, &[cents]));
    }
    scatter(&mut partials, 9);
    let partials = rising(partials, 0.05, 0.0);
    additive(key, Shape { onset: 0.08, repeat: 0.2, rate: 22_000.0 }, &partials)
}

fn harmonium(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let peaks = [(700.0, 500.0, 1.0), (2100.0, 900.0, 0.5)];
    let reed = harmonics(pitch, 9000.0, |n, hertz| {
        pulse(n, 0.31) * body(hertz, &peaks, 0.45) * dull(hertz, 4000.0, 2)
    });
    let partials = rising(choir_of(&reed, &[0.0, 4.0]), 0.04, 0.001);
    additive(key, Shape { onset: 0.06, repeat: 0.16, rate: 22_000.0 }, &partials)
}

fn musette(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let peaks = [(900.0, 800.0, 0.9), (2600.0, 1200.0, 0.6)];
    let reed = harmonics(pitch, 10_000.0, |n, hertz| {
        pulse(n, 0.22) * body(hertz, &peaks, 0.4) * dull(hertz, 5000.0, 2)
    });
    let partials = rising(choir_of(&reed, &[0.0, 8.0]), 0.03, 0.001);
    additive(key, Shape { onset: 0.05, repeat: 0.24, rate: 22_000.0 }, &partials)
}

fn harp_reed(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let peaks = [(1100.0, 700.0, 1.0), (2900.0, 1000.0, 0.7)];
    let reed = harmonics(pitch, 10_500.0, |n, hertz| {
        let odd = if n as usize % 2 == 1 { 1.0 } else { 0.6 };
        odd * pulse(n, 0.18) * body(hertz, &peaks, 0.35) * dull(hertz, 5000.0, 2)
    });
    let partials = rising(reed, 0.03, 0.002);
    additive(key, Shape { onset: 0.08, repeat: 0.05, rate: RATE }, &partials)
}
