//! Sine, powers of two and a soft limit, using only basic arithmetic.
//!
//! The system's own functions differ in the last bit from machine to machine. These do not, so
//! every machine builds the same bank.

/// Sine of an angle in turns: `sine(0.25)` is 1. Accurate to 1e-13 for angles below a million turns.
pub fn sine(turns: f64) -> f64 {
    let mut x = turns - (turns + 0.5).floor();
    if x > 0.25 {
        x = 0.5 - x;
    } else if x < -0.25 {
        x = -0.5 - x;
    }
    let angle = x * std::f64::consts::TAU;
    let square = angle * angle;
    // Taylor's series up to the 19th power, by Horner's rule.
    let mut sum = 1.0;
    for step in (1..=9).rev() {
        let k = f64::from(2 * step);
        sum = 1.0 - sum * square / (k * (k + 1.0));
    }
    angle * sum
}

/// Two to the power of `x`, accurate to 1e-14 of its value for `x` from -1000 to 1000.
pub fn power_of_two(x: f64) -> f64 {
    let whole = (x + 0.5).floor();
    let rest = (x - whole) * std::f64::consts::LN_2;
    let mut sum = 1.0;
    for k in (1..=14).rev() {
        sum = 1.0 + sum * rest / f64::from(k);
    }
    sum * f64::from_bits(((1023 + whole as i64) as u64) << 52)
}

/// A level in decibels as a factor: 20 dB is 10.
pub fn from_decibels(decibels: f64) -> f64 {
    power_of_two(decibels * std::f64::consts::LOG2_10 / 20.0)
}

/// The frequency of a key in hertz: A4 (key 69) is 440 Hz (ISO 16), with twelve equal steps per
/// octave.
pub fn frequency(key: f64) -> f64 {
    440.0 * power_of_two((key - 69.0) / 12.0)
}

/// The factor per frame that makes a level fall by 60 dB in this many seconds.
pub fn fall(seconds: f64, rate: f64) -> f64 {
    from_decibels(-60.0 / (seconds * rate))
}

/// Limits softly: quiet samples pass almost unchanged, loud ones approach 1 or -1. Odd, smooth, and
/// never beyond 1.
pub fn soft_limit(x: f64) -> f64 {
    let x = x.clamp(-3.0, 3.0);
    x * (27.0 + x * x) / (27.0 + 9.0 * x * x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sine_agrees_with_the_systems_own() {
        for step in -4000..4000 {
            let x = f64::from(step) * 0.00137;
            assert!((sine(x) - (x * std::f64::consts::TAU).sin()).abs() < 1e-12, "{x}");
        }
    }

    #[test]
    fn powers_agree_with_the_systems_own() {
        for step in -4000..4000 {
            let x = f64::from(step) * 0.0213;
            assert!((power_of_two(x) / x.exp2() - 1.0).abs() < 1e-12, "{x}");
        }
    }

    #[test]
    fn keys_have_the_frequencies_of_equal_temperament() {
        // ISO 16: A4 is 440 Hz. Middle C is nine equal semitones below it.
        assert!((frequency(69.0) - 440.0).abs() < 1e-9);
        assert!((frequency(60.0) - 261.625_565_3).abs() < 1e-6);
        assert!((from_decibels(20.0) - 10.0).abs() < 1e-9);
    }

    #[test]
    fn the_soft_limit_is_never_beyond_one() {
        assert_eq!(soft_limit(100.0), 1.0);
        assert_eq!(soft_limit(-100.0), -1.0);
        assert!((soft_limit(0.01) - 0.01).abs() < 1e-5);
    }
}
