//! Measurements of samples: level, pitch, the strength of one tone.

use std::f64::consts::{PI, TAU};

/// The RMS level of a sound in decibels: a full-scale sine has -3.01.
pub fn db(samples: &[f32]) -> f64 {
    let power: f64 = samples.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (power / samples.len() as f64).max(1e-24).log10()
}

pub fn peak(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |peak, x| peak.max(x.abs()))
}

/// The largest step between two neighbouring samples.
pub fn step(samples: &[f32]) -> f32 {
    samples.windows(2).fold(0.0, |step, pair| step.max((pair[1] - pair[0]).abs()))
}

/// The frequency of the strongest partial in hertz, from a Hann window, a transform of four times the
/// length, and a parabola through the logarithms of the three highest lines.
pub fn pitch(samples: &[f32], rate: u32) -> f64 {
    let size = (samples.len() * 4).next_power_of_two();
    let count = samples.len() as f64;
    let window = |i: usize| 0.5 - 0.5 * (TAU * (i as f64 + 0.5) / count).cos();
    let mut lines: Vec<(f64, f64)> =
        samples.iter().enumerate().map(|(i, x)| (f64::from(*x) * window(i), 0.0)).collect();
    lines.resize(size, (0.0, 0.0));
    transform(&mut lines);
    let power = |i: usize| (lines[i].0.powi(2) + lines[i].1.powi(2)).max(1e-300).ln();
    let top = (1..size / 2).max_by(|a, b| power(*a).total_cmp(&power(*b))).unwrap();
    let (low, mid, high) = (power(top - 1), power(top), power(top + 1));
    let offset = 0.5 * (low - high) / (low - 2.0 * mid + high);
    (top as f64 + offset) * f64::from(rate) / size as f64
}

/// The level of one frequency in decibels (Goertzel's sum with a Hann window).
pub fn tone(samples: &[f32], hertz: f64, rate: u32) -> f64 {
    let count = samples.len() as f64;
    let (mut re, mut im) = (0.0, 0.0);
    for (i, x) in samples.iter().enumerate() {
        let window = 1.0 - (TAU * (i as f64 + 0.5) / count).cos();
        let (sin, cos) = (TAU * hertz * i as f64 / f64::from(rate)).sin_cos();
        re += f64::from(*x) * window * cos;
        im += f64::from(*x) * window * sin;
    }
    10.0 * (2.0 * (re * re + im * im) / (count * count)).max(1e-24).log10()
}

/// Fast Fourier transform in place (Cooley and Tukey 1965); the length is a power of two.
fn transform(lines: &mut [(f64, f64)]) {
    let size = lines.len();
    if size == 1 {
        return;
    }
    let mut even: Vec<_> = lines.iter().step_by(2).copied().collect();
    let mut odd: Vec<_> = lines.iter().skip(1).step_by(2).copied().collect();
    transform(&mut even);
    transform(&mut odd);
    for i in 0..size / 2 {
        let (sin, cos) = (-2.0 * PI * i as f64 / size as f64).sin_cos();
        let (re, im) = odd[i];
        let turned = (re * cos - im * sin, re * sin + im * cos);
        lines[i] = (even[i].0 + turned.0, even[i].1 + turned.1);
        lines[i + size / 2] = (even[i].0 - turned.0, even[i].1 - turned.1);
    }
}
