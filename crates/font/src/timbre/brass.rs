//! Brass: the higher a partial, the later it starts.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::math::frequency;
use crate::dsp::spectrum::{Peak, body, choir_of, dull, harmonics, rising};
use crate::dsp::tone::Tone;

/// A trumpet.
pub static TRUMPET: Timbre = brass("Trumpet", &[55, 64, 73, 83], trumpet);
/// A muted trumpet.
pub static MUTE: Timbre = brass("Mute", &[57, 67, 79], mute);
/// A trombone, and a tuba in its low range.
pub static TROMBONE: Timbre = brass("Trombone", &[33, 44, 55, 67], trombone);
/// A horn.
pub static HORN: Timbre = brass("Horn", &[43, 55, 67], horn);
/// Trumpets and trombones together.
pub static SECTION: Timbre = brass("Brass Section", &[43, 55, 67, 79], section);

const fn brass(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -18.5 }
}

fn lips(key: u8, peaks: &[Peak], floor: f64, cutoff: f64) -> Vec<Partial> {
    harmonics(frequency(f64::from(key)), 10_500.0, |n, hertz| {
        body(hertz, peaks, floor) / n.sqrt() * dull(hertz, cutoff, 3)
    })
}

fn blow(key: u8, partials: Vec<Partial>, more: f64) -> Tone {
    let shape = Shape { onset: 0.11, repeat: 0.02, rate: 25_000.0 };
    additive(key, shape, &rising(partials, 0.018, more))
}

fn trumpet(key: u8) -> Tone {
    blow(key, lips(key, &[(1250.0, 1400.0, 1.0)], 0.35, 3600.0), 0.006)
}

fn mute(key: u8) -> Tone {
    let peaks = [(1700.0, 700.0, 1.0), (3200.0, 900.0, 0.7)];
    blow(key, lips(key, &peaks, 0.10, 5500.0), 0.004)
}

fn trombone(key: u8) -> Tone {
    blow(key, lips(key, &[(550.0, 700.0, 1.0)], 0.35, 1900.0), 0.005)
}

fn horn(key: u8) -> Tone {
    blow(key, lips(key, &[(380.0, 420.0, 1.0)], 0.25, 1000.0), 0.007)
}

fn section(key: u8) -> Tone {
    let one = lips(key, &[(1000.0, 1300.0, 1.0)], 0.4, 3200.0);
    let partials = rising(choir_of(&one, &[0.0, -6.0, 6.0]), 0.02, 0.004);
    additive(key, Shape { onset: 0.12, repeat: 0.22, rate: 21_000.0 }, &partials)
}
