//! Reproducible noise, and noise that loops without a seam.

use super::filter::Filter;

/// A stream of pseudo-random numbers; the same seed gives the same stream.
#[derive(Debug, Clone)]
pub struct Noise(u64);

impl Noise {
    /// A stream for a seed, which can be any number.
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x2545_f491_4f6c_dd1d)
    }

    /// The next number, evenly distributed from -1 up to but not including 1.
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
        (z >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }

    /// The next `count` numbers.
    pub fn take(&mut self, count: usize) -> Vec<f64> {
        (0..count).map(|_| self.next()).collect()
    }
}

/// Filtered noise of `length` frames that loops without a seam: the filters run through it once to
/// settle, and then once more for the result.
pub fn ring(seed: u64, length: usize, filters: &mut [Filter]) -> Vec<f64> {
    let mut frames = Noise::new(seed).take(length);
    for filter in filters {
        for &frame in &frames {
            filter.pass(frame);
        }
        for frame in &mut frames {
            *frame = filter.pass(*frame);
        }
    }
    frames
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_gives_the_same_evenly_spread_noise() {
        let frames = Noise::new(5).take(20_000);
        assert_eq!(frames, Noise::new(5).take(20_000));
        assert_ne!(frames, Noise::new(6).take(20_000));
        let mean = frames.iter().sum::<f64>() / 20_000.0;
        let power = frames.iter().map(|x| x * x).sum::<f64>() / 20_000.0;
        assert!(mean.abs() < 0.02 && (power - 1.0 / 3.0).abs() < 0.02, "{mean} {power}");
    }

    #[test]
    fn a_ring_has_no_seam() {
        let mut filters = [Filter::low_pass(500.0, 0.7, 32_000.0)];
        let frames = ring(1, 4000, &mut filters);
        let steps = frames.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        let largest = steps.fold(0.0, f64::max);
        assert!((frames[0] - frames[3999]).abs() <= largest);
    }
}
