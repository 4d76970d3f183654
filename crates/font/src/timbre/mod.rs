//! The timbres: sounds that programs share, each rendered at a few keys.
//!
//! There is one file per family. A timbre is a recipe that makes a [`Tone`] at a key, and a list of
//! the keys to make it at; every other key uses the nearest of these.

pub mod bass;
pub mod bell;
pub mod brass;
pub mod choir;
pub mod drum;
pub mod effect;
pub mod electric;
pub mod guitar;
pub mod organ;
pub mod piano;
pub mod pipe;
pub mod plucked;
pub mod reed;
pub mod strings;
pub mod synth;

use crate::dsp::tone::Tone;
use std::ops::RangeInclusive;

/// A recipe, and the keys at which it is rendered.
#[derive(Debug)]
pub struct Timbre {
    /// Its name, up to 16 bytes; the name of a sample is this and its key.
    pub name: &'static str,
    /// The keys at which it is rendered, in ascending order.
    pub roots: &'static [u8],
    /// Makes it at one of these keys.
    pub make: fn(u8) -> Tone,
    /// Loudness in decibels relative to full scale, as [`Tone::level`] takes it.
    pub level: f64,
}

impl Timbre {
    /// The range of keys that each sample covers: every key uses the nearest sample, and the lower
    /// of two that are equally near.
    pub fn spans(&self) -> Vec<(u8, RangeInclusive<u8>)> {
        let border = |at: usize| (self.roots[at] + self.roots[at + 1]) / 2;
        let last = self.roots.len() - 1;
        let span = |at: usize| {
            let from = if at == 0 { 0 } else { border(at - 1) + 1 };
            let to = if at == last { 127 } else { border(at) };
            (self.roots[at], from..=to)
        };
        (0..=last).map(span).collect()
    }
}
