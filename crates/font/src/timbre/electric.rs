//! Electric and mechanical keyboards: tines, reeds, plucked strings.

use super::Timbre;
use crate::dsp::additive::Shape;
use crate::dsp::fm::{Pair, fm};
use crate::dsp::math::frequency;
use crate::dsp::pluck::{Pluck, pluck};
use crate::dsp::tone::Tone;

/// A struck tine in front of a pickup.
pub static TINE: Timbre =
    Timbre { name: "Tine", roots: &[38, 54, 69, 84], make: tine, level: -17.0 };
/// The bell-like electric piano of frequency modulation.
pub static CRYSTAL_KEYS: Timbre =
    Timbre { name: "FM Keys", roots: &[38, 54, 69, 84], make: crystal_keys, level: -17.0 };
/// Strings plucked by quills.
pub static QUILL: Timbre =
    Timbre { name: "Quill", roots: &[41, 55, 68, 80], make: quill, level: -18.0 };
/// Strings struck against an anvil, in front of a pickup.
pub static CLAVI: Timbre =
    Timbre { name: "Clavi", roots: &[40, 54, 68], make: clavi, level: -18.0 };

const PAIR: Pair = Pair {
    carrier: 1.0,
    modulator: 1.0,
    depth: 0.2,
    floor: 0.02,
    depth_fall: 1.6,
    level: 1.0,
    fall: f64::INFINITY,
};

fn shape(key: u8) -> Shape {
    Shape { onset: 0.28 - f64::from(key) * 0.002, repeat: 0.02, rate: 24_000.0 }
}

fn tine(key: u8) -> Tone {
    let height = f64::from(key) / 100.0;
    let tone = Pair { depth: 0.34 - 0.2 * height, floor: 0.15 - 0.13 * height, ..PAIR };
    let ping = f64::round(2600.0 / frequency(f64::from(key))).max(3.0);
    let bell = Pair {
        carrier: ping,
        depth: 0.05,
        floor: 0.0,
        depth_fall: 0.2,
        level: 0.22,
        fall: 0.22,
        ..PAIR
    };
    fm(key, shape(key), &[tone, bell])
}

fn crystal_keys(key: u8) -> Tone {
    let height = f64::from(key) / 100.0;
    let warm = Pair { depth: 0.24, floor: 0.11 - 0.08 * height, depth_fall: 1.4, ..PAIR };
    let ratio = if key > 70 { 7.0 } else { 14.0 };
    let bell =
        Pair { modulator: ratio, depth: 0.14, floor: 0.004, depth_fall: 0.22, level: 0.6, ..PAIR };
    fm(key, shape(key), &[warm, bell])
}

fn quill(key: u8) -> Tone {
    let how = Pluck {
        bright: 9000.0,
        place: 0.13,
        smooth: 0.04,
        fall: 4.0,
        onset: 0.22,
        rate: 26_000.0,
        seed: 3,
    };
    pluck(key, &how)
}

fn clavi(key: u8) -> Tone {
    let how = Pluck {
        bright: 5200.0,
        place: 0.27,
        smooth: 0.06,
        fall: 3.0,
        onset: 0.18,
        rate: 26_000.0,
        seed: 8,
    };
    pluck(key, &how).driven(1.2)
}
