//! The instrument: sixteen MIDI channels that play a font.
//!
//! In: whole MIDI messages, which take effect from the next rendered frame on. Out: frames. The
//! player works in blocks of [`BLOCK`] frames and starts a note with the next block, up to 11
//! frames late; [`DELAY`] is half a block. `channel.rs` and `laws.rs` add the parts of the standard
//! that the player lacks. The same messages at the same frames give the same samples, however
//! rendering is divided into calls.

mod channel;
mod glide;
mod laws;
mod sysex;

use crate::error::SoundError;
use crate::font::{Chokes, Font};
use channel::Channel;
use rustysynth_ext::{Synthesizer, SynthesizerSettings};
use std::ops::RangeInclusive;
use sysex::SysEx;

/// How many frames the player renders at once; messages take effect between blocks. Each block has
/// a fixed cost per voice, so blocks of 8 would take a third more time; blocks of 16 would
/// use up the whole 0.2 ms within which a note has to begin.
const BLOCK: usize = 12;

/// The constant part of the delay from a message to its effect, in frames. The rest is between 6
/// frames early and 5 frames late, less than 0.14 ms at 44.1 kHz.
pub const DELAY: usize = BLOCK / 2;

/// The most voices that sound at once. One more takes over the released voice whose envelope has
/// fallen furthest or, if none is released, the voice that has decayed furthest.
pub const POLYPHONY: usize = 128;

/// The sample rates at which it can render, in hertz.
pub const RATES: RangeInclusive<u32> = 16_000..=192_000;

/// The percussion channel, counted from 0.
const PERCUSSION: usize = 9;

/// The overall level: with the default font, five chords and drums together stay below full scale.
const GAIN: f32 = 1.0;
/// The player drops voices below a thousandth of full scale and changes levels in thousandths. It
/// plays this much louder and is turned down again afterwards, so that neither is audible.
const LIFT: f32 = 64.0;
/// Samples below this (-120 dBFS) count as quiet.
const QUIET: f32 = 1e-6;
/// Samples above this (60 dB over full scale) mean that a filter of the font has become unstable.
const RUNAWAY: f32 = 1e3;

/// The instrument. See the header.
///
/// Once created, it neither allocates nor frees, locks nor waits.
#[derive(Debug)]
pub struct Instrument {
    synth: Synthesizer,
    channels: [Channel; 16],
    chokes: Chokes,
    /// The channels, one bit each, on which something may be gliding.
    moving: u16,
    /// The amplitude of the master volume: current and target.
    master: (f32, f32),
    left: [f32; BLOCK],
    right: [f32; BLOCK],
    /// Frames of the current block already handed out.
    used: usize,
    /// Quiet blocks in a row, and the number after which rendering is suspended.
    quiet: u32,
    patience: u32,
}

impl Instrument {
    /// A silent instrument in the state of 'General MIDI on'.
    ///
    /// # Errors
    /// [`SoundError::Rate`] outside [`RATES`].
    pub fn new(font: &Font, rate: u32) -> Result<Instrument, SoundError> {
        if !RATES.contains(&rate) {
            return Err(SoundError::Rate(rate));
        }
        let mut settings = SynthesizerSettings::new(rate as i32);
        settings.block_size = BLOCK;
        settings.maximum_polyphony = POLYPHONY;
        let synth =
            Synthesizer::new(font.sounds(), &settings).map_err(|_| SoundError::Rate(rate))?;
        let patience = rate / 2 / BLOCK as u32;
        let chokes = font.chokes().clone();
        let rings = |number| if number == PERCUSSION { chokes.all() } else { 0 };
        let channel = |number| Channel::new(number as u8).with_rings(rings(number));
        let mut instrument = Instrument {
            synth,
            channels: std::array::from_fn(channel),
            chokes,
            moving: 0,
            master: (1.0, 1.0),
            left: [0.0; BLOCK],
            right: [0.0; BLOCK],
            used: BLOCK,
            quiet: patience,
            patience,
        };
        instrument.refresh();
        Ok(instrument)
    }

    /// Reads one whole MIDI message, status byte first (no running status). Unknown and malformed
    /// messages, and those that do not concern an instrument, are ignored.
    pub fn message(&mut self, message: &[u8]) {
        match *message {
            [0xF0, ..] => self.exclusive(message),
            [status, a] if status < 0xF0 && a < 0x80 => self.channel_message(status, a, None),
            [status, a, b] if status < 0xF0 && a | b < 0x80 => {
                self.channel_message(status, a, Some(b));
            }
            _ => {}
        }
    }

