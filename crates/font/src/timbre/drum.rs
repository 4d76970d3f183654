//! Tuned drums and blocks.

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::tone::Tone;

/// Kettle drums. The pitch is the mode with one nodal diameter; the others are 1.5, 2 and 2.44 times
/// as high (from memory, close to handbook values).
pub static TIMPANI: Timbre = drum("Timpani", &[38, 48], timpani);
/// A big barrel drum.
pub static TAIKO: Timbre = drum("Taiko", &[45], taiko);
/// A tuned tom.
pub static TOM: Timbre = drum("Mel. Tom", &[50], tom);
/// A synthesizer drum.
pub static ZAP: Timbre = drum("Synth Drum", &[52], zap);
/// A hollow wooden block.
pub static BLOCK: Timbre = drum("Block", &[70], block);

const fn drum(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -16.0 }
}

fn skin(key: u8, others: &[(f64, f64, f64)], knock: (f64, f64, f64)) -> Tone {
    let first = Partial::steady(1.0, 1.0);
    let more = others.iter().map(|&(ratio, level, fall)| Partial::fading(ratio, level, fall));
    let partials: Vec<Partial> = std::iter::once(first).chain(more).collect();
    let rate = 18_000.0;
    let tone = additive(key, Shape { onset: 0.3, repeat: 0.05, rate }, &partials);
    let (level, hertz, seconds) = knock;
    tone.with_knock(level, seconds, &mut [Filter::low_pass(hertz, 0.8, rate)])
}

fn timpani(key: u8) -> Tone {
    let others = [(1.5, 0.6, 1.2), (1.99, 0.4, 0.9), (2.44, 0.25, 0.6), (2.9, 0.15, 0.4)];
    skin(key, &others, (1.2, 500.0, 0.1))
}

fn taiko(key: u8) -> Tone {
    skin(key, &[(1.59, 0.5, 0.3), (2.14, 0.35, 0.2), (2.65, 0.2, 0.15)], (2.2, 700.0, 0.15))
}

fn tom(key: u8) -> Tone {
    skin(key, &[(1.59, 0.35, 0.2), (2.3, 0.2, 0.12)], (1.2, 2500.0, 0.06))
}

fn zap(key: u8) -> Tone {
    skin(key, &[(2.0, 0.3, 0.2), (3.0, 0.15, 0.1)], (0.4, 4000.0, 0.04))
}

fn block(key: u8) -> Tone {
    let partials = [
        Partial::steady(1.0, 1.0),
        Partial::fading(1.62, 0.5, 0.05),
        Partial::fading(2.9, 0.35, 0.04),
    ];
    let tone = additive(key, Shape { onset: 0.1, repeat: 0.02, rate: 26_000.0 }, &partials);
    tone.with_knock(0.6, 0.02, &mut [Filter::band_pass(2500.0, 1.0, 26_000.0)])
}
