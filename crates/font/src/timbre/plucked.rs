//! Plucked and hammered strings other than guitars and basses.

use super::Timbre;
use crate::dsp::filter::Filter;
use crate::dsp::pluck::{Pluck, pluck};
use crate::dsp::tone::Tone;

/// A concert harp.
pub static HARP: Timbre = plucked("Harp", &[43, 60, 77], harp);
/// Bowed instruments plucked with the finger.
pub static PIZZICATO: Timbre = plucked("Pizzicato", &[43, 58, 74], pizzicato);
/// Pairs of wires under small hammers.
pub static DULCIMER: Timbre = plucked("Dulcimer", &[55, 71], dulcimer);
/// Wires buzzing on a wide bridge.
pub static SITAR: Timbre = plucked("Sitar", &[50, 63], sitar);
/// Wires over a skin.
pub static BANJO: Timbre = plucked("Banjo", &[52, 67], banjo);
/// Silk strings over a skin, played with a plectrum.
pub static SHAMISEN: Timbre = plucked("Shamisen", &[53, 68], shamisen);
/// Silk strings over a long board.
pub static KOTO: Timbre = plucked("Koto", &[52, 68], koto);

const fn plucked(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -18.0 }
}

const STRING: Pluck = Pluck {
    bright: 3000.0,
    place: 0.3,
    smooth: 0.15,
    fall: 8.0,
    onset: 0.2,
    rate: 23_000.0,
    seed: 34,
};

/// A string at a key. `smooth` is meant for key 48; higher strings are smoothed less per period,
/// because they have more periods in the same time.
fn string(key: u8, how: Pluck) -> Tone {
    let less = 48.0 / f64::from(key);
    pluck(key, &Pluck { smooth: (how.smooth * less * less).min(0.5), ..how })
}

fn knock(tone: Tone, level: f64, hertz: f64, seconds: f64) -> Tone {
    let mut filters = [Filter::band_pass(hertz, 0.8, f64::from(tone.rate))];
    tone.with_knock(level, seconds, &mut filters)
}

fn harp(key: u8) -> Tone {
    string(key, Pluck { bright: 1900.0, place: 0.45, ..STRING })
}

fn pizzicato(key: u8) -> Tone {
    let how = Pluck { bright: 1600.0, place: 0.2, smooth: 0.4, fall: 1.2, onset: 0.16, ..STRING };
    knock(string(key, how), 0.4, 300.0, 0.06)
}

fn dulcimer(key: u8) -> Tone {
    let how = Pluck { bright: 6500.0, place: 0.12, smooth: 0.08, ..STRING };
    knock(string(key, how), 0.3, 3000.0, 0.03)
}

fn sitar(key: u8) -> Tone {
    let how = Pluck { bright: 8000.0, place: 0.07, smooth: 0.05, onset: 0.24, ..STRING };
    string(key, how).driven(2.5)
}

fn banjo(key: u8) -> Tone {
    let how = Pluck { bright: 6000.0, place: 0.1, smooth: 0.14, fall: 1.5, onset: 0.16, ..STRING };
    knock(string(key, how), 0.4, 900.0, 0.04)
}

fn shamisen(key: u8) -> Tone {
    let how = Pluck { bright: 4500.0, place: 0.18, smooth: 0.25, fall: 1.2, onset: 0.16, ..STRING };
    knock(string(key, how), 0.7, 650.0, 0.05)
}

fn koto(key: u8) -> Tone {
    let how = Pluck { bright: 5000.0, place: 0.22, smooth: 0.13, ..STRING };
    knock(string(key, how), 0.15, 1800.0, 0.03)
}