    /// Renders the next frames into the slices, as many as the shorter one holds.
    pub fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        let frames = left.len().min(right.len());
        let mut done = 0;
        while done < frames {
            if self.used == BLOCK {
                self.render_block();
            }
            let count = (frames - done).min(BLOCK - self.used);
            let (from, to) = (self.used..self.used + count, done..done + count);
            left[to.clone()].copy_from_slice(&self.left[from.clone()]);
            right[to].copy_from_slice(&self.right[from]);
            self.used += count;
            done += count;
        }
    }

    fn channel_message(&mut self, status: u8, a: u8, b: Option<u8>) {
        let channel = &mut self.channels[usize::from(status & 15)];
        let synth = &mut self.synth;
        match (status & 0xF0, b) {
            (0x80, Some(_)) | (0x90, Some(0)) => channel.lift(synth, a),
            (0x90, Some(velocity)) => {
                self.quiet = 0;
                if usize::from(status & 15) == PERCUSSION {
                    self.chokes.of(a).for_each(|key| synth.note_off(PERCUSSION as i32, key.into()));
                }
                channel.press(synth, a, velocity);
            }
            (0xA0, Some(pressure)) => channel.set_pressure(synth, Some(a), pressure),
            (0xB0, Some(value)) => {
                self.moving |= 1 << (status & 15);
                channel.change(synth, a, value);
            }
            (0xC0, None) => channel.program(synth, a),
            (0xD0, None) => channel.set_pressure(synth, None, a),
            (0xE0, Some(coarse)) => channel.bend(synth, u16::from(coarse) << 7 | u16::from(a)),
            _ => {}
        }
    }

    fn exclusive(&mut self, message: &[u8]) {
        match sysex::read(message) {
            Some(SysEx::Restart) => {
                self.channels.iter_mut().for_each(|channel| channel.restart(&mut self.synth));
                (self.moving, self.master.1) = (u16::MAX, 1.0);
            }
            Some(SysEx::Master(volume)) => self.master.1 = laws::master(volume),
            None => {}
        }
    }

    fn render_block(&mut self) {
        self.used = 0;
        if self.quiet >= self.patience {
            (self.left, self.right) = ([0.0; BLOCK], [0.0; BLOCK]);
            self.settle();
            return;
        }
        self.step_channels();
        self.synth.render(&mut self.left, &mut self.right);
        let Some(loudest) = self.scale() else {
            (self.left, self.right) = ([0.0; BLOCK], [0.0; BLOCK]);
            self.refresh();
            return;
        };
        let quiet = loudest < QUIET && self.channels.iter().all(Channel::is_free);
        self.quiet = if quiet { self.quiet + 1 } else { 0 };
        if self.quiet == self.patience {
            self.refresh();
        }
    }

    /// Moves every gliding channel by one block.
    fn step_channels(&mut self) {
        let mut left = self.moving;
        while left != 0 {
            let number = left.trailing_zeros();
            left &= left - 1;
            if !self.channels[number as usize].step(&mut self.synth) {
                self.moving &= !(1 << number);
            }
        }
    }

    /// Applies the overall level. Returns the largest sample, or `None` if one is NaN or beyond
    /// [`RUNAWAY`].
    fn scale(&mut self) -> Option<f32> {
        let (from, to) = self.master;
        let next = if (to - from).abs() < 1e-4 { to } else { from + glide::PART * (to - from) };
        self.master.0 = next;
        let step = (next - from) / BLOCK as f32;
        let (mut loudest, mut sane) = (0.0f32, true);
        // No early exit, so that the compiler can process several samples at once.
        for frame in 0..BLOCK {
            let gain = (from + step * (frame + 1) as f32) / LIFT;
            for sample in [&mut self.left[frame], &mut self.right[frame]] {
                *sample *= gain;
                let size = sample.abs();
                sane &= size <= RUNAWAY;
                loudest = if size > loudest { size } else { loudest };
            }
        }
        sane.then_some(loudest)
    }

    /// Lets the master volume reach its target while rendering is suspended.
    fn settle(&mut self) {
        self.master.0 = self.master.1;
    }

    /// Resets the player to exact silence, without voices or tails, and sends it the channels again.
    fn refresh(&mut self) {
        self.synth.reset();
        self.synth.set_master_volume(GAIN * LIFT);
        self.channels.iter().for_each(|channel| channel.send_all(&mut self.synth));
    }
}
