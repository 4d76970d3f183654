//! One synthesised sound, before it becomes a sample of the file.

use super::filter::Filter;
use super::math::{fall, from_decibels, soft_limit};
use super::noise::{Noise, ring};
use crate::sf2::Sample;

/// Frames kept after the end of a loop, for players that read ahead (SoundFont 2.04: at least 8).
pub const AFTER_LOOP: usize = 12;

/// A sound at one key.
#[derive(Debug, Clone)]
pub struct Tone {
    /// Amplitudes, at any level until [`Tone::level`] sets it.
    pub frames: Vec<f64>,
    /// Frames per second; the root key is in tune within 0.1 cent at this rate.
    pub rate: u32,
    /// The key at which it plays at its own pitch.
    pub root: u8,
    /// The first frame of the loop and the first frame after it; `None` plays it once.
    pub repeat: Option<(usize, usize)>,
}

impl Tone {
    /// A sound without a loop.
    pub fn once(frames: Vec<f64>, rate: f64, root: u8) -> Self {
        Self { frames, rate: rate.round() as u32, root, repeat: None }
    }

    /// Its first `seconds` alone, without a loop and faded out at the end.
    pub fn cut(mut self, seconds: f64) -> Self {
        self.frames.truncate((seconds * f64::from(self.rate)) as usize);
        self.repeat = None;
        self.faded(seconds / 3.0)
    }

    /// Fades it out over its last `seconds`.
    pub fn faded(mut self, seconds: f64) -> Self {
        let count = ((seconds * f64::from(self.rate)) as usize).min(self.frames.len());
        let start = self.frames.len() - count;
        for (at, frame) in self.frames[start..].iter_mut().enumerate() {
            *frame *= 1.0 - (at + 1) as f64 / count as f64;
        }
        self
    }

    /// Adds a burst of noise at the start, which ends before the loop begins. `level` is its amplitude
    /// relative to the peak, `seconds` how long it takes to fall by 60 dB.
    pub fn with_knock(mut self, level: f64, seconds: f64, filters: &mut [Filter]) -> Self {
        let end = self.repeat.map_or(self.frames.len(), |(start, _)| start);
        let level = level * self.peak();
        let factor = fall(seconds, f64::from(self.rate));
        let mut noise = Noise::new(u64::from(self.root) + 77);
        let (mut gain, step) = (level, 1.0 / end as f64);
        for (at, frame) in self.frames[..end].iter_mut().enumerate() {
            let mut next = noise.next();
            for filter in filters.iter_mut() {
                next = filter.pass(next);
            }
            *frame += next * gain * (1.0 - at as f64 * step);
            gain *= factor;
        }
        self
    }

    /// Adds noise that lasts as long as the sound and has no seam. `level` is its amplitude relative to
    /// the peak.
    pub fn with_breath(mut self, level: f64, filters: &mut [Filter]) -> Self {
        let (start, end) = self.repeat.unwrap_or((0, self.frames.len()));
        let ring = ring(u64::from(self.root), end - start, filters);
        let loudest = ring.iter().fold(1e-9, |peak, frame| f64::max(peak, frame.abs()));
        let factor = level * self.peak() / loudest;
        let shift = ring.len() - start % ring.len();
        for (at, frame) in self.frames.iter_mut().enumerate() {
            *frame += factor * ring[(at + shift) % ring.len()];
        }
        self
    }

    /// Distorts it: scales its peak to `amount` and limits softly. A loop still has no seam.
    pub fn driven(mut self, amount: f64) -> Self {
        let factor = amount / self.peak();
        for frame in &mut self.frames {
            *frame = soft_limit(*frame * factor);
        }
        self
    }

    fn peak(&self) -> f64 {
        self.frames.iter().fold(1e-9, |peak, frame| f64::max(peak, frame.abs()))
    }

    /// Sets its loudness in decibels relative to full scale (negative), limited so that the peak
    /// stays below full scale.
    pub fn level(mut self, decibels: f64) -> Self {
        let loud = from_decibels(decibels) / self.loudness().max(1e-9);
        let factor = loud.min(0.97 / self.peak());
        for frame in &mut self.frames {
            *frame *= factor;
        }
        self
    }

    /// The root mean square of its loudest eighth of a second, through a simple model of the ear:
    /// less below 100 Hz, more above 1.5 kHz, roughly as Recommendation ITU-R BS.1770 weights
    /// sound.
    fn loudness(&self) -> f64 {
        let rate = f64::from(self.rate);
        let mut low_cut = Filter::high_pass(60.0, 0.5, rate);
        let mut lift = Filter::high_pass(1500.0, 0.6, rate);
        let weigh = |frame: &f64| {
            let cut = low_cut.pass(*frame);
            cut + 0.58 * lift.pass(cut)
        };
        let weighed: Vec<f64> = self.frames.iter().map(weigh).collect();
        let window = ((rate / 8.0) as usize).clamp(1, weighed.len().max(1));
        let power = |part: &[f64]| part.iter().map(|x| x * x).sum::<f64>() / window as f64;
        let loudest = weighed.chunks(window).map(power).fold(0.0, f64::max);
        loudest.sqrt()
    }

    /// The sample as the file holds it. Amplitudes beyond full scale are clipped; after
    /// [`Tone::level`] there are none.
    pub fn sample(&self, name: String) -> Sample {
        let quantise = |frame: &f64| (frame.clamp(-1.0, 1.0) * 32_767.0).round() as i16;
        let mut frames: Vec<i16> = self.frames.iter().map(quantise).collect();
        frames.resize(frames.len().max(48), 0);
        let repeat = self.repeat;
        Sample { name, frames, rate: self.rate, root: self.root, correction: 0, repeat }
    }
}
