//! Bass drums, snares, toms.

use super::Drum;
use crate::dsp::filter::Filter;
use crate::dsp::strike::{Burst, Mode, Strike};
use crate::dsp::tone::Tone;

const RATE: f64 = 24_000.0;

pub fn all() -> Vec<Drum> {
    let mut drums = vec![
        Drum::new(35, "Acoustic Bass Drum", -14.0, kick(48.0, 14.0, 0.5, 1800.0)),
        Drum::new(36, "Bass Drum 1", -14.0, kick(55.0, 24.0, 0.32, 4200.0)),
        Drum::new(37, "Side Stick", -16.0, side_stick()),
        Drum::new(38, "Acoustic Snare", -14.0, snare(185.0, 0.32, 0.9, 1)),
        Drum::new(39, "Hand Clap", -16.0, clap()),
        Drum::new(40, "Electric Snare", -14.0, snare(235.0, 0.22, 1.3, 2)),
    ];
    let toms = [
        (41, "Low Floor Tom", 78.0, 40.0),
        (43, "High Floor Tom", 94.0, 28.0),
        (45, "Low Tom", 112.0, 14.0),
        (47, "Low-Mid Tom", 133.0, 0.0),
        (48, "Hi-Mid Tom", 158.0, -14.0),
        (50, "High Tom", 188.0, -28.0),
    ];
    drums.extend(
        toms.map(|(key, name, pitch, pan)| Drum::new(key, name, -15.5, tom(pitch)).pan(pan)),
    );
    drums
}

/// A burst that starts at once. Its filters must be made for [`RATE`].
fn burst(level: f64, fall: f64, filters: Vec<Filter>, seed: u64) -> Burst {
    Burst { from: 0.0, level, rise: 0.0005, fall, filters, seed }
}

fn kick(pitch: f64, bend: f64, fall: f64, click: f64) -> Tone {
    let body = Mode { pitch, level: 1.0, fall, bend, bend_fall: 0.11 };
    let beater = burst(0.5, 0.03, vec![Filter::low_pass(click, 0.8, RATE)], 1);
    let strike = Strike::new(fall.min(0.38), RATE).mode(body).burst(beater);
    Tone::once(strike.frames, RATE, 36).driven(1.3).faded(0.08)
}

fn snare(pitch: f64, fall: f64, wires: f64, seed: u64) -> Tone {
    let bands = || vec![Filter::high_pass(1400.0, 0.6, RATE), Filter::low_pass(9000.0, 0.7, RATE)];
    let head = |pitch, level| Mode { pitch, level, fall: 0.22, bend: 4.0, bend_fall: 0.05 };
    let strike = Strike::new(0.3, RATE)
        .mode(head(pitch, 0.7))
        .mode(head(pitch * 1.78, 0.35))
        .burst(burst(wires, fall, bands(), seed))
        .burst(burst(0.5, 0.025, vec![Filter::low_pass(5000.0, 0.7, RATE)], seed + 9));
    Tone::once(strike.frames, RATE, 38).driven(1.4).faded(0.08)
}

fn side_stick() -> Tone {
    let strike = Strike::new(0.12, RATE)
        .modes(&[(480.0, 0.5, 0.06), (1720.0, 0.8, 0.045), (2650.0, 0.35, 0.03)])
        .burst(burst(0.5, 0.02, vec![Filter::band_pass(3200.0, 1.0, RATE)], 3));
    Tone::once(strike.frames, RATE, 37).faded(0.03)
}

fn clap() -> Tone {
    let hands = |from, fall, seed| Burst {
        from,
        level: 1.0,
        rise: 0.0005,
        fall,
        filters: vec![Filter::band_pass(1250.0, 1.2, RATE), Filter::high_pass(600.0, 0.7, RATE)],
        seed,
    };
    let strike = Strike::new(0.26, RATE)
        .burst(hands(0.0, 0.02, 4))
        .burst(hands(0.011, 0.02, 5))
        .burst(hands(0.021, 0.02, 6))
        .burst(hands(0.031, 0.25, 7));
    Tone::once(strike.frames, RATE, 39).faded(0.06)
}

fn tom(pitch: f64) -> Tone {
    let rate = 17_000.0;
    let mode =
        |ratio, level, fall| Mode { pitch: pitch * ratio, level, fall, bend: 3.0, bend_fall: 0.14 };
    let strike = Strike::new(0.36, rate)
        .mode(mode(1.0, 1.0, 0.65))
        .mode(mode(1.59, 0.35, 0.25))
        .mode(mode(2.3, 0.18, 0.14))
        .burst(burst(0.5, 0.035, vec![Filter::low_pass(3200.0, 0.7, rate)], 8));
    Tone::once(strike.frames, rate, 45).faded(0.12)
}
