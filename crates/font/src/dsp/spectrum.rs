//! Spectra: how loud each harmonic of a sound is, and how a body or a mouth filters it.

use super::additive::{Partial, scatter};
use super::math::{power_of_two, sine};

/// A resonance: centre and width in hertz, gain as a factor.
pub type Peak = (f64, f64, f64);

/// Steady harmonics of `pitch` hertz, up to `top` hertz, with scattered phases. `level` gives the
/// amplitude of a harmonic from its number and its frequency in hertz.
pub fn harmonics(pitch: f64, top: f64, level: impl Fn(f64, f64) -> f64) -> Vec<Partial> {
    let count = ((top / pitch) as usize).max(1);
    let numbers = (1..=count).map(|n| n as f64);
    let mut partials: Vec<Partial> =
        numbers.map(|n| Partial::steady(n, level(n, n * pitch))).collect();
    partials.retain(|partial| partial.level.abs() > 1e-5);
    scatter(&mut partials, 11);
    partials
}

/// Amplitude of the n-th harmonic of a pulse wave that is high for the fraction `width` of its period.
pub fn pulse(n: f64, width: f64) -> f64 {
    sine(n * width / 2.0) / n
}

/// The gain of a set of resonances at `hertz`; `floor` is the gain far away from all of them.
pub fn body(hertz: f64, peaks: &[Peak], floor: f64) -> f64 {
    let share = |&(centre, width, gain): &Peak| {
        let off = (hertz - centre) / (width / 2.0);
        gain / (1.0 + off * off)
    };
    floor + peaks.iter().map(share).sum::<f64>()
}

/// The gain of a gentle low-pass filter: one half at `cutoff` hertz. `steepness` is 1 for 6 dB per
/// octave, 2 for 12.
pub fn dull(hertz: f64, cutoff: f64, steepness: i32) -> f64 {
    let ratio = hertz / cutoff;
    let power = (0..steepness).fold(1.0, |product, _| product * ratio);
    1.0 / (1.0 + power)
}

/// Several players of one part: a copy of each partial for every number of cents in `spread`, with
/// scattered phases. The pitch stays that of the player in the middle: the others' lowest partials
/// are softer, and the phases of their fundamentals lie evenly around it.
pub fn choir_of(partials: &[Partial], spread: &[f64]) -> Vec<Partial> {
    let mut many = Vec::new();
    for &cents in spread {
        let shift = power_of_two(cents / 1200.0);
        let share = |ratio: f64| if cents == 0.0 { 1.0 } else { (0.1 * ratio * ratio).min(1.0) };
        let beside = partials.iter().map(|one| Partial {
            ratio: one.ratio * shift,
            level: one.level * share(one.ratio),
            ..*one
        });
        many.extend(beside);
    }
    scatter(&mut many, 29);
    for (at, one) in many.iter_mut().enumerate().filter(|(at, _)| at % partials.len() == 0) {
        let cents = spread[at / partials.len()];
        one.phase = if cents < 0.0 { -0.2 } else { 0.2 * f64::from(u8::from(cents > 0.0)) };
    }
    many
}

/// Makes higher partials rise more slowly: `base` seconds for the first, `more` for each above it.
pub fn rising(mut partials: Vec<Partial>, base: f64, more: f64) -> Vec<Partial> {
    for partial in &mut partials {
        partial.rise = base + more * (partial.ratio - 1.0).max(0.0);
    }
    partials
}
