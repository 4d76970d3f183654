//! Levels in decibels, and amplitudes that move between them without a step.
//!
//! In: a level. Out: an amplitude for each frame.

/// The lowest level, at which nothing sounds, in decibels.
pub const FLOOR_DB: f32 = -60.0;
/// The default overall level in decibels: a quarter of full scale, safe even if the headphones are
/// turned up.
pub const DEFAULT_DB: f32 = -12.0;
/// The default level of the click in decibels, relative to the overall level: it peaks like a chord.
pub const CLICK_DB: f32 = -12.0;

/// From here up to full scale a step is one decibel.
const FINE_DB: f32 = -18.0;
/// From here up to [`FINE_DB`] a step is [`COARSE_DB`]; below, the next step is off.
const LOW_DB: f32 = -48.0;
const COARSE_DB: f32 = 3.0;

/// A level from [`FLOOR_DB`] to 0 dBFS. At the floor it is off.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Decibels(f32);

impl Decibels {
    /// The default level of the click: [`CLICK_DB`].
    pub const CLICK: Decibels = Decibels(CLICK_DB);

    /// The nearest level in range; NaN is off.
    pub fn new(db: f32) -> Decibels {
        Decibels(if db.is_nan() { FLOOR_DB } else { db.clamp(FLOOR_DB, 0.0) })
    }

    /// In decibels.
    pub fn db(self) -> f32 {
        self.0
    }

    /// As a factor, 0 to 1.
    pub fn amplitude(self) -> f32 {
        if self.is_off() { 0.0 } else { 10f32.powf(self.0 / 20.0) }
    }

    /// Whether nothing sounds at this level.
    pub fn is_off(self) -> bool {
        self.0 <= FLOOR_DB
    }

    /// The next step up: one decibel above -18 dB, three between -48 and -18 dB, and -48 dB from
    /// below. 0 dB stays 0 dB.
    pub fn louder(self) -> Decibels {
        Decibels::new(match self.0 {
            db if db < LOW_DB => LOW_DB,
            db if db < FINE_DB => COARSE_DB * ((db / COARSE_DB).floor() + 1.0),
            db => db.floor() + 1.0,
        })
    }

    /// The next step down, on the same ladder as [`louder`](Self::louder); off stays off.
    pub fn softer(self) -> Decibels {
        Decibels::new(match self.0 {
            db if db > FINE_DB => db.ceil() - 1.0,
            db if db > LOW_DB => COARSE_DB * ((db / COARSE_DB).ceil() - 1.0),
            _ => FLOOR_DB,
        })
    }
}

/// An amplitude that glides to its target, 63 % of the way in 10 ms. A target set before the first
/// frame applies at once.
#[derive(Debug, Clone, Copy)]
pub struct Fader {
    value: f32,
    target: f32,
    part: f32,
    started: bool,
}

impl Fader {
    /// A fader at rest at this amplitude.
    pub fn new(amplitude: f32, rate: u32) -> Fader {
        let part = 1.0 - (-1.0 / (0.010 * f64::from(rate.max(1)))).exp();
        Fader { value: amplitude, target: amplitude, part: part as f32, started: false }
    }

    /// Sets the target.
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_ladder_of_levels_is_the_same_both_ways() {
        let mut steps = vec![Decibels::new(0.0)];
        while !steps[steps.len() - 1].is_off() {
            steps.push(steps[steps.len() - 1].softer());
        }
        let steps_db: Vec<f32> = steps.iter().map(|level| level.db()).collect();
        let fine = (0..=18).map(|step| -step as f32);
        let coarse = (7..=16).map(|step| -3.0 * step as f32);
        assert_eq!(steps_db, fine.chain(coarse).chain([FLOOR_DB]).collect::<Vec<_>>());
        assert!(steps_db.contains(&DEFAULT_DB));
        for (above, below) in steps.iter().zip(&steps[1..]) {
            assert_eq!(below.louder(), *above);
        }
        assert_eq!(steps[0].louder(), steps[0]);
        assert_eq!(steps[steps.len() - 1].softer(), steps[steps.len() - 1]);
        assert_eq!(steps[steps.len() - 1].amplitude(), 0.0);
    }

    #[test]
    fn a_level_between_two_steps_goes_to_the_next_one() {
        let around = |db| {
            let level = Decibels::new(db);
            (level.softer().db(), level.louder().db())
        };
        assert_eq!(around(-12.5), (-13.0, -12.0));
        assert_eq!(around(-17.5), (-18.0, -17.0));
        assert_eq!(around(-18.5), (-21.0, -18.0));
        assert_eq!(around(-47.0), (-48.0, -45.0));
        assert_eq!(around(-55.0), (FLOOR_DB, -48.0));
        assert_eq!(around(f32::NAN), (FLOOR_DB, -48.0));
    }
}
