//! Struck objects: decaying sines with a pitch bend, and bursts of filtered noise. No loops.

use super::filter::Filter;
use super::math::{fall, power_of_two, sine};
use super::noise::Noise;

/// A sound under construction: frames at one rate.
#[derive(Debug, Clone)]
pub struct Strike {
    /// Amplitudes so far.
    pub frames: Vec<f64>,
    rate: f64,
}

/// One mode in which the struck object vibrates.
#[derive(Debug, Clone, Copy)]
pub struct Mode {
    /// Hertz, once the bend is over.
    pub pitch: f64,
    /// Amplitude at the start.
    pub level: f64,
    /// Seconds to fall by 60 dB.
    pub fall: f64,
    /// Semitones above `pitch` at the start.
    pub bend: f64,
    /// Seconds in which the bend falls to a thousandth.
    pub bend_fall: f64,
}

/// A burst of noise.
#[derive(Debug, Clone)]
pub struct Burst {
    /// When it starts, in seconds.
    pub from: f64,
    /// Amplitude at the start.
    pub level: f64,
    /// Seconds to rise.
    pub rise: f64,
    /// Seconds to fall by 60 dB after that.
    pub fall: f64,
    /// The filters it passes, in order.
    pub filters: Vec<Filter>,
    /// Seed of the noise.
    pub seed: u64,
}

impl Strike {
    /// This many seconds of silence, to add to.
    pub fn new(seconds: f64, rate: f64) -> Self {
        Self { frames: vec![0.0; (seconds * rate) as usize], rate }
    }

    /// Adds a mode.
    pub fn mode(mut self, mode: Mode) -> Self {
        let (factor, bend_factor) = (fall(mode.fall, self.rate), fall(mode.bend_fall, self.rate));
        let (mut turns, mut level, mut bend) = (0.0, mode.level, mode.bend);
        for frame in &mut self.frames {
            *frame += level * sine(turns);
            let pitch = if bend == 0.0 { mode.pitch } else { bent(mode.pitch, bend) };
            turns += pitch / self.rate;
            level *= factor;
            bend = if bend.abs() < 1e-4 { 0.0 } else { bend * bend_factor };
        }
        self
    }

    /// Adds modes without a bend: hertz, amplitude, seconds to fall by 60 dB.
    pub fn modes(self, modes: &[(f64, f64, f64)]) -> Self {
        modes.iter().fold(self, |strike, &(pitch, level, fall)| {
            strike.mode(Mode { pitch, level, fall, bend: 0.0, bend_fall: 1.0 })
        })
    }

    /// Adds a burst of noise.
    pub fn burst(mut self, mut burst: Burst) -> Self {
        let mut noise = Noise::new(burst.seed);
        let start = ((burst.from * self.rate) as usize).min(self.frames.len());
        let factor = fall(burst.fall, self.rate);
        let rise = 1.0 / (burst.rise * self.rate).max(1.0);
        let (mut level, mut risen) = (burst.level, 0.0);
        for frame in &mut self.frames[start..] {
            let mut next = noise.next();
            for filter in &mut burst.filters {
                next = filter.pass(next);
            }
            risen = f64::min(1.0, risen + rise);
            *frame += level * risen * next;
            if risen >= 1.0 {
                level *= factor;
            }
        }
        self
    }
}

fn bent(pitch: f64, semitones: f64) -> f64 {
    pitch * power_of_two(semitones / 12.0)
}
