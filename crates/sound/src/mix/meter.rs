//! Peak meters behind the limiter.
//!
//! In: the outgoing frames, call by call. Out: for each side the peak, which falls by 20 dB in 1.7 s
//! (as on a type I programme meter, IEC 60268-10; from memory), and the recent peak, which holds for
//! 1.5 s before it falls.

/// Seconds for which the recent peak holds.
const HOLD: f32 = 1.5;
/// Decibels by which a meter falls per second.
const FALL: f32 = 20.0 / 1.7;
/// A lower reading (-120 dBFS) becomes 0.
const NOTHING: f32 = 1e-6;

/// The meter of one side; it reads amplitudes.
#[derive(Debug, Clone, Copy, Default)]
pub struct Meter {
    peak: f32,
    held: f32,
    /// Seconds since the held peak.
    age: f32,
}

impl Meter {
    /// Measures frames that last `seconds`.
    pub fn take(&mut self, frames: &[f32], seconds: f32) {
        let loudest = frames.iter().fold(0.0f32, |peak, sample| peak.max(sample.abs()));
        let fall = 10f32.powf(-FALL * seconds / 20.0);
        self.peak = quiet_is_nothing((self.peak * fall).max(loudest));
        self.age += seconds;
        if self.age > HOLD {
            self.held = quiet_is_nothing(self.held * fall);
        }
        if loudest >= self.held {
            (self.held, self.age) = (loudest, 0.0);
        }
    }

    /// The falling peak, 0 to 1.
    pub fn peak(&self) -> f32 {
        self.peak
    }

    /// The held peak, 0 to 1.
    pub fn held(&self) -> f32 {
        self.held
    }
}

fn quiet_is_nothing(amplitude: f32) -> f32 {
    if amplitude < NOTHING { 0.0 } else { amplitude }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_peak_holds_for_a_second_and_a_half_and_then_falls() {
        let mut meter = Meter::default();
        meter.take(&[0.1, -0.5, 0.2], 0.01);
        assert_eq!((meter.peak(), meter.held()), (0.5, 0.5));
        (0..149).for_each(|_| meter.take(&[0.0], 0.01));
        assert_eq!(meter.held(), 0.5);
        let fallen = 20.0 * (meter.peak() / 0.5).log10();
        assert!((fallen + FALL * 1.49).abs() < 0.01, "{fallen}");
        (0..171).for_each(|_| meter.take(&[0.0], 0.01));
        let fallen = 20.0 * (meter.held() / 0.5).log10();
        assert!((fallen + 20.0).abs() < 0.3, "{fallen}");
        meter.take(&[0.4], 0.01);
        assert_eq!((meter.peak(), meter.held()), (0.4, 0.4));
        (0..3000).for_each(|_| meter.take(&[0.0], 0.01));
        assert_eq!((meter.peak(), meter.held()), (0.0, 0.0));
    }
}
