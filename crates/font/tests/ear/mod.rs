//! Renders the default sounds with a player and measures them.
//!
//! The player is the published crate `rustysynth`, without reverb and chorus, so that only the
//! sounds themselves are measured.

#![allow(dead_code)] // No test uses all of it.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;
use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use std::cell::RefCell;
use std::sync::Arc;

/// The sample rate in hertz.
pub const RATE: usize = 48_000;
thread_local! {
    /// Caches what transforms of one length share.
    static PLANNER: RefCell<FftPlanner<f64>> = RefCell::new(FftPlanner::new());
}

/// The channel that plays percussion, counted from 0.
pub const PERCUSSION: i32 = 9;

/// The default sounds as the player reads them.
pub fn font() -> Arc<SoundFont> {
    let bytes = chaconne_font::default_font();
    Arc::new(SoundFont::new(&mut bytes.as_slice()).expect("the player reads the default sounds"))
}

/// A player without effects that updates its levels every 8 frames.
pub fn player(font: &Arc<SoundFont>) -> Synthesizer {
    let mut settings = SynthesizerSettings::new(RATE as i32);
    settings.enable_reverb_and_chorus = false;
    settings.block_size = 8;
    Synthesizer::new(font, &settings).expect("the settings are sound")
}

/// One note to render.
#[derive(Debug, Clone, Copy)]
pub struct Note {
    /// Channel from 0; 9 is percussion.
    pub channel: i32,
    /// Program from 1.
    pub program: u8,
    /// Key, 0 to 127.
    pub key: u8,
    /// Velocity, 1 to 127.
    pub velocity: u8,
    /// Seconds for which the key is down.
    pub held: f64,
    /// Seconds to render after that.
    pub after: f64,
}

impl Note {
    /// A melodic note, mezzo-forte.
    pub fn new(program: u8, key: u8, held: f64) -> Self {
        Self { channel: 0, program, key, velocity: 80, held, after: 0.0 }
    }

    /// A drum, mezzo-forte.
    pub fn drum(key: u8, held: f64) -> Self {
        Self { channel: PERCUSSION, program: 1, key, velocity: 80, held, after: 0.0 }
    }

    /// Renders both sides, left and right.
    pub fn stereo(self, font: &Arc<SoundFont>) -> [Vec<f32>; 2] {
        let mut player = player(font);
        let program = i32::from(self.program) - 1;
        player.process_midi_message(self.channel, 0xc0, program, 0);
        player.note_on(self.channel, i32::from(self.key), i32::from(self.velocity));
        let mut sides = [Vec::new(), Vec::new()];
        for (part, seconds) in [self.held, self.after].into_iter().enumerate() {
            if part == 1 {
                player.note_off(self.channel, i32::from(self.key));
            }
            let start = sides[0].len();
            let length = start + (seconds * RATE as f64) as usize;
            let [left, right] = &mut sides;
            left.resize(length, 0.0);
            right.resize(length, 0.0);
            player.render(&mut left[start..], &mut right[start..]);
        }
        sides
    }

    /// Renders both sides and adds them.
    pub fn mono(self, font: &Arc<SoundFont>) -> Vec<f32> {
        let [left, right] = self.stereo(font);
        left.iter().zip(&right).map(|(left, right)| left + right).collect()
    }
}

/// The largest amplitude.
pub fn peak(frames: &[f32]) -> f32 {
    frames.iter().fold(0.0, |peak, frame| f32::max(peak, frame.abs()))
}

/// The root mean square.
pub fn rms(frames: &[f32]) -> f64 {
    let sum: f64 = frames.iter().map(|frame| f64::from(*frame) * f64::from(*frame)).sum();
    (sum / frames.len().max(1) as f64).sqrt()
}

/// The root mean square of the loudest quarter of a second.
pub fn loudest(frames: &[f32]) -> f64 {
    frames.chunks(RATE / 4).map(rms).fold(0.0, f64::max)
}

/// An amplitude in dBFS.
pub fn decibels(amplitude: f64) -> f64 {
    20.0 * amplitude.max(1e-9).log10()
}

/// A spectrum, computed with a Hann window and zeros to at least twice the length.
#[derive(Debug)]
pub struct Spectrum {
    /// Amplitudes from 0 Hz up.
    pub lines: Vec<f64>,
    /// The distance between lines in hertz.
    pub spacing: f64,
}

impl Spectrum {
    /// The spectrum of `frames`.
    pub fn of(frames: &[f32]) -> Self {
        let length = (frames.len() * 2).next_power_of_two();
        let window = |at: usize| {
            let turn = at as f64 / frames.len() as f64 * std::f64::consts::TAU;
            0.5 - 0.5 * turn.cos()
        };
        let mut line: Vec<Complex<f64>> = frames
            .iter()
            .enumerate()
            .map(|(at, frame)| Complex::new(f64::from(*frame) * window(at), 0.0))
            .collect();
        line.resize(length, Complex::new(0.0, 0.0));
        PLANNER.with_borrow_mut(|planner| planner.plan_fft_forward(length)).process(&mut line);
        let lines = line[..length / 2].iter().map(|bin| bin.norm()).collect();
        Self { lines, spacing: RATE as f64 / length as f64 }
    }

    /// The strongest peak within `cents` of `hertz`: its frequency, from a parabola through the
    /// logarithms of three lines, and its level in decibels below the strongest line of all. `None` if
    /// the largest line is at the edge, because then it belongs to another peak.
    pub fn peak_near(&self, hertz: f64, cents: f64) -> Option<(f64, f64)> {
        let line = |shift: f64| (hertz * (shift / 1200.0).exp2() / self.spacing) as usize;
        let (from, to) = (line(-cents).max(1), (line(cents) + 1).min(self.lines.len() - 2));
        let top = (from..=to).max_by(|a, b| self.lines[*a].total_cmp(&self.lines[*b]))?;
        if top == from || top == to {
            return None;
        }
        let [below, middle, above] = [top - 1, top, top + 1].map(|at| self.lines[at].ln());
        let shift = 0.5 * (below - above) / (below - 2.0 * middle + above);
        let all = self.lines.iter().copied().fold(0.0, f64::max);
        Some(((top as f64 + shift) * self.spacing, decibels(self.lines[top] / all)))
    }

    /// The centroid of its power in hertz.
    pub fn centroid(&self) -> f64 {
        let power = |line: &f64| line * line;
        let all: f64 = self.lines.iter().map(power).sum();
        let weighed = self.lines.iter().enumerate().map(|(at, line)| at as f64 * power(line));
        weighed.sum::<f64>() * self.spacing / all.max(1e-30)
    }
}

/// The frequency of a key in equal temperament with A4 at 440 Hz (ISO 16).
pub fn frequency(key: u8) -> f64 {
    440.0 * ((f64::from(key) - 69.0) / 12.0).exp2()
}
