//! The timbres: sounds shared by programs, each made at a few keys of the keyboard.
//!
//! One file a family. A timbre is a recipe that makes a [`Tone`] at a key, and the keys at which it
//! is made; keys between take the nearest.

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

/// A recipe and where on the keyboard it is carried out.
#[derive(Debug)]
pub struct Timbre {
    /// Up to 16 bytes; the key is added to name the samples.
    pub name: &'static str,
    /// Keys at which it is made, rising.
    pub roots: &'static [u8],
    /// Makes it at one of them.
    pub make: fn(u8) -> Tone,
    /// Loudness, decibels below full scale, as [`Tone::level`] takes it.
    pub level: f64,
}

impl Timbre {
    /// Which keys take which root: each key the nearest one, the lower of two that are as near.
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
