//! How loud a bounce is: its peak, and its loudness by ITU-R BS.1770.
//!
//! In: frames. Out: the largest sample in dBFS, and the integrated loudness in LUFS, gated as
//! BS.1770 defines: passages below -70 LUFS, or more than 10 LU below the rest, do not count.

use super::cut::Stereo;
use crate::error::SoundError;
use ebur128::{EbuR128, Mode};

/// A meter for frames as they are rendered.
pub struct Loudness {
    meter: EbuR128,
    peak: f32,
}

impl Loudness {
    /// A meter at this sample rate.
    ///
    /// # Errors
    /// [`SoundError::Rate`] for a rate at which it cannot measure.
    pub fn new(rate: u32) -> Result<Loudness, SoundError> {
        let meter = EbuR128::new(2, rate, Mode::I).map_err(|_| SoundError::Rate(rate))?;
        Ok(Loudness { meter, peak: 0.0 })
    }

    /// Measures the next frames.
    pub fn take(&mut self, frames: &Stereo) {
        self.peak = self.peak.max(frames.peak());
        // Fails only if the two sides differ in length, and they do not.
        let _ = self.meter.add_frames_planar_f32(&[&frames.left[..], &frames.right[..]]);
    }

    /// The largest sample in dBFS; `None` if everything is silent.
    pub fn peak_db(&self) -> Option<f64> {
        (self.peak > 0.0).then(|| 20.0 * f64::from(self.peak).log10())
    }

    /// The integrated loudness in LUFS; `None` if nothing is louder than -70 LUFS, or if the sound is
    /// shorter than one measuring block of 400 ms.
    pub fn lufs(&self) -> Option<f64> {
        self.meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
    }
}

impl std::fmt::Debug for Loudness {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Loudness").field("peak", &self.peak).finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn measured(rate: u32, db: f64, seconds: usize) -> Loudness {
        let amplitude = 10f64.powf(db / 20.0);
        let turn = std::f64::consts::TAU * 1000.0 / f64::from(rate);
        let sine =
            (0..rate as usize * seconds).map(|i| (amplitude * (turn * i as f64).sin()) as f32);
        let left: Vec<f32> = sine.collect();
        let mut loudness = Loudness::new(rate).unwrap();
        loudness.take(&Stereo { right: left.clone(), left });
        loudness
    }

    #[test]
    fn a_reference_sine_has_the_standard_loudness() {
        // EBU Tech 3341, minimum requirements, test cases 1 and 2 (from memory): a stereo sine of
        // 1 kHz with peaks at -23 dBFS for 20 s reads -23.0 LUFS +-0.1, at -33 dBFS -33.0.
        for rate in [44_100, 48_000] {
            for db in [-23.0, -33.0] {
                let loudness = measured(rate, db, 20);
                let lufs = loudness.lufs().unwrap();
                assert!((lufs - db).abs() <= 0.1, "{lufs}");
                assert!((loudness.peak_db().unwrap() - db).abs() < 0.01);
            }
        }
    }

    #[test]
    fn silence_has_no_loudness() {
        let loudness = measured(48_000, f64::NEG_INFINITY, 2);
        assert_eq!((loudness.lufs(), loudness.peak_db()), (None, None));
        // ITU-R BS.1770-4, annex 1: blocks below -70 LUFS are left out.
        assert_eq!(measured(48_000, -75.0, 2).lufs(), None);
    }
}
