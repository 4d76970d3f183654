//! Woodwinds with reeds.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::spectrum::{Peak, body, dull, harmonics, rising};
use crate::dsp::tone::Tone;

/// Soprano and alto saxophone.
pub static HIGH_SAX: Timbre = reed("High Sax", &[57, 67, 78], high_sax);
/// Tenor and baritone saxophone.
pub static LOW_SAX: Timbre = reed("Low Sax", &[41, 52, 63], low_sax);
/// An oboe, and an English horn in its low range.
pub static OBOE: Timbre = reed("Oboe", &[57, 68, 79], oboe);
/// A bassoon.
pub static BASSOON: Timbre = reed("Bassoon", &[37, 47, 58], bassoon);
/// A clarinet: mostly odd harmonics.
pub static CLARINET: Timbre = reed("Clarinet", &[53, 65, 77], clarinet);
/// A double reed with a narrow, piercing sound.
pub static CHANTER: Timbre = reed("Chanter", &[59, 72], chanter);

const fn reed(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -19.0 }
}

fn blow(key: u8, partials: Vec<Partial>, breath: f64) -> Tone {
    let shape = Shape { onset: 0.07, repeat: 0.08, rate: 22_500.0 };
    let tone = additive(key, shape, &rising(partials, 0.02, 0.002));
    let rate = f64::from(tone.rate);
    let mut filters = [Filter::band_pass(2600.0, 0.6, rate)];
    tone.with_breath(breath, &mut filters)
}

fn through(key: u8, peaks: &[Peak], floor: f64, cutoff: f64) -> Vec<Partial> {
    harmonics(frequency(f64::from(key)), 10_500.0, |n, hertz| {
        body(hertz, peaks, floor) / n.sqrt() * dull(hertz, cutoff, 3)
    })
}

fn high_sax(key: u8) -> Tone {
    let peaks = [(750.0, 600.0, 1.0), (1400.0, 500.0, 0.4), (2700.0, 900.0, 0.45)];
    blow(key, through(key, &peaks, 0.25, 4200.0), 0.03)
}

fn low_sax(key: u8) -> Tone {
    let peaks = [(420.0, 350.0, 1.0), (1000.0, 450.0, 0.5), (2200.0, 800.0, 0.4)];
    blow(key, through(key, &peaks, 0.25, 3300.0), 0.035)
}

fn oboe(key: u8) -> Tone {
    let peaks = [(1150.0, 450.0, 1.0), (2900.0, 700.0, 0.45)];
    blow(key, through(key, &peaks, 0.2, 5000.0), 0.008)
}

fn bassoon(key: u8) -> Tone {
    let peaks = [(460.0, 220.0, 1.0), (1200.0, 400.0, 0.3)];
    blow(key, through(key, &peaks, 0.15, 2500.0), 0.012)
}

fn clarinet(key: u8) -> Tone {
    let partials = harmonics(frequency(f64::from(key)), 9000.0, |n, hertz| {
        let even = (n as usize).is_multiple_of(2);
        let share = if even { 0.05 + 0.35 * (1.0 - dull(hertz, 1800.0, 2)) } else { 1.0 };
        share / n.sqrt() * dull(hertz, 1700.0, 2)
    });
    blow(key, partials, 0.012)
}

fn chanter(key: u8) -> Tone {
    let peaks = [(1500.0, 600.0, 1.0), (3300.0, 1100.0, 0.9)];
    blow(key, through(key, &peaks, 0.22, 6500.0), 0.006)
}
