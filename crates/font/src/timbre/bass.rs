//! Bass guitars and the double bass, plucked.

use super::Timbre;
use crate::dsp::additive::{Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::pluck::{Pluck, pluck};
use crate::dsp::spectrum::{dull, harmonics, rising};
use crate::dsp::tone::Tone;

/// A double bass.
pub static UPRIGHT: Timbre = bass("Upright", upright);
/// A bass guitar played with the fingers.
pub static FINGER: Timbre = bass("Finger", finger);
/// A bass guitar played with a pick.
pub static PICK: Timbre = bass("Pick", pick);
/// A bass guitar slapped by the thumb and popped by the fingers.
pub static SLAP: Timbre = bass("Slap", slap);
/// A fretless bass guitar.
pub static FRETLESS: Timbre = bass("Fretless", fretless);

const fn bass(name: &'static str, make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots: &[30, 40, 51], make, level: -17.0 }
}

const STRING: Pluck = Pluck {
    bright: 1500.0,
    place: 0.2,
    smooth: 0.2,
    fall: 8.0,
    onset: 0.28,
    rate: 17_000.0,
    seed: 13,
};

fn click(tone: Tone, level: f64, hertz: f64, seconds: f64) -> Tone {
    let mut filters = [Filter::band_pass(hertz, 0.8, f64::from(tone.rate))];
    tone.with_knock(level, seconds, &mut filters)
}

fn upright(key: u8) -> Tone {
    let how = Pluck { bright: 750.0, place: 0.28, smooth: 0.4, fall: 4.0, ..STRING };
    click(pluck(key, &how), 0.3, 160.0, 0.08)
}

fn finger(key: u8) -> Tone {
    click(pluck(key, &Pluck { bright: 1300.0, place: 0.24, ..STRING }), 0.12, 700.0, 0.04)
}

fn pick(key: u8) -> Tone {
    let how = Pluck { bright: 3500.0, place: 0.12, smooth: 0.12, ..STRING };
    click(pluck(key, &how), 0.25, 2500.0, 0.03)
}

fn slap(key: u8) -> Tone {
    let how = Pluck { bright: 6000.0, place: 0.33, smooth: 0.14, rate: 20_000.0, ..STRING };
    click(pluck(key, &how).driven(1.5), 0.5, 3200.0, 0.04)
}

fn fretless(key: u8) -> Tone {
    let pitch = frequency(f64::from(key));
    let partials = harmonics(pitch, 4000.0, |n, hertz| dull(hertz, 420.0, 2) / n.sqrt());
    let shape = Shape { onset: 0.14, repeat: 0.03, rate: 16_000.0 };
    additive(key, shape, &rising(partials, 0.012, 0.009))
}
