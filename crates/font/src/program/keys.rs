//! Programs 1 to 24: pianos, chromatic percussion, organs.

use super::{Layer, Program, plain, touched};
use crate::timbre::{bell, electric, organ, piano, plucked};

pub fn all() -> Vec<Program> {
    let mut programs = pianos();
    programs.extend(mallets());
    programs.extend(organs());
    programs
}

fn grand() -> Layer {
    Layer::of(&piano::GRAND).fade(11.0, 0.35).release(0.45)
}

fn pianos() -> Vec<Program> {
    let tine = || Layer::of(&electric::TINE).fade(9.0, 0.3).release(0.3).chorus(15.0);
    let fm = || Layer::of(&electric::CRYSTAL_KEYS).fade(8.0, 0.3).release(0.35).chorus(25.0);
    let quill = Layer::of(&electric::QUILL).fade(6.0, 0.3).release(0.2);
    let clavi = Layer::of(&electric::CLAVI).fade(4.0, 0.3).release(0.1).dark(6500.0);
    vec![
        touched(1, 2400.0, [grand().dark(3200.0).sweep(2600.0, 0.0, 3.0)]),
        // A very soft octave above makes it bright.
        touched(
            2,
            2000.0,
            [
                grand().dark(7000.0).sweep(1800.0, 0.0, 3.5).softer(0.5),
                grand().up(12).dark(9000.0).softer(13.0),
            ],
        ),
        touched(3, 1800.0, [grand().dark(5200.0).resonance(4.0).chorus(35.0)]),
        touched(
            4,
            1600.0,
            [grand().dark(11_000.0).softer(1.5), grand().fine(11).dark(11_000.0).softer(6.0)],
        ),
        touched(5, 2400.0, [tine().mellow(9.0)]),
        touched(6, 2400.0, [fm().dark(9000.0)]),
        plain(7, [quill]),
        touched(8, 1800.0, [clavi]),
    ]
}

fn mallets() -> Vec<Program> {
    let bar = |timbre, fade: f64| Layer::of(timbre).fade(fade, 0.5).reverb(18.0);
    vec![
        touched(9, 1200.0, [bar(&bell::CELESTA, 4.0).release(0.6).dark(9000.0)]),
        plain(10, [bar(&bell::GLOCKENSPIEL, 5.0).release(2.0)]),
        plain(11, [bar(&bell::MUSIC_BOX, 4.0).release(1.5)]),
        touched(
            12,
            1500.0,
            [bar(&bell::VIBRAPHONE, 9.0).release(0.8).tremolo(2.0, 5.2).dark(8000.0)],
        ),
        touched(13, 1500.0, [bar(&bell::MARIMBA, 1.8).release(0.8).dark(6000.0)]),
        touched(14, 1200.0, [bar(&bell::XYLOPHONE, 1.2).release(0.5).dark(9000.0)]),
        plain(15, [bar(&bell::TUBES, 8.0).release(3.0).reverb(30.0)]),
        touched(
            16,
            1500.0,
            [Layer::of(&plucked::DULCIMER).fade(5.0, 0.4).release(1.2).dark(9000.0)],
        ),
    ]
}

fn organs() -> Vec<Program> {
    let wheel = |timbre| Layer::of(timbre).release(0.08).chorus(20.0);
    let chip = Layer::of(&organ::CHIP).fade(0.7, 0.0).release(0.08);
    let reed = |timbre| Layer::of(timbre).attack(0.03).release(0.15);
    vec![
        plain(17, [wheel(&organ::DRAWBARS).vibrato(4.0, 6.2, 0.0).tremolo(0.8, 6.2)]),
        plain(18, [wheel(&organ::DRAWBARS).mellow(2.5), chip]),
        plain(19, [wheel(&organ::ROCK).vibrato(5.0, 6.6, 0.0).dark(7000.0)]),
        plain(20, [Layer::of(&organ::PRINCIPALS).attack(0.04).release(0.5).reverb(40.0)]),
        plain(21, [reed(&organ::HARMONIUM).attack(0.06).dark(5000.0)]),
        plain(22, [reed(&organ::MUSETTE)]),
        plain(23, [reed(&organ::HARP_REED).vibrato(7.0, 5.0, 0.5).tremolo(1.0, 5.0)]),
        plain(24, [reed(&organ::MUSETTE).dark(3200.0).resonance(2.0).fine(0)]),
    ]
}
