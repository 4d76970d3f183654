//! Small percussion: shakers, bells, blocks, whistles, scrapers.

use super::Drum;
use crate::dsp::additive::{Partial, Shape, additive};
use crate::dsp::filter::Filter;
use crate::dsp::math::{frequency, sine};
use crate::dsp::noise::Noise;
use crate::dsp::strike::{Burst, Strike};
use crate::dsp::tone::Tone;

const RATE: f64 = 25_000.0;

pub fn all() -> Vec<Drum> {
    let mut drums = metals();
    drums.extend(woods());
    drums.extend(shaken());
    drums
}

fn metals() -> Vec<Drum> {
    let bell = |modes: &[(f64, f64, f64)], seconds| struck(modes, seconds, 0.4, 5000.0);
    let cowbell = [(562.0, 1.0, 0.3), (845.0, 0.9, 0.26), (1690.0, 0.3, 0.1), (2530.0, 0.2, 0.08)];
    let agogo = |pitch: f64| {
        [
            (pitch, 1.0, 0.4),
            (pitch * 1.51, 0.5, 0.25),
            (pitch * 2.68, 0.5, 0.2),
            (pitch * 4.3, 0.25, 0.1),
        ]
    };
    vec![
        Drum::new(56, "Cowbell", -18.0, bell(&cowbell, 0.25)).pan(10.0),
        Drum::new(67, "High Agogo", -19.0, bell(&agogo(905.0), 0.3)).pan(-36.0),
        Drum::new(68, "Low Agogo", -19.0, bell(&agogo(672.0), 0.3)).pan(-36.0),
        Drum::new(71, "Short Whistle", -18.0, whistle(0.16)).pan(32.0).class(2),
        Drum::new(72, "Long Whistle", -18.0, whistle(0.36)).pan(32.0).class(2),
        Drum::new(80, "Mute Triangle", -18.0, triangle().cut(0.12)).fade(0.15).pan(-32.0).class(5),
        Drum::new(81, "Open Triangle", -18.0, triangle()).fade(2.0).pan(-32.0).class(5),
    ]
}

fn triangle() -> Tone {
    let modes =
        [(1180.0, 0.15), (2710.0, 0.5), (4330.0, 0.9), (5980.0, 0.6), (7760.0, 0.5), (9650.0, 0.4)];
    let pitch = frequency(81.0);
    let partials =
        modes.map(|(hertz, level)| Partial::fading(hertz / pitch, level, 9000.0 / hertz));
    let tone = additive(81, Shape { onset: 0.18, repeat: 0.1, rate: 26_000.0 }, &partials);
    tone.with_knock(0.4, 0.015, &mut [Filter::band_pass(5000.0, 0.8, RATE)])
}

fn woods() -> Vec<Drum> {
    let block = |pitch: f64| {
        struck(
            &[(pitch, 1.0, 0.09), (pitch * 1.62, 0.5, 0.05), (pitch * 2.9, 0.3, 0.03)],
            0.12,
            0.5,
            3000.0,
        )
    };
    let claves = struck(&[(2480.0, 1.0, 0.11), (5100.0, 0.2, 0.04)], 0.12, 0.3, 4000.0);
    vec![
        Drum::new(58, "Vibraslap", -19.0, rattle(0.5, 24.0, 2600.0)).pan(-28.0),
        Drum::new(73, "Short Guiro", -17.0, scrape(0.1, 110.0, 16.0)).pan(36.0).class(3),
        Drum::new(74, "Long Guiro", -18.0, scrape(0.33, 62.0, 28.0)).pan(36.0).class(3),
        Drum::new(75, "Claves", -18.0, claves).pan(18.0),
        Drum::new(76, "Hi Wood Block", -18.0, block(1010.0)).pan(-20.0),
        Drum::new(77, "Low Wood Block", -18.0, block(735.0)).pan(-20.0),
    ]
}

