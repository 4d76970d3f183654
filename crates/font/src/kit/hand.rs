//! Hand drums and timbales: bongos, congas, timbales, cuica.

use super::Drum;
use crate::dsp::filter::Filter;
use crate::dsp::strike::{Burst, Mode, Strike};
use crate::dsp::tone::Tone;

const RATE: f64 = 20_000.0;

pub fn all() -> Vec<Drum> {
    vec![
        Drum::new(60, "Hi Bongo", -16.0, skin(400.0, 0.16, 0.6, 2600.0)).pan(24.0),
        Drum::new(61, "Low Bongo", -16.0, skin(295.0, 0.22, 0.5, 2000.0)).pan(24.0),
        Drum::new(62, "Mute Hi Conga", -16.0, skin(235.0, 0.08, 1.2, 2400.0)).pan(-24.0),
        Drum::new(63, "Open Hi Conga", -15.0, skin(228.0, 0.38, 0.4, 1500.0)).pan(-24.0),
        Drum::new(64, "Low Conga", -15.0, skin(168.0, 0.45, 0.4, 1300.0)).pan(-24.0),
        Drum::new(65, "High Timbale", -16.0, timbale(440.0)).pan(30.0),
        Drum::new(66, "Low Timbale", -16.0, timbale(315.0)).pan(30.0),
        Drum::new(78, "Mute Cuica", -18.0, cuica(520.0, -5.0, 0.13)).pan(-35.0).class(4),
        Drum::new(79, "Open Cuica", -18.0, cuica(410.0, 6.0, 0.3)).pan(-35.0).class(4),
    ]
}

fn slap(level: f64, fall: f64, hertz: f64, seed: u64) -> Burst {
    let filters = vec![Filter::band_pass(hertz, 0.8, RATE)];
    Burst { from: 0.0, level, rise: 0.0005, fall, filters, seed }
}

fn skin(pitch: f64, fall: f64, hand: f64, hertz: f64) -> Tone {
    let mode = |ratio: f64, level, fall| Mode {
        pitch: pitch * ratio,
        level,
        fall,
        bend: 1.2,
        bend_fall: 0.06,
    };
    let strike = Strike::new((fall * 0.8).clamp(0.12, 0.32), RATE)
        .mode(mode(1.0, 1.0, fall))
        .mode(mode(1.59, 0.4, fall * 0.5))
        .mode(mode(2.14, 0.25, fall * 0.35))
        .burst(slap(hand, 0.03, hertz, 1));
    Tone::once(strike.frames, RATE, 60).faded(0.07)
}

fn timbale(pitch: f64) -> Tone {
    let modes = [
        (pitch, 1.0, 0.35),
        (pitch * 1.59, 0.6, 0.28),
        (pitch * 2.14, 0.5, 0.24),
        (pitch * 2.92, 0.4, 0.2),
        (pitch * 4.3, 0.3, 0.15),
        (pitch * 6.1, 0.2, 0.1),
    ];
    let strike = Strike::new(0.3, RATE).modes(&modes).burst(slap(1.0, 0.03, 4000.0, 2));
    Tone::once(strike.frames, RATE, 65).faded(0.08)
}

/// A cuica, whose skin is rubbed by a stick: a buzz with a sliding pitch.
fn cuica(pitch: f64, bend: f64, seconds: f64) -> Tone {
    let mode = |ratio: f64, level| Mode {
        pitch: pitch * ratio,
        level,
        fall: 3.0 * seconds,
        bend,
        bend_fall: 2.0 * seconds,
    };
    let mut strike = Strike::new(seconds, RATE)
        .mode(mode(1.0, 1.0))
        .mode(mode(2.0, 0.5))
        .mode(mode(3.0, 0.25))
        .mode(mode(4.0, 0.12));
    let rise = 0.02 * RATE;
    for (at, frame) in strike.frames.iter_mut().enumerate() {
        *frame *= (at as f64 / rise).min(1.0);
    }
    Tone::once(strike.frames, RATE, 78).faded(0.06)
}
