//! Second-order filters: low-pass, high-pass and band-pass.
//!
//! The trapezoidal state-variable form, which is stable at every cut-off. It needs one tangent,
//! computed from our own sine.

use super::math::sine;

/// A filter and its state.
#[derive(Debug, Clone)]
pub struct Filter {
    g: f64,
    damping: f64,
    /// How much of the low, band and high output goes into the result.
    mix: [f64; 3],
    state: [f64; 2],
}

impl Filter {
    /// Passes what is below `cutoff` hertz. A `quality` of 0.7 is flat; higher values resonate.
    pub fn low_pass(cutoff: f64, quality: f64, rate: f64) -> Self {
        Self::new(cutoff, quality, rate, [1.0, 0.0, 0.0])
    }

    /// Passes what is above `cutoff` hertz.
    pub fn high_pass(cutoff: f64, quality: f64, rate: f64) -> Self {
        Self::new(cutoff, quality, rate, [0.0, 0.0, 1.0])
    }

    /// Passes what is around `centre` hertz, at full level there; `quality` is centre over width.
    pub fn band_pass(centre: f64, quality: f64, rate: f64) -> Self {
        Self::new(centre, quality, rate, [0.0, 1.0 / quality, 0.0])
    }

    fn new(frequency: f64, quality: f64, rate: f64, mix: [f64; 3]) -> Self {
        let half = (frequency / rate).clamp(1e-5, 0.49) / 2.0;
        let g = sine(half) / sine(half + 0.25);
        Self { g, damping: 1.0 / quality, mix, state: [0.0; 2] }
    }

    /// Filters one frame.
    pub fn pass(&mut self, frame: f64) -> f64 {
        let [first, second] = self.state;
        let scale = 1.0 / (1.0 + self.g * (self.g + self.damping));
        let high = (frame - (self.g + self.damping) * first - second) * scale;
        let band = self.g * high + first;
        let low = self.g * band + second;
        self.state = [self.g * high + band, self.g * band + low];
        self.mix[0] * low + self.mix[1] * band + self.mix[2] * high
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain(mut filter: Filter, frequency: f64) -> f64 {
        let out: Vec<f64> =
            (0..32_000).map(|at| filter.pass(sine(frequency * f64::from(at) / 32_000.0))).collect();
        out[16_000..].iter().fold(0.0, |peak, frame| f64::max(peak, frame.abs()))
    }

    #[test]
    fn each_kind_passes_its_own_band() {
        let low = || Filter::low_pass(1000.0, 0.707, 32_000.0);
        assert!((gain(low(), 50.0) - 1.0).abs() < 0.01 && gain(low(), 8000.0) < 0.02);
        let high = || Filter::high_pass(1000.0, 0.707, 32_000.0);
        assert!((gain(high(), 8000.0) - 1.0).abs() < 0.02 && gain(high(), 50.0) < 0.01);
        let band = || Filter::band_pass(1000.0, 5.0, 32_000.0);
        assert!((gain(band(), 1000.0) - 1.0).abs() < 0.01 && gain(band(), 100.0) < 0.03);
    }
}
