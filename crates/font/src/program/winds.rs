//! Programs 57 to 80: brass, reeds, pipes.

use super::{Layer, Program, touched};
use crate::timbre::{Timbre, brass, pipe, reed, synth};

pub fn all() -> Vec<Program> {
    let mut programs = brasses();
    programs.extend(reeds());
    programs.extend(pipes());
    programs
}

fn wind(timbre: &'static Timbre) -> Layer {
    Layer::of(timbre).attack(0.015).release(0.15).reverb(18.0)
}

fn brasses() -> Vec<Program> {
    let saw = |cutoff: f64| Layer::of(&synth::SAWS).attack(0.02).release(0.25).mellow(cutoff);
    vec![
        touched(57, 1800.0, [wind(&brass::TRUMPET).vibrato(6.0, 5.2, 0.6).dark(9000.0)]),
        touched(58, 1800.0, [wind(&brass::TROMBONE).vibrato(5.0, 5.0, 0.7).dark(7000.0)]),
        touched(59, 1500.0, [wind(&brass::TROMBONE).attack(0.03).dark(1300.0)]),
        touched(60, 1200.0, [wind(&brass::MUTE).vibrato(5.0, 5.2, 0.6).dark(9000.0)]),
        touched(61, 1500.0, [wind(&brass::HORN).attack(0.035).dark(5000.0).reverb(25.0)]),
        touched(62, 1800.0, [wind(&brass::SECTION).dark(8000.0)]),
        touched(63, 900.0, [saw(3.0).sweep(2000.0, 0.04, 0.8).chorus(20.0)]),
        touched(64, 900.0, [saw(4.0).attack(0.06).sweep(1200.0, 0.12, 1.2).chorus(30.0)]),
    ]
}

fn reeds() -> Vec<Program> {
    let lively = |timbre, cents: f64| wind(timbre).attack(0.02).vibrato(cents, 5.2, 0.5);
    vec![
        touched(65, 1500.0, [lively(&reed::HIGH_SAX, 8.0).dark(9500.0)]),
        touched(66, 1500.0, [lively(&reed::HIGH_SAX, 8.0).dark(4200.0)]),
        touched(67, 1500.0, [lively(&reed::LOW_SAX, 8.0).dark(7000.0)]),
        touched(68, 1500.0, [lively(&reed::LOW_SAX, 5.0).dark(2800.0)]),
        touched(69, 900.0, [lively(&reed::OBOE, 7.0).dark(9000.0)]),
        touched(70, 900.0, [lively(&reed::OBOE, 7.0).attack(0.04).dark(3000.0)]),
        touched(71, 900.0, [lively(&reed::BASSOON, 5.0).dark(6000.0)]),
        touched(72, 1200.0, [wind(&reed::CLARINET).attack(0.025).dark(7000.0)]),
    ]
}

fn pipes() -> Vec<Program> {
    let air = |timbre, cents: f64| wind(timbre).attack(0.03).vibrato(cents, 5.0, 0.5);
    vec![
        touched(
            73,
            900.0,
            [
                air(&pipe::FLUTE, 6.0).attack(0.015).dark(14_000.0).softer(1.0),
                air(&pipe::WHISTLE, 6.0).attack(0.01).up(12).softer(6.0),
            ],
        ),
        touched(74, 900.0, [air(&pipe::FLUTE, 8.0).tremolo(0.6, 5.0).dark(8000.0)]),
        touched(75, 600.0, [air(&pipe::RECORDER, 4.0).attack(0.01).dark(10_000.0)]),
        touched(76, 600.0, [air(&pipe::PANPIPE, 6.0).attack(0.01).dark(9000.0)]),
        touched(77, 600.0, [air(&pipe::BOTTLE, 3.0).attack(0.04).dark(6000.0)]),
        touched(78, 900.0, [air(&pipe::PANPIPE, 16.0).bend(-60.0, 0.12).mellow(5.0)]),
        touched(79, 300.0, [air(&pipe::WHISTLE, 10.0).dark(12_000.0)]),
        touched(
            80,
            600.0,
            [
                air(&pipe::WHISTLE, 5.0).attack(0.02).mellow(2.0).softer(0.5),
                air(&pipe::RECORDER, 5.0).attack(0.03).mellow(4.0).softer(9.0),
            ],
        ),
    ]
}
