//! Levels in decibels, and how an amplitude gets from one to another without a step.
//!
//! In: a level. Out: an amplitude for each frame.

/// The level at which nothing is heard any more, and below which none can be set.
pub const FLOOR_DB: f32 = -60.0;
/// The level of the whole when nobody has set it: a quarter of full scale. Safe with headphones
/// that are turned up.
pub const DEFAULT_DB: f32 = -12.0;
/// The level of the click when nobody has set it, under the level of the whole: its peak is that of
/// a chord.
pub const CLICK_DB: f32 = -12.0;

/// A level, from [`FLOOR_DB`] to 0 dB under full scale. At the floor it is off.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Decibels(f32);

impl Decibels {
    /// The nearest level that there is; what is no number is off.
    pub fn new(db: f32) -> Decibels {
        Decibels(if db.is_nan() { FLOOR_DB } else { db.clamp(FLOOR_DB, 0.0) })
    }

    /// In decibels.
    pub fn db(self) -> f32 {
        self.0
    }

    /// As a factor, 0 to 1.
    pub fn amplitude(self) -> f32 {
        if self.0 <= FLOOR_DB { 0.0 } else { 10f32.powf(self.0 / 20.0) }
    }
}

/// An amplitude that moves to where it is set, 63 % of the way in 10 ms. What is set before the
/// first frame holds from that frame on.
#[derive(Debug, Clone, Copy)]
pub struct Fader {
    value: f32,
    target: f32,
    part: f32,
    started: bool,
}

impl Fader {
    /// At rest at this amplitude.
    pub fn new(amplitude: f32, rate: u32) -> Fader {
        let part = 1.0 - (-1.0 / (0.010 * f64::from(rate.max(1)))).exp();
        Fader { value: amplitude, target: amplitude, part: part as f32, started: false }
    }

    /// Where it goes.
    pub fn to(&mut self, amplitude: f32) {
        self.target = amplitude;
    }

    /// The amplitude of the next frame.
    pub fn next(&mut self) -> f32 {
        let way = self.target - self.value;
        let arrives = way.abs() < 1e-5 || !std::mem::replace(&mut self.started, true);
        self.value = if arrives { self.target } else { self.value + self.part * way };
        self.value
    }
}
