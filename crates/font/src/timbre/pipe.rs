//! Flutes and whistles: few harmonics and much breath.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::frequency;
use crate::dsp::tone::Tone;

/// A transverse flute, and a piccolo in its high range.
pub static FLUTE: Timbre = pipe("Flute", &[65, 78, 91], flute);
/// A recorder.
pub static RECORDER: Timbre = pipe("Recorder", &[67, 82], recorder);
/// Stopped pipes with a strong chiff.
pub static PANPIPE: Timbre = pipe("Panpipe", &[60, 76], panpipe);
/// A blown bottle.
pub static BOTTLE: Timbre = pipe("Bottle", &[55, 72], bottle);
/// Whistling with the lips.
pub static WHISTLE: Timbre = pipe("Whistle", &[72, 88], whistle);

const fn pipe(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -18.5 }
}

/// Harmonics with these levels, from the first upwards; higher ones start a little later.
fn edge(key: u8, levels: &[f64], rise: f64, loop_seconds: f64) -> Tone {
    let partials: Vec<Partial> = levels
        .iter()
        .zip(1..)
        .map(|(&level, n)| Partial {
            rise: rise * (0.7 + 0.3 * f64::from(n)),
            ..Partial::steady(f64::from(n), level)
        })
        .collect();
    additive(key, Shape { onset: 0.09, repeat: loop_seconds, rate: 22_000.0 }, &partials)
}

/// Adds breath at `times` the pitch.
fn breath(tone: Tone, level: f64, times: f64, quality: f64) -> Tone {
    let rate = f64::from(tone.rate);
    let centre = (times * frequency(f64::from(tone.root))).min(0.4 * rate);
    let mut filters = [Filter::band_pass(centre, quality, rate)];
    tone.with_breath(level, &mut filters)
}

/// Adds the chiff at the start of a note, at `times` the pitch.
fn chiff(tone: Tone, level: f64, times: f64, seconds: f64) -> Tone {
    let rate = f64::from(tone.rate);
    let centre = (times * frequency(f64::from(tone.root))).min(0.4 * rate);
    let mut filters = [Filter::band_pass(centre, 1.5, rate)];
    tone.with_knock(level, seconds, &mut filters)
}

fn flute(key: u8) -> Tone {
    let dim = if key > 80 { 0.6 } else { 1.0 };
    let levels = [1.0, 0.42 * dim, 0.22 * dim, 0.08 * dim, 0.05 * dim, 0.02];
    breath(edge(key, &levels, 0.05, 0.16), 0.05, 3.0, 0.5)
}

fn recorder(key: u8) -> Tone {
    let tone = edge(key, &[1.0, 0.09, 0.24, 0.03, 0.08], 0.025, 0.14);
    chiff(breath(tone, 0.02, 4.0, 0.6), 0.35, 3.0, 0.06)
}

fn panpipe(key: u8) -> Tone {
    let tone = edge(key, &[1.0, 0.06, 0.25, 0.02, 0.06], 0.04, 0.18);
    chiff(breath(tone, 0.14, 2.0, 0.5), 1.4, 3.0, 0.12)
}

fn bottle(key: u8) -> Tone {
    let tone = edge(key, &[1.0, 0.12, 0.03], 0.06, 0.18);
    chiff(breath(tone, 0.12, 1.0, 1.5), 0.8, 1.5, 0.12)
}

fn whistle(key: u8) -> Tone {
    breath(edge(key, &[1.0, 0.02, 0.01], 0.03, 0.16), 0.05, 1.0, 4.0)
}
