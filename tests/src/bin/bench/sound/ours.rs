//! Our instrument, alone and in the mix, playing a piece on one core.

use super::cpu;
use super::piece::{Piece, RATE};
use crate::Failure;
use chaconne_sound::{Font, Instrument, Mix};
use std::time::Duration;

/// The number of frames rendered at once.
const BUFFER: usize = 4096;

/// Anything that plays MIDI messages.
pub trait Player {
    /// Takes one message.
    fn message(&mut self, message: &[u8]);
    /// Renders the next frames.
    fn render(&mut self, left: &mut [f32], right: &mut [f32]);
}

impl Player for Instrument {
    fn message(&mut self, message: &[u8]) {
        Instrument::message(self, message);
    }

    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        Instrument::render(self, left, right);
    }
}

impl Player for Mix {
    fn message(&mut self, message: &[u8]) {
        Mix::message(self, message);
    }

    fn render(&mut self, left: &mut [f32], right: &mut [f32]) {
        Mix::render(self, left, right);
    }
}

/// The time on a core that our instrument takes for the measured part of a piece.
pub fn instrument(piece: &Piece) -> Result<Duration, Failure> {
    time(Instrument::new(&Font::standard(), RATE)?, piece)
}

/// The same with level, limiter and meters.
pub fn mix(piece: &Piece) -> Result<Duration, Failure> {
    time(Mix::new(&Font::standard(), RATE)?, piece)
}

/// How many voices sound when the measurement begins. Only the instrument's `Debug` output has the
/// number.
pub fn voices(piece: &Piece) -> Result<usize, Failure> {
    let mut instrument = Instrument::new(&Font::standard(), RATE)?;
    play(&mut instrument, piece, 0, piece.from);
    let debug = format!("{instrument:?}");
    let count = debug.split_once("active_voice_count: ").and_then(|(_, rest)| {
        rest.split(|letter: char| !letter.is_ascii_digit()).next()?.parse().ok()
    });
    Ok(count.ok_or("the instrument does not show how many voices sound")?)
}

fn time(mut player: impl Player, piece: &Piece) -> Result<Duration, Failure> {
    play(&mut player, piece, 0, piece.from);
    let begin = cpu::of_this_thread()?;
    let peak = play(&mut player, piece, piece.from, piece.to);
    let taken = cpu::of_this_thread()? - begin;
    if peak == 0.0 {
        return Err("our instrument made no sound".into());
    }
    Ok(taken)
}

/// Plays the messages between two frames. Returns the peak of the last buffers, so that the compiler
/// cannot leave the rendering out.
fn play(player: &mut impl Player, piece: &Piece, from: u64, to: u64) -> f32 {
    let (mut left, mut right) = (vec![0.0; BUFFER], vec![0.0; BUFFER]);
    let mut render = |player: &mut _, mut frames: u64| {
        while frames > 0 {
            let count = frames.min(BUFFER as u64);
            let part = ..count as usize;
            Player::render(player, &mut left[part], &mut right[part]);
            frames -= count;
        }
    };
    let mut at = from;
    for (frame, message) in piece.messages.iter().filter(|one| (from..to).contains(&one.0)) {
        render(player, frame - at);
        at = *frame;
        player.message(message);
    }
    render(player, to - at);
    left.iter().chain(&right).fold(0.0, |peak, sample| peak.max(sample.abs()))
}
