//! Bars, plates, tongues and bells: a sustained fundamental and partials that decay sooner.
//!
//! The ratios of bars and plates are from memory of acoustics handbooks (a free bar: 1, 2.76, 5.40,
//! 8.93; tuned bars: 1, 4, 10 and 1, 3, 6).

use super::Timbre;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::tone::Tone;

/// Steel plates over wooden boxes.
pub static CELESTA: Timbre = bell("Celesta", &[67, 84], celesta);
/// Free steel bars.
pub static GLOCKENSPIEL: Timbre = bell("Glocken", &[79, 94], glockenspiel);
/// Plucked steel tongues.
pub static MUSIC_BOX: Timbre = bell("Music Box", &[64, 80], music_box);
/// Metal bars whose second mode is two octaves above the first.
pub static VIBRAPHONE: Timbre = bell("Vibes", &[60, 76], vibraphone);
/// Wooden bars whose second mode is two octaves above the first.
pub static MARIMBA: Timbre = bell("Marimba", &[50, 68], marimba);
/// Wooden bars whose second mode is a twelfth above the first.
pub static XYLOPHONE: Timbre = bell("Xylophone", &[70, 87], xylophone);
/// Hanging tubes.
pub static TUBES: Timbre = bell("Tubes", &[66], tubes);
/// A small bell.
pub static TINKLE: Timbre = bell("Tinkle", &[72, 88], tinkle);
/// A pair of metal cones.
pub static AGOGO: Timbre = bell("Agogo", &[64, 78], agogo);
/// A hammered steel barrel head.
pub static STEEL: Timbre = bell("Steel Drum", &[58, 74], steel);
/// Metal tongues over a gourd.
pub static KALIMBA: Timbre = bell("Kalimba", &[58, 74], kalimba);

const fn bell(name: &'static str, roots: &'static [u8], make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots, make, level: -17.0 }
}

/// A first partial that keeps its level, and others that decay: ratio, level, and seconds to fall
/// by 60 dB.
fn bar(key: u8, others: &[(f64, f64, f64)], onset: f64) -> Tone {
    let first = Partial::steady(1.0, 1.0);
    let more = others.iter().map(|&(ratio, level, fall)| Partial::fading(ratio, level, fall));
    let partials: Vec<Partial> = std::iter::once(first).chain(more).collect();
    additive(key, Shape { onset, repeat: 0.03, rate: 26_000.0 }, &partials)
}

fn knock(tone: Tone, level: f64, cutoff: f64, seconds: f64) -> Tone {
    let mut filters = [Filter::band_pass(cutoff, 0.8, f64::from(tone.rate))];
    tone.with_knock(level, seconds, &mut filters)
}

fn celesta(key: u8) -> Tone {
    let tone = bar(key, &[(2.0, 0.12, 0.8), (4.0, 0.30, 0.35), (6.0, 0.10, 0.2)], 0.2);
    knock(tone, 0.15, 900.0, 0.05)
}

fn glockenspiel(key: u8) -> Tone {
    let tone = bar(key, &[(2.756, 0.5, 0.5), (5.404, 0.25, 0.2), (8.933, 0.1, 0.1)], 0.2);
    knock(tone, 0.2, 6000.0, 0.03)
}

fn music_box(key: u8) -> Tone {
    let tone = bar(key, &[(2.0, 0.25, 0.9), (3.0, 0.12, 0.5), (6.27, 0.22, 0.15)], 0.2);
    knock(tone, 0.12, 4000.0, 0.03)
}

fn vibraphone(key: u8) -> Tone {
    bar(key, &[(4.0, 0.28, 0.7), (10.0, 0.10, 0.12), (16.7, 0.03, 0.06)], 0.2)
}

fn marimba(key: u8) -> Tone {
    let tone = bar(key, &[(3.93, 0.35, 0.16), (9.7, 0.12, 0.05)], 0.14);
    knock(tone, 0.3, 500.0, 0.05)
}

fn xylophone(key: u8) -> Tone {
    let tone = bar(key, &[(3.0, 0.5, 0.18), (6.1, 0.3, 0.09), (9.8, 0.12, 0.05)], 0.14);
    knock(tone, 0.35, 1800.0, 0.03)
}

fn tubes(key: u8) -> Tone {
    let others = [
        (0.5, 0.20, 3.0),
        (2.0, 0.80, 2.4),
        (3.01, 0.60, 1.8),
        (4.17, 0.45, 1.2),
        (5.43, 0.30, 0.8),
        (6.80, 0.18, 0.5),
        (8.30, 0.10, 0.3),
    ];
    let first = Partial::steady(1.0, 0.7);
    let more = others.iter().map(|&(ratio, level, fall)| Partial::fading(ratio, level, fall));
    let partials: Vec<Partial> = std::iter::once(first).chain(more).collect();
    let tone = additive(key, Shape { onset: 0.4, repeat: 0.1, rate: 20_000.0 }, &partials);
    knock(tone, 0.2, 2500.0, 0.04)
}

fn tinkle(key: u8) -> Tone {
    bar(key, &[(2.41, 0.6, 0.6), (3.9, 0.45, 0.35), (5.34, 0.3, 0.25), (7.2, 0.2, 0.15)], 0.2)
}

fn agogo(key: u8) -> Tone {
    let tone = bar(key, &[(1.51, 0.5, 0.25), (2.68, 0.6, 0.2), (4.3, 0.35, 0.12)], 0.18);
    knock(tone, 0.3, 3500.0, 0.03)
}

fn steel(key: u8) -> Tone {
    let mut partials = vec![
        Partial::steady(1.0, 1.0),
        Partial::fading(2.0, 0.75, 1.4),
        Partial::fading(3.0, 0.30, 0.6),
        Partial::fading(4.02, 0.22, 0.4),
        Partial::fading(5.1, 0.12, 0.2),
        Partial::fading(7.3, 0.08, 0.1),
    ];
    partials[1].rise = 0.03;
    partials[2].rise = 0.015;
    let tone = additive(key, Shape { onset: 0.25, repeat: 0.04, rate: 24_000.0 }, &partials);
    knock(tone, 0.3, 1500.0, 0.03)
}

fn kalimba(key: u8) -> Tone {
    let tone = bar(key, &[(2.0, 0.08, 0.5), (5.8, 0.3, 0.12), (11.4, 0.1, 0.05)], 0.16);
    knock(tone, 0.35, 350.0, 0.06)
}
