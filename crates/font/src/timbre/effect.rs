//! Everyday noises, for the last programs of the sound set.

use super::Timbre;
use crate::dsp::filter::Filter;
use crate::dsp::math::sine;
use crate::dsp::noise::{Noise, ring};
use crate::dsp::strike::{Burst, Mode, Strike};
use crate::dsp::tone::Tone;

/// A finger sliding along a wound string.
pub static FRET: Timbre = effect("Fret", fret);
/// Air through the lips.
pub static BREATH: Timbre = effect("Breath", breath);
/// A low, continuous rush.
pub static RUSH: Timbre = effect("Rush", rush);
/// A chirp.
pub static BIRD: Timbre = effect("Bird", bird);
/// Two bells ringing in turn.
pub static RING: Timbre = effect("Ring", telephone);
/// The beat of a rotor.
pub static ROTOR: Timbre = effect("Rotor", rotor);
/// Many hands clapping.
pub static HANDS: Timbre = effect("Hands", hands);
/// A bang and its distant echo.
pub static BANG: Timbre = effect("Bang", bang);
/// A cymbal played backwards.
pub static BACKWARDS: Timbre = effect("Backwards", backwards);

const fn effect(name: &'static str, make: fn(u8) -> Tone) -> Timbre {
    Timbre { name, roots: &[60], make, level: -18.0 }
}

const RATE: f64 = 20_000.0;

/// A sound that loops over all its frames; they must join end to end.
fn endless(frames: Vec<f64>, key: u8) -> Tone {
    let (length, mut long) = (frames.len(), frames.clone());
    long.extend(&frames[..32]);
    Tone { frames: long, rate: RATE as u32, root: key, repeat: Some((16, 16 + length)) }
}

fn fret(key: u8) -> Tone {
    let scrape = Burst {
        from: 0.0,
        level: 1.0,
        rise: 0.04,
        fall: 0.3,
        filters: vec![Filter::band_pass(2400.0, 4.0, RATE)],
        seed: 1,
    };
    Tone::once(Strike::new(0.25, RATE).burst(scrape).frames, RATE, key).faded(0.03)
}

fn breath(key: u8) -> Tone {
    let puff = Burst {
        from: 0.0,
        level: 1.0,
        rise: 0.12,
        fall: 0.7,
        filters: vec![Filter::band_pass(1600.0, 0.7, RATE)],
        seed: 2,
    };
    Tone::once(Strike::new(0.5, RATE).burst(puff).frames, RATE, key).faded(0.05)
}

fn rush(key: u8) -> Tone {
    endless(ring(3, 10_000, &mut [Filter::low_pass(1400.0, 0.5, RATE)]), key)
}

fn bird(key: u8) -> Tone {
    let chirps = [(0.0, 2600.0, 5.0), (0.11, 3100.0, -4.0), (0.22, 2800.0, 6.0)];
    let mut frames = vec![0.0; (0.36 * RATE) as usize];
    for (from, pitch, bend) in chirps {
        let mode = Mode { pitch, level: 1.0, fall: 0.12, bend, bend_fall: 0.12 };
        let one = Strike::new(0.1, RATE).mode(mode).frames;
        let start = (from * RATE) as usize;
        let count = one.len();
        for (at, frame) in one.iter().enumerate() {
            let rise = (at as f64 / 200.0).min((count - at) as f64 / 200.0).min(1.0);
            frames[start + at] += frame * rise;
        }
    }
    Tone::once(frames, RATE, key)
}

fn telephone(key: u8) -> Tone {
    let frame = |at: usize| {
        let time = at as f64 / RATE;
        let strikes = (time * 20.0).fract();
        let bell = |hertz: f64| sine(hertz * time);
        let first = ((time * 20.0) as usize).is_multiple_of(2);
        let (low, high) = if first { (1.0, 0.4) } else { (0.4, 1.0) };
        (low * (bell(1040.0) + 0.5 * bell(2480.0)) + high * (bell(1300.0) + 0.4 * bell(3120.0)))
            * (1.0 - 0.8 * strikes)
            * (strikes * 12.0).min(1.0)
    };
    endless((0..4000).map(frame).collect(), key)
}

fn rotor(key: u8) -> Tone {
    let mut frames = ring(5, 6000, &mut [Filter::low_pass(700.0, 0.6, RATE)]);
    for (at, frame) in frames.iter_mut().enumerate() {
        let beat = (at as f64 / 2000.0).fract();
        let swell = (1.0 - beat) * (1.0 - beat) * (beat * 20.0).min(1.0);
        *frame *= 0.1 + swell;
    }
    endless(frames, key)
}

fn hands(key: u8) -> Tone {
    let length = 12_000;
    let mut noise = Noise::new(6);
    let mut frames = vec![0.0; length];
    for _ in 0..43 {
        let start = ((noise.next() + 1.0) / 2.0 * length as f64) as usize;
        let mut clap = Filter::band_pass(1300.0 + 500.0 * noise.next(), 1.5, RATE);
        let level = 0.6 + 0.4 * noise.next();
        for at in 0..430 {
            let gain = level * (1.0 - at as f64 / 500.0);
            frames[(start + at) % length] += gain * gain * clap.pass(noise.next());
        }
    }
    endless(frames, key)
}

fn bang(key: u8) -> Tone {
    let burst = |from, level, fall, cutoff, seed| Burst {
        from,
        level,
        rise: 0.0005,
        fall,
        filters: vec![Filter::low_pass(cutoff, 0.7, RATE)],
        seed,
    };
    let strike = Strike::new(0.7, RATE)
        .burst(burst(0.0, 1.0, 0.15, 7000.0, 7))
        .burst(burst(0.01, 0.9, 1.0, 500.0, 8))
        .burst(burst(0.12, 0.15, 0.6, 1200.0, 9));
    Tone::once(strike.frames, RATE, key).faded(0.1)
}

fn backwards(key: u8) -> Tone {
    let hiss = Burst {
        from: 0.0,
        level: 1.0,
        rise: 0.0005,
        fall: 1.0,
        filters: vec![Filter::high_pass(3000.0, 0.6, RATE)],
        seed: 10,
    };
    let mut frames = Strike::new(0.6, RATE).burst(hiss).frames;
    frames.reverse();
    Tone::once(frames, RATE, key).faded(0.01)
}
