//! Hats and cymbals: many inharmonic sines, and noise above them.
//!
//! The long ones loop, and the envelope of their zone fades them out.

use super::Drum;
use crate::dsp::additive::{Partial, Shape, additive, scatter};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::noise::Noise;
use crate::dsp::tone::Tone;

pub fn all() -> Vec<Drum> {
    let closed = || hat(42, 7600.0).cut(0.09);
    let pedal = hat(44, 6200.0).cut(0.08);
    vec![
        Drum::new(42, "Closed Hi-Hat", -15.0, closed()).fade(0.09).pan(-18.0).class(1),
        Drum::new(44, "Pedal Hi-Hat", -16.0, pedal).fade(0.06).pan(-18.0).class(1),
        Drum::new(46, "Open Hi-Hat", -16.0, hat(46, 7600.0)).fade(0.8).pan(-18.0).class(1),
        Drum::new(49, "Crash Cymbal 1", -12.0, plate(49, 380.0, 3600.0)).fade(2.2).pan(25.0),
        Drum::new(51, "Ride Cymbal 1", -16.0, ride(51, 430.0, 0.45)).fade(2.0).pan(30.0),
        Drum::new(52, "Chinese Cymbal", -13.0, plate(52, 270.0, 2200.0)).fade(1.3).pan(-30.0),
        Drum::new(53, "Ride Bell", -16.0, ride(53, 540.0, 2.2)).fade(1.8).pan(30.0),
        Drum::new(55, "Splash Cymbal", -13.0, plate(55, 560.0, 4500.0)).fade(0.7).pan(12.0),
        Drum::new(57, "Crash Cymbal 2", -12.0, plate(57, 470.0, 4200.0)).fade(1.7).pan(-25.0),
        Drum::new(59, "Ride Cymbal 2", -16.0, ride(59, 510.0, 0.25)).fade(1.5).pan(38.0),
    ]
}

/// The modes of a metal plate, from `lowest` hertz upwards.
fn modes(key: u8, lowest: f64, count: usize, fall: f64) -> Vec<Partial> {
    let mut noise = Noise::new(u64::from(key));
    let (pitch, mut hertz) = (frequency(f64::from(key)), lowest);
    let mut partials = Vec::new();
    for at in 0..count {
        let share = at as f64 / count as f64;
        let level = 0.5 + 0.3 * noise.next();
        partials.push(Partial::fading(hertz / pitch, level, fall * (1.0 - 0.6 * share)));
        hertz += lowest * (0.55 + 0.4 * noise.next()) * (1.0 + share);
    }
    scatter(&mut partials, u64::from(key));
    partials
}

/// The modes, noise above `above` hertz for as long as they sound, and the tick of the stick.
fn struck(key: u8, shape: Shape, partials: &[Partial], hiss: f64, above: f64) -> Tone {
    let tone = additive(key, shape, partials);
    let rate = f64::from(tone.rate);
    let filters = || [Filter::high_pass(above, 0.8, rate), Filter::high_pass(above, 0.6, rate)];
    let stick = &mut [Filter::high_pass(2500.0, 0.7, rate)];
    tone.with_breath(hiss, &mut filters()).with_knock(0.6, 0.03, stick)
}

fn hat(key: u8, above: f64) -> Tone {
    let shape = Shape { onset: 0.1, repeat: 0.16, rate: 32_000.0 };
    let mut partials = modes(42, 3100.0, 14, 3.0);
    partials.iter_mut().for_each(|partial| partial.level *= 0.35);
    let key_ratio = frequency(42.0) / frequency(f64::from(key));
    partials.iter_mut().for_each(|partial| partial.ratio *= key_ratio);
    struck(key, shape, &partials, 2.2, above)
}

fn plate(key: u8, lowest: f64, above: f64) -> Tone {
    let shape = Shape { onset: 0.16, repeat: 0.26, rate: 29_000.0 };
    struck(key, shape, &modes(key, lowest, 52, 2.0), 1.1, above)
}

fn ride(key: u8, lowest: f64, bell: f64) -> Tone {
    let pitch = frequency(f64::from(key));
    let shape = Shape { onset: 0.12, repeat: 0.18, rate: 28_000.0 };
    let mut partials = modes(key, lowest, 44, 0.9);
    for (times, fall) in [(2.1, 3.0), (3.17, 2.0), (4.6, 1.5)] {
        partials.push(Partial::fading(times * lowest / pitch, 3.0 * bell, fall));
    }
    struck(key, shape, &partials, 0.5, 5500.0)
}
