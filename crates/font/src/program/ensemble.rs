//! Programs 49 to 56: string ensembles, voices, and the orchestra hit.

use super::{Layer, Program, plain, touched};
use crate::timbre::{brass, choir, drum, strings, synth};

pub fn all() -> Vec<Program> {
    let section =
        |attack: f64| Layer::of(&strings::SECTION).attack(attack).release(0.5).reverb(25.0);
    let saws = |attack: f64| Layer::of(&synth::SAWS).attack(attack).release(0.6).chorus(30.0);
    let voices = |timbre| Layer::of(timbre).attack(0.09).release(0.45).reverb(28.0);
    let hit = |timbre| Layer::of(timbre).fade(1.0, 0.0).release(0.3).reverb(25.0);
    vec![
        touched(49, 600.0, [section(0.08).dark(8500.0)]),
        touched(50, 600.0, [section(0.25).dark(3200.0)]),
        plain(51, [saws(0.06).dark(5500.0)]),
        plain(52, [saws(0.3).dark(2200.0).resonance(3.0)]),
        plain(53, [voices(&choir::AHS).vibrato(6.0, 5.0, 0.5)]),
        plain(54, [voices(&choir::OOHS).vibrato(6.0, 4.8, 0.5)]),
        plain(55, [voices(&choir::OOHS).attack(0.05), saws(0.06).mellow(5.0).fine(4).softer(5.0)]),
        plain(
            56,
            [
                hit(&strings::SECTION),
                hit(&brass::SECTION).up(-12).softer(2.0),
                hit(&drum::TIMPANI).softer(3.0),
            ],
        ),
    ]
}
