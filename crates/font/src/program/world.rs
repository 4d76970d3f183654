//! Programs 105 to 128: instruments of the world, tuned percussion, noises.

use super::{Layer, Program, plain, touched};
use crate::timbre::{Timbre, bell, drum, effect, organ, plucked, reed, strings, synth};

pub fn all() -> Vec<Program> {
    let mut programs = ethnic();
    programs.extend(percussive());
    programs.extend(noises());
    programs
}

fn ethnic() -> Vec<Program> {
    let string = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.3).release(0.4).reverb(18.0);
    let drone = Layer::of(&reed::CHANTER).attack(0.03).release(0.1);
    vec![
        touched(105, 900.0, [string(&plucked::SITAR, 5.0).dark(7000.0).sweep(1200.0, 0.0, 0.8)]),
        touched(106, 900.0, [string(&plucked::BANJO, 1.8).dark(9000.0)]),
        touched(107, 900.0, [string(&plucked::SHAMISEN, 1.6).dark(8000.0)]),
        touched(108, 1200.0, [string(&plucked::KOTO, 4.0).release(1.0).dark(9500.0)]),
        touched(109, 900.0, [string(&bell::KALIMBA, 1.6).release(0.8).dark(7000.0)]),
        plain(
            110,
            [
                drone.clone().dark(7000.0),
                Layer::of(&organ::HARMONIUM).attack(0.04).up(-12).softer(5.0),
            ],
        ),
        touched(
            111,
            900.0,
            [Layer::of(&strings::HIGH_BOW)
                .attack(0.02)
                .release(0.12)
                .vibrato(9.0, 6.2, 0.3)
                .dark(12_000.0)],
        ),
        touched(112, 600.0, [drone.vibrato(12.0, 5.6, 0.4).dark(4500.0).resonance(1.0)]),
    ]
}

fn percussive() -> Vec<Program> {
    let struck = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.3).release(0.8).reverb(15.0);
    vec![
        plain(113, [struck(&bell::TINKLE, 2.5)]),
        plain(114, [struck(&bell::AGOGO, 0.9)]),
        touched(115, 1200.0, [struck(&bell::STEEL, 2.0).dark(8000.0)]),
        plain(116, [struck(&drum::BLOCK, 0.25)]),
        touched(117, 900.0, [struck(&drum::TAIKO, 1.4).dark(4000.0)]),
        touched(118, 900.0, [struck(&drum::TOM, 0.9).bend(150.0, 0.12).dark(6000.0)]),
        plain(119, [struck(&drum::ZAP, 0.8).bend(1200.0, 0.35)]),
        plain(120, [Layer::of(&effect::BACKWARDS).scale(50).release(0.2)]),
    ]
}

/// A noise. From key to key its pitch changes a quarter as much as that of a note, so that it stays
/// recognisable on every key.
fn noise(timbre: &'static Timbre) -> Layer {
    Layer::of(timbre).scale(25).release(0.3)
}

fn noises() -> Vec<Program> {
    let sea = noise(&effect::RUSH).softer(4.0).attack(0.8).release(2.0).tremolo(6.0, 0.14);
    vec![
        plain(121, [noise(&effect::FRET)]),
        plain(122, [noise(&effect::BREATH)]),
        plain(
            123,
            [
                sea.reverb(20.0),
                noise(&synth::HISS)
                    .attack(1.2)
                    .release(2.0)
                    .tremolo(8.0, 0.11)
                    .dark(5000.0)
                    .softer(6.0),
            ],
        ),
        plain(124, [noise(&effect::BIRD)]),
        plain(125, [noise(&effect::RING)]),
        plain(126, [noise(&effect::ROTOR).attack(0.2)]),
        plain(127, [noise(&effect::HANDS).attack(0.2).release(0.8)]),
        plain(128, [noise(&effect::BANG).release(1.5).reverb(25.0)]),
    ]
}
