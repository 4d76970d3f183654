//! Plucked and struck strings: a burst of noise goes round a delay line and is smoothed each time
//! (Karplus and Strong, "Digital Synthesis of Plucked-String and Drum Timbres", 1983).
//!
//! In: how the string is plucked and how it decays. Out: a [`Tone`] that loops. The smoothing is
//! symmetrical, so the period is a whole number of frames, and the sample rate is chosen to be in
//! tune. Smoothing stops where the loop begins: from there on every period equals the one before.

use super::filter::Filter;
use super::math::{frequency, from_decibels};
use super::noise::Noise;
use super::tone::{AFTER_LOOP, Tone};

/// How a string is plucked.
#[derive(Debug, Clone, Copy)]
pub struct Pluck {
    /// Cut-off of the burst in hertz, which sets how bright it is.
    pub bright: f64,
    /// Where the string is plucked, as a fraction of its length.
    pub place: f64,
    /// How much each trip round the delay line smooths it, 0 to 0.5.
    pub smooth: f64,
    /// Seconds in which the whole sound falls by 60 dB, besides what smoothing takes away.
    pub fall: f64,
    /// Seconds before the loop.
    pub onset: f64,
    /// Frames per second, approximately: tuning decides the exact rate.
    pub rate: f64,
    /// Seed of the burst's noise.
    pub seed: u64,
}

/// Plucks the string at a key.
pub fn pluck(key: u8, how: &Pluck) -> Tone {
    let pitch = frequency(f64::from(key));
    let period = (how.rate / pitch).round().max(8.0) as usize;
    let rate = pitch * period as f64;
    let turns = (64 / period).max(1) + 1;
    let onset = ((how.onset * rate) as usize).max(2 * period);
    let length = onset + turns * period + AFTER_LOOP;
    let frames = ring_down(burst(period, how, rate), how, onset, length, rate);
    let rate = rate.round() as u32;
    Tone { frames, rate, root: key, repeat: Some((onset, onset + turns * period)) }
}

/// One period of filtered noise, with the notches that the plucking point causes and without any
/// constant offset.
fn burst(period: usize, how: &Pluck, rate: f64) -> Vec<f64> {
    let mut filters = [Filter::low_pass(how.bright.min(0.45 * rate), 0.6, rate)];
    let noise = super::noise::ring(how.seed, period, &mut filters);
    let lag = ((how.place * period as f64).round() as usize).clamp(1, period - 1);
    let mut frames: Vec<f64> =
        (0..period).map(|at| noise[at] - noise[(at + period - lag) % period]).collect();
    let mean = frames.iter().sum::<f64>() / period as f64;
    frames.iter_mut().for_each(|frame| *frame -= mean);
    even_out(&mut frames);
    frames
}

/// Sets the first three harmonics of the burst to fixed levels. A burst this short may otherwise
/// lack one of them by chance.
fn even_out(frames: &mut [f64]) {
    let period = frames.len() as f64;
    let mut noise = Noise::new(frames.len() as u64);
    for harmonic in 1..=3 {
        let turn = |at: usize| f64::from(harmonic) * at as f64 / period;
        let wave = |at: usize, shift: f64| super::math::sine(turn(at) + shift);
        for shift in [0.0, 0.25] {
            let part = frames.iter().enumerate().map(|(at, frame)| frame * wave(at, shift));
            let part = part.sum::<f64>() * 2.0 / period;
            frames.iter_mut().enumerate().for_each(|(at, frame)| *frame -= part * wave(at, shift));
        }
        let shift = noise.next();
        let level = 0.9 / f64::from(harmonic);
        frames.iter_mut().enumerate().for_each(|(at, frame)| *frame += level * wave(at, shift));
    }
}

fn ring_down(burst: Vec<f64>, how: &Pluck, onset: usize, length: usize, rate: f64) -> Vec<f64> {
    let period = burst.len();
    let keep = from_decibels(-60.0 * period as f64 / (how.fall * rate));
    let (side, middle) = (how.smooth / 2.0 * keep, (1.0 - how.smooth) * keep);
    let mut frames = burst;
    frames.reserve(length);
    while frames.len() < length {
        let back = frames.len() - period;
        let next = if frames.len() < onset + 1 && back > 0 {
            // Three symmetrical taps delay by as much as the middle one, `back`.
            side * (frames[back - 1] + frames[back + 1]) + middle * frames[back]
        } else {
            frames[back]
        };
        frames.push(next);
    }
    frames
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Pluck = Pluck {
        bright: 6000.0,
        place: 0.2,
        smooth: 0.3,
        fall: 3.0,
        onset: 0.3,
        rate: 30_000.0,
        seed: 1,
    };

    #[test]
    fn the_loop_has_no_seam_and_is_in_tune() {
        for key in [28, 45, 60, 84, 96] {
            let tone = pluck(key, &PLAIN);
            let (start, end) = tone.repeat.unwrap();
            for at in 0..AFTER_LOOP {
                assert_eq!(tone.frames[start + at], tone.frames[end + at], "key {key}");
            }
            assert!(end - start >= 32);
        }
    }

    #[test]
    fn a_string_grows_duller_and_quieter() {
        let tone = pluck(45, &PLAIN);
        let power = |part: &[f64]| part.iter().map(|x| x * x).sum::<f64>();
        let edge =
            |part: &[f64]| part.windows(2).map(|w| (w[1] - w[0]) * (w[1] - w[0])).sum::<f64>();
        let (early, late) = (&tone.frames[..1000], &tone.frames[8000..9000]);
        assert!(power(late) < power(early));
        assert!(edge(late) / power(late) < 0.5 * edge(early) / power(early));
    }
}
