//! Programs 25 to 48: guitars, basses, strings, harp and timpani.

use super::{Layer, Program, plain, touched};
use crate::timbre::{bass, drum, guitar, plucked, strings, synth};

pub fn all() -> Vec<Program> {
    let mut programs = guitars();
    programs.extend(basses());
    programs.extend(orchestra());
    programs
}

fn guitars() -> Vec<Program> {
    let string = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.3).release(0.25);
    let amplified = |timbre| Layer::of(timbre).sustain(6.0, 6.0).release(0.15);
    vec![
        touched(25, 1800.0, [string(&guitar::NYLON, 5.0).dark(2400.0).sweep(1800.0, 0.0, 1.2)]),
        touched(26, 1800.0, [string(&guitar::STEEL, 6.5).dark(3600.0).sweep(2200.0, 0.0, 1.8)]),
        touched(27, 1500.0, [string(&guitar::CLEAN, 6.0).dark(1700.0)]),
        touched(
            28,
            1800.0,
            [string(&guitar::CLEAN, 8.0).dark(4000.0).sweep(1400.0, 0.0, 2.0).chorus(25.0)],
        ),
        touched(29, 1200.0, [Layer::of(&guitar::MUTED).release(0.1).dark(6000.0)]),
        touched(30, 900.0, [amplified(&guitar::OVERDRIVEN).dark(4000.0)]),
        touched(31, 600.0, [amplified(&guitar::DISTORTED).dark(4800.0)]),
        plain(32, [string(&guitar::FLAGEOLET, 5.0).release(0.6)]),
    ]
}

fn basses() -> Vec<Program> {
    let string = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.3).release(0.15).reverb(5.0);
    let saw = Layer::of(&synth::SAW).sustain(6.0, 1.5).release(0.1).reverb(5.0);
    let square = Layer::of(&synth::SQUARE).sustain(4.0, 2.0).release(0.1).reverb(5.0);
    vec![
        touched(33, 1200.0, [string(&bass::UPRIGHT, 3.5).dark(2600.0)]),
        touched(34, 1500.0, [string(&bass::FINGER, 6.0).dark(3200.0)]),
        touched(35, 1500.0, [string(&bass::PICK, 6.0).dark(5500.0)]),
        touched(36, 900.0, [string(&bass::FRETLESS, 8.0).dark(2500.0).vibrato(6.0, 4.8, 0.5)]),
        touched(37, 1500.0, [string(&bass::SLAP, 4.0).dark(8500.0)]),
        touched(38, 1800.0, [string(&bass::SLAP, 3.0).dark(4500.0).sweep(1500.0, 0.0, 0.25)]),
        touched(39, 1200.0, [saw.dark(800.0).resonance(6.0).sweep(2600.0, 0.0, 0.5)]),
        touched(40, 1200.0, [square.dark(1100.0).resonance(3.0).sweep(1400.0, 0.0, 0.2)]),
    ]
}

fn orchestra() -> Vec<Program> {
    let bow = |timbre| Layer::of(timbre).attack(0.05).release(0.2).reverb(20.0);
    let pizzicato = Layer::of(&plucked::PIZZICATO).fade(1.3, 0.4).release(0.4).reverb(22.0);
    let tremolo = Layer::of(&strings::SECTION).attack(0.06).release(0.4).tremolo(5.0, 7.5);
    vec![
        touched(41, 900.0, [bow(&strings::HIGH_BOW).vibrato(14.0, 5.8, 0.45).dark(9000.0)]),
        touched(42, 900.0, [bow(&strings::HIGH_BOW).vibrato(11.0, 5.3, 0.5).dark(3200.0)]),
        touched(43, 900.0, [bow(&strings::LOW_BOW).vibrato(11.0, 5.2, 0.5).dark(6000.0)]),
        touched(
            44,
            900.0,
            [bow(&strings::LOW_BOW).attack(0.08).vibrato(6.0, 4.8, 0.6).dark(2200.0)],
        ),
        touched(45, 600.0, [tremolo.reverb(22.0).dark(7000.0)]),
        touched(46, 900.0, [pizzicato.dark(6500.0)]),
        touched(
            47,
            1200.0,
            [Layer::of(&plucked::HARP).fade(5.0, 0.4).release(1.5).dark(6500.0).reverb(25.0)],
        ),
        touched(
            48,
            900.0,
            [Layer::of(&drum::TIMPANI).fade(3.0, 0.3).release(1.2).dark(4000.0).reverb(25.0)],
        ),
    ]
}
