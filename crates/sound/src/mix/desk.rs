//! The desk: sets levels and reads meters from any thread.
//!
//! In: levels, from any holder of a [`Desk`]. Out: the meters of its [`Mix`](super::Mix).
//! Everything is atomic, so neither side ever waits.

use super::level::{CLICK_DB, DEFAULT_DB, Decibels};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};

/// A handle on the levels and meters of a mix; cheap to clone.
#[derive(Debug, Clone)]
pub struct Desk(Arc<Cells>);

/// The latest meter readings, as amplitudes from 0 to 1 (see [`Meters::db`]).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Meters {
    /// Left and right: the peak, which falls off.
    pub peak: [f32; 2],
    /// Left and right: the recent peak, held for 1.5 s.
    pub held: [f32; 2],
    /// The limiter's smallest gain, as a factor from 0 to 1; 1 if it did nothing.
    pub gain: f32,
}

impl Meters {
    /// An amplitude in dBFS, never below -120.
    pub fn db(amplitude: f32) -> f32 {
        20.0 * amplitude.max(1e-6).log10()
    }
}

#[derive(Debug)]
struct Cells {
    level: Cell,
    click: Cell,
    peak: [Cell; 2],
    held: [Cell; 2],
    gain: Cell,
}

/// A number that two threads share.
#[derive(Debug)]
struct Cell(AtomicU32);

impl Cell {
    fn new(value: f32) -> Cell {
        Cell(AtomicU32::new(value.to_bits()))
    }

    fn get(&self) -> f32 {
        f32::from_bits(self.0.load(Relaxed))
    }

    fn set(&self, value: f32) {
        self.0.store(value.to_bits(), Relaxed);
    }
}

impl Default for Desk {
    fn default() -> Desk {
        Desk::new()
    }
}

impl Desk {
    /// A desk with default levels and meters at rest.
    pub fn new() -> Desk {
        Desk(Arc::new(Cells {
            level: Cell::new(DEFAULT_DB),
            click: Cell::new(CLICK_DB),
            peak: [Cell::new(0.0), Cell::new(0.0)],
            held: [Cell::new(0.0), Cell::new(0.0)],
            gain: Cell::new(1.0),
        }))
    }

    /// Sets the overall level; [`DEFAULT_DB`] at first.
    pub fn set_level(&self, level: Decibels) {
        self.0.level.set(level.db());
    }

    /// The overall level.
    pub fn level(&self) -> Decibels {
        Decibels::new(self.0.level.get())
    }

    /// Sets the level of the click, relative to the overall level; [`CLICK_DB`] at first.
    pub fn set_click(&self, level: Decibels) {
        self.0.click.set(level.db());
    }

    /// The level of the click.
    pub fn click(&self) -> Decibels {
        Decibels::new(self.0.click.get())
    }

    /// The latest meter readings.
    pub fn meters(&self) -> Meters {
        let cells = &self.0;
        Meters {
            peak: [cells.peak[0].get(), cells.peak[1].get()],
            held: [cells.held[0].get(), cells.held[1].get()],
            gain: cells.gain.get(),
        }
    }

    /// Returns the meters to rest, after the mix that moved them is gone.
    pub fn rest(&self) {
        self.show(Meters { gain: 1.0, ..Meters::default() });
    }

    pub(super) fn show(&self, meters: Meters) {
        for side in 0..2 {
            self.0.peak[side].set(meters.peak[side]);
            self.0.held[side].set(meters.held[side]);
        }
        self.0.gain.set(meters.gain);
    }
}
