//! Guitars, all made of plucked strings (`dsp/pluck.rs`).

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::pluck::{Pluck, pluck};
use crate::dsp::tone::Tone;

/// Nylon strings over a wooden body.
pub static NYLON: Timbre = guitar("Nylon", &[43, 54, 66, 78], nylon);
/// Steel strings over a wooden body.
pub static STEEL: Timbre = guitar("Steel", &[43, 54, 65, 77], steel);
/// Steel strings in front of a pickup.
pub static CLEAN: Timbre = guitar("Clean", &[43, 54, 65, 77], clean);
/// The clean guitar, damped by the hand.
pub static MUTED: Timbre = guitar("Muted", &[46, 62], muted);
/// The clean guitar through a warm amplifier.
pub static OVERDRIVEN: Timbre = guitar("Overdriven", &[43, 55, 68], overdriven);
/// The clean guitar through a heavily driven amplifier.
pub static DISTORTED: Timbre = guitar("Distorted", &[43, 55, 68], distorted);
/// A harmonic: a string touched at its middle.
pub static FLAGEOLET: Timbre = guitar("Flageolet", &[60, 76], flageolet);

const fn guitar(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -18.0 }
}

const STRING: Pluck = Pluck {
    bright: 4000.0,
    place: 0.2,
    smooth: 0.1,
    fall: 8.0,
    onset: 0.19,
    rate: 23_000.0,
    seed: 21,
};

/// A string at a key. Higher strings are smoothed less per period, because they have more periods in
/// the same time.
fn string(key: u8, how: Pluck) -> Tone {
    let turns = 41.0 / f64::from(key.max(30));
    pluck(key, &Pluck { smooth: (how.smooth * turns * turns).min(0.5), ..how })
}

fn thumb(tone: Tone, level: f64, hertz: f64) -> Tone {
    let mut filters = [Filter::band_pass(hertz, 0.7, f64::from(tone.rate))];
    tone.with_knock(level, 0.05, &mut filters)
}

fn nylon(key: u8) -> Tone {
    thumb(string(key, Pluck { bright: 2300.0, place: 0.24, smooth: 0.22, ..STRING }), 0.25, 220.0)
}

fn steel(key: u8) -> Tone {
    let how = Pluck { bright: 7000.0, place: 0.15, smooth: 0.12, ..STRING };
    thumb(string(key, how), 0.2, 2600.0)
}

fn clean(key: u8) -> Tone {
    string(key, Pluck { bright: 4500.0, place: 0.31, smooth: 0.12, seed: 5, ..STRING }).driven(0.8)
}

fn muted(key: u8) -> Tone {
    let how = Pluck { bright: 2600.0, smooth: 0.4, fall: 0.35, onset: 0.19, ..STRING };
    string(key, how).cut(0.22)
}

fn overdriven(key: u8) -> Tone {
    let how = Pluck { bright: 3000.0, place: 0.22, smooth: 0.16, onset: 0.18, ..STRING };
    string(key, how).driven(5.0)
}

fn distorted(key: u8) -> Tone {
    let how = Pluck { bright: 2500.0, place: 0.17, smooth: 0.2, onset: 0.2, seed: 2, ..STRING };
    string(key, how).driven(20.0)
}

fn flageolet(key: u8) -> Tone {
    let partials = [
        Partial::steady(1.0, 1.0),
        Partial::fading(2.0, 0.35, 1.5),
        Partial::fading(3.0, 0.18, 0.7),
        Partial::fading(4.0, 0.1, 0.4),
        Partial::fading(5.0, 0.06, 0.2),
    ];
    let tone = additive(key, Shape { onset: 0.17, repeat: 0.03, rate: 24_000.0 }, &partials);
    thumb(tone, 0.2, 2000.0)
}