fn shaken() -> Vec<Drum> {
    vec![
        Drum::new(54, "Tambourine", -15.0, tambourine()).pan(16.0),
        Drum::new(69, "Cabasa", -15.0, shaker(0.02, 0.11, 5200.0, 3)).pan(-30.0),
        Drum::new(70, "Maracas", -14.0, shaker(0.008, 0.06, 6800.0, 4)).pan(-34.0),
    ]
}

fn noise(from: f64, level: f64, rise: f64, fall: f64, filter: Filter, seed: u64) -> Burst {
    Burst { from, level, rise, fall, filters: vec![filter], seed }
}

fn struck(modes: &[(f64, f64, f64)], seconds: f64, knock: f64, hertz: f64) -> Tone {
    let click = noise(0.0, knock, 0.0005, 0.015, Filter::band_pass(hertz, 0.8, RATE), 5);
    let strike = Strike::new(seconds, RATE).modes(modes).burst(click);
    Tone::once(strike.frames, RATE, 60).faded(seconds / 3.0)
}

fn tambourine() -> Tone {
    let jingles = [
        (5320.0, 0.5, 0.22),
        (6870.0, 0.5, 0.2),
        (8130.0, 0.4, 0.2),
        (9540.0, 0.4, 0.16),
        (11_020.0, 0.3, 0.14),
    ];
    let high = || Filter::high_pass(6000.0, 0.7, RATE);
    let strike = Strike::new(0.28, RATE)
        .modes(&jingles)
        .burst(noise(0.0, 1.6, 0.001, 0.2, high(), 6))
        .burst(noise(0.025, 1.0, 0.002, 0.12, high(), 7))
        .burst(noise(0.0, 1.0, 0.0005, 0.03, Filter::low_pass(900.0, 0.7, RATE), 8));
    Tone::once(strike.frames, RATE, 54).faded(0.1)
}

fn shaker(rise: f64, fall: f64, above: f64, seed: u64) -> Tone {
    let beads = noise(0.0, 1.0, rise, fall, Filter::high_pass(above, 0.8, RATE), seed);
    Tone::once(Strike::new(rise + fall, RATE).burst(beads).frames, RATE, 69).faded(0.03)
}

/// A whistle with a ball in it: a trilling pitch and some air.
fn whistle(seconds: f64) -> Tone {
    let mut air = Noise::new(9);
    let mut turns = 0.0;
    let frames = (0..(seconds * RATE) as usize).map(|at| {
        let time = at as f64 / RATE;
        let ball = sine(29.0 * time);
        turns += (2380.0 + 90.0 * ball) / RATE;
        let level = (time / 0.012).min(1.0) * (0.8 + 0.2 * ball);
        level * (sine(turns) + 0.3 * sine(turns * 2.0) + 0.08 * air.next())
    });
    Tone::once(frames.collect(), RATE, 71).faded(0.04)
}

/// Teeth that strike one after another, slower and slower.
fn rattle(seconds: f64, rate: f64, hertz: f64) -> Tone {
    let mut strike = Strike::new(seconds, RATE);
    for tooth in 0..(seconds * rate) as u64 {
        let from = tooth as f64 / rate;
        let level = 1.0 - from / seconds;
        let filter = Filter::band_pass(hertz, 6.0, RATE);
        strike = strike.burst(noise(from, level * level, 0.0005, 0.05, filter, tooth));
    }
    Tone::once(strike.frames, RATE, 58).faded(0.2)
}

/// A stick across a notched gourd: `rate` notches per second at first, `more` on top by the end.
fn scrape(seconds: f64, rate: f64, more: f64) -> Tone {
    let mut strike = Strike::new(seconds, RATE);
    let (mut from, mut notch) = (0.0, 0);
    while from < seconds {
        let filter = Filter::band_pass(2300.0 + 900.0 * from / seconds, 2.5, RATE);
        let level = 0.6 + 0.4 * from / seconds;
        strike = strike.burst(noise(from, level, 0.0005, 0.018, filter, 40 + notch));
        from += 1.0 / (rate + more * from / seconds);
        notch += 1;
    }
    Tone::once(strike.frames, RATE, 73).faded(0.04)
}
