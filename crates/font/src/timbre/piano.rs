//! The piano: strings struck by hammers.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive, scatter};
use crate::dsp::filter::Filter;
use crate::dsp::math::{frequency, power_of_two, sine};
use crate::dsp::tone::Tone;

/// A grand piano.
pub static GRAND: Timbre =
    Timbre { name: "Grand", roots: &[32, 44, 55, 66, 77, 91], make: grand, level: -17.0 };

fn grand(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let height = (f64::from(key) - 30.0) / 63.0;
    let shape = Shape { onset: 0.4 - 0.22 * height, repeat: 0.22 - 0.17 * height, rate: 27_000.0 };
    let count = ((11_000.0 / pitch) as usize).clamp(2, 48);
    // Stiff strings spread their partials, most of all in the treble (from memory, close to handbook
    // values).
    let stiffness = 0.000_12 * power_of_two((f64::from(key) - 40.0).max(0.0) / 11.0);
    let mut partials: Vec<Partial> = (1..=count)
        .map(|n| {
            let n = n as f64;
            let ratio = n * ((1.0 + stiffness * n * n) / (1.0 + stiffness)).sqrt();
            let struck = sine(n / 16.0 + 0.004).abs().max(0.06);
            let hammer = 1.0 / (1.0 + n * pitch / 1900.0) / (1.0 + n / 14.0);
            let body = 1.0 - 0.55 / (1.0 + (n * pitch / 95.0) * (n * pitch / 95.0));
            Partial::fading(
                ratio,
                struck * hammer * body,
                4.6 / (1.0 + 0.9 * (n - 1.0)) / (0.6 + height),
            )
        })
        .collect();
    partials[0].fall = f64::INFINITY;
    scatter(&mut partials, u64::from(key));
    let rate = 27_000.0;
    let mut wood =
        [Filter::low_pass(900.0 + 1500.0 * height, 0.7, rate), Filter::high_pass(70.0, 0.7, rate)];
    additive(key, shape, &partials).with_knock(0.45 + 0.3 * height, 0.12, &mut wood)
}
