//! Synthesizer waves: band-limited pulses and saws, and bright textures for pads.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive, scatter};
use crate::dsp::filter::Filter;
use crate::dsp::fm::{Pair, fm};
use crate::dsp::math::frequency;
use crate::dsp::noise::ring;
use crate::dsp::spectrum::{choir_of, harmonics, pulse};
use crate::dsp::tone::Tone;

/// A square wave.
pub static SQUARE: Timbre = wave("Square", &[29, 41, 51, 60, 69, 79, 91], square);
/// A saw wave.
pub static SAW: Timbre = wave("Saw", &[29, 41, 51, 60, 69, 79, 91], saw);
/// Three slightly detuned saws.
pub static SAWS: Timbre = wave("Saws", &[38, 52, 65, 79], saws);
/// A soft, glassy texture.
pub static GLASS: Timbre = wave("Glass", &[54, 73], glass);
/// A metallic texture.
pub static METAL: Timbre = wave("Metal", &[52, 69], metal);
/// Continuous noise.
pub static HISS: Timbre = wave("Hiss", &[60], hiss);

const fn wave(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -19.0 }
}

/// Highest harmonic in hertz, as high as [`SHORT`]'s sample rate allows.
const TOP: f64 = 12_500.0;
const SHORT: Shape = Shape { onset: 0.001, repeat: 0.02, rate: 30_000.0 };

fn square(key: u8) -> Tone {
    additive(key, SHORT, &harmonics(frequency(f64::from(key)), TOP, |n, _| pulse(n, 0.5)))
}

fn saw(key: u8) -> Tone {
    additive(key, SHORT, &harmonics(frequency(f64::from(key)), TOP, |n, _| 1.0 / n))
}

fn saws(key: u8) -> Tone {
    let one = harmonics(frequency(f64::from(key)), 9500.0, |n, _| 1.0 / n);
    let partials = choir_of(&one, &[0.0, -7.0, 7.0]);
    additive(key, Shape { onset: 0.001, repeat: 0.4, rate: 22_000.0 }, &partials)
}

fn glass(key: u8) -> Tone {
    let levels = [1.0, 0.5, 0.18, 0.25, 0.06, 0.12, 0.03, 0.1];
    let one: Vec<Partial> =
        levels.iter().zip(1..).map(|(&level, n)| Partial::steady(f64::from(n), level)).collect();
    let mut partials = choir_of(&one, &[0.0, -5.0, 5.0]);
    scatter(&mut partials, 17);
    additive(key, Shape { onset: 0.001, repeat: 0.4, rate: 16_000.0 }, &partials)
}

fn metal(key: u8) -> Tone {
    let base = Pair {
        carrier: 1.0,
        modulator: 3.53,
        depth: 0.18,
        floor: 0.10,
        depth_fall: 1.0,
        level: 0.7,
        fall: f64::INFINITY,
    };
    let plain = Pair { modulator: 1.0, depth: 0.1, floor: 0.05, level: 1.0, ..base };
    let shape = Shape { onset: 0.15, repeat: 0.15, rate: 22_000.0 };
    fm(key, shape, &[plain, base])
}

fn hiss(key: u8) -> Tone {
    let rate = 22_000.0;
    let frames = ring(44, 9_000, &mut [Filter::low_pass(8000.0, 0.7, rate)]);
    let mut long = frames.clone();
    long.extend(&frames[..64]);
    Tone { frames: long, rate: 22_000, root: key, repeat: Some((16, 9_016)) }
}
