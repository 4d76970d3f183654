//! The mix: instrument and click together, with levels, limiter and meters.
//!
//! In: MIDI messages, clicks, levels from the [`Desk`]. Out: the frames to be heard. Instrument and
//! click both sound [`Mix::latency`] frames after the call; a caller compensates by calling that much
//! earlier.

mod desk;
mod level;
mod limiter;
mod meter;

pub use desk::{Desk, Meters};
pub use level::{CLICK_DB, DEFAULT_DB, Decibels, FLOOR_DB};
pub use limiter::{CEILING_DB, Limiter};

use crate::click::Click;
use crate::error::SoundError;
use crate::font::Font;
use crate::instrument::{DELAY, Instrument};
use level::Fader;
use meter::Meter;

/// Frames processed at once.
const PART: usize = 64;

/// Instrument, click, levels, limiter and meters. See the header.
///
/// Once created, it neither allocates nor frees, locks nor waits.
#[derive(Debug)]
pub struct Mix {
    instrument: Instrument,
    click: Click,
    desk: Desk,
    level: Fader,
    click_level: Fader,
    limiter: Limiter,
    meters: [Meter; 2],
    rate: u32,
}

impl Mix {
    /// A silent mix with its own desk.
    ///
    /// # Errors
    /// As [`Instrument::new`].
    pub fn new(font: &Font, rate: u32) -> Result<Mix, SoundError> {
        Mix::with_desk(font, rate, Desk::new())
    }

    /// A silent mix with the levels and meters of this desk.
    ///
    /// # Errors
    /// As [`Instrument::new`].
    pub fn with_desk(font: &Font, rate: u32, desk: Desk) -> Result<Mix, SoundError> {
        let instrument = Instrument::new(font, rate)?;
        Ok(Mix {
            instrument,
            click: Click::new(rate),
            level: Fader::new(desk.level().amplitude(), rate),
            click_level: Fader::new(desk.click().amplitude(), rate),
            desk,
            limiter: Limiter::new(rate),
            meters: [Meter::default(); 2],
            rate,
        })
    }

    /// The frames from a message or a click to its sound, at this sample rate.
    pub fn latency(rate: u32) -> usize {
        DELAY + Limiter::latency(rate)
    }

    /// A handle on its levels and meters.
    pub fn desk(&self) -> Desk {
        self.desk.clone()
    }

    /// Reads one whole MIDI message; it takes effect from the next rendered frame on.
    pub fn message(&mut self, message: &[u8]) {
        self.instrument.message(message);
    }

    /// Starts a click at the next rendered frame.
    pub fn strike(&mut self, accent: bool) {
        self.click.strike(accent, DELAY);
    }

    /// Renders the next frames into the slices, as many as the shorter one holds.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let (left, right) = (&mut left[..frames], &mut right[..frames]);
        self.level.to(self.desk.level().amplitude());
        self.click_level.to(self.desk.click().amplitude());
        for (left, right) in left.chunks_mut(PART).zip(right.chunks_mut(PART)) {
            self.render_part(left, right);
        }
        let seconds = frames as f32 / self.rate as f32;
        self.meters[0].take(left, seconds);
        self.meters[1].take(right, seconds);
        self.desk.show(Meters {
            peak: self.meters.map(|meter| meter.peak()),
            held: self.meters.map(|meter| meter.held()),
            gain: self.limiter.take_lowest(),
        });
    }

    fn render_part(&mut self, left: &mut [f32], right: &mut [f32]) {
        let mut click = [0.0; PART];
        let click = &mut click[..left.len()];
        self.instrument.render(left, right);
        self.click.add_to(click);
        for ((left, right), click) in left.iter_mut().zip(right.iter_mut()).zip(click) {
            let level = self.level.next();
            let click = *click * self.click_level.next();
            *left = level * (*left + click);
            *right = level * (*right + click);
        }
        self.limiter.process(left, right);
    }
}
