//! Programs 81 to 104: leads, pads and effects of synthesizers.

use super::{Layer, Program, plain, touched};
use crate::timbre::{Timbre, bell, choir, electric, guitar, pipe, plucked, strings, synth};

pub fn all() -> Vec<Program> {
    let mut programs = leads();
    programs.extend(pads());
    programs.extend(effects());
    programs
}

fn leads() -> Vec<Program> {
    let lead = |timbre| Layer::of(timbre).release(0.15).vibrato(7.0, 5.5, 0.5);
    let saw = || lead(&synth::SAW).dark(8500.0);
    let chiff = Layer::of(&pipe::PANPIPE).fade(0.4, 0.0).softer(2.0);
    vec![
        touched(81, 900.0, [lead(&synth::SQUARE).dark(8000.0)]),
        touched(82, 900.0, [saw()]),
        plain(
            83,
            [
                lead(&pipe::RECORDER).attack(0.01).softer(1.5),
                lead(&synth::SQUARE).mellow(3.0).fine(3).softer(5.0),
            ],
        ),
        plain(84, [lead(&synth::SAW).mellow(4.0), chiff]),
        touched(
            85,
            900.0,
            [lead(&guitar::DISTORTED).dark(5000.0).softer(1.5), saw().fine(4).softer(5.0)],
        ),
        plain(
            86,
            [lead(&choir::AHS).attack(0.03), lead(&synth::SAW).mellow(3.0).fine(2).softer(6.0)],
        ),
        touched(87, 900.0, [saw(), saw().up(7).softer(4.0)]),
        touched(88, 1200.0, [saw().up(-12).dark(1500.0), saw().fine(2).softer(2.0)]),
    ]
}

fn pad(timbre: &'static Timbre, attack: f64) -> Layer {
    Layer::of(timbre).attack(attack).release(1.2).reverb(35.0).chorus(25.0)
}

fn pads() -> Vec<Program> {
    let bell = Layer::of(&electric::CRYSTAL_KEYS).fade(3.0, 0.2).release(0.9).reverb(35.0);
    vec![
        plain(89, [bell, pad(&synth::GLASS, 0.5).fine(3)]),
        plain(90, [pad(&synth::SAWS, 0.4).mellow(3.0)]),
        touched(
            91,
            900.0,
            [pad(&synth::SAWS, 0.01).release(0.6).mellow(4.0).sweep(2400.0, 0.0, 0.9)],
        ),
        plain(92, [pad(&choir::AHS, 0.4).fine(3), pad(&choir::OOHS, 0.5).softer(1.0)]),
        plain(
            93,
            [
                pad(&synth::GLASS, 0.5).mellow(6.0),
                pad(&strings::SECTION, 0.6).dark(2500.0).fine(4).softer(4.0),
            ],
        ),
        plain(94, [pad(&synth::METAL, 0.15).sweep(1200.0, 0.5, 3.0).dark(4000.0)]),
        plain(95, [pad(&choir::OOHS, 0.7), pad(&synth::SAWS, 0.9).mellow(6.0).fine(2).softer(4.0)]),
        plain(96, [pad(&synth::SAWS, 0.3).dark(1000.0).resonance(5.0).sweep(3200.0, 2.2, 3.5)]),
    ]
}

fn effects() -> Vec<Program> {
    let bell = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.3).release(1.0).reverb(35.0);
    vec![
        plain(
            97,
            [
                bell(&bell::TINKLE, 1.2),
                bell(&bell::KALIMBA, 1.0).delay(0.13).softer(3.0),
                pad(&synth::GLASS, 0.4).softer(5.0),
            ],
        ),
        plain(
            98,
            [
                pad(&strings::SECTION, 0.5).dark(3500.0),
                pad(&synth::SAWS, 0.7).up(7).mellow(3.0).softer(3.0),
            ],
        ),
        plain(
            99,
            [
                bell(&bell::GLOCKENSPIEL, 3.0).softer(4.0),
                bell(&electric::CRYSTAL_KEYS, 5.0).fine(3).softer(3.5),
            ],
        ),
        plain(100, [bell(&guitar::NYLON, 4.0), pad(&synth::GLASS, 0.5).softer(2.0)]),
        plain(
            101,
            [
                bell(&electric::CRYSTAL_KEYS, 5.0),
                pad(&choir::AHS, 0.2).fine(4).softer(4.0),
                pad(&synth::SAW, 0.1).mellow(8.0).softer(6.0),
            ],
        ),
        plain(
            102,
            [
                pad(&synth::METAL, 0.6).wah(1400.0, 2.1).dark(1200.0).resonance(8.0),
                pad(&choir::OOHS, 0.8).fine(-2).softer(5.0),
            ],
        ),
        plain(
            103,
            [
                bell(&plucked::HARP, 1.5),
                bell(&plucked::HARP, 1.3).delay(0.25).pan(50.0).softer(2.5),
                bell(&plucked::HARP, 1.2).delay(0.5).pan(-50.0).softer(5.0),
            ],
        ),
        plain(
            104,
            [
                pad(&synth::METAL, 0.02).wah(1800.0, 5.5).dark(2200.0).resonance(6.0),
                pad(&synth::SAWS, 0.5).mellow(2.5).fine(4).softer(4.0),
            ],
        ),
    ]
}
