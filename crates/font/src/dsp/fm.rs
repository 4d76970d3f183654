//! Frequency modulation: one sine modulates the phase of another (Chowning, "The Synthesis of Complex
//! Audio Spectra by Means of Frequency Modulation", 1973).
//!
//! In: pairs of oscillators. Out: a [`Tone`] that loops. Both frequencies fit the loop a whole number
//! of times and the depth is constant within it, so it has no seam.

use super::additive::{Grid, Shape};
use super::math::{fall, sine};
use super::tone::{AFTER_LOOP, Tone};

/// A carrier with its modulator.
#[derive(Debug, Clone, Copy)]
pub struct Pair {
    /// Frequency of the carrier, which is heard, divided by that of the key.
    pub carrier: f64,
    /// Frequency of the modulator divided by that of the key.
    pub modulator: f64,
    /// Depth of modulation at the start, in turns (the usual index divided by 6.28).
    pub depth: f64,
    /// Depth of modulation after the fall, in turns.
    pub floor: f64,
    /// Seconds in which the depth falls by 60 dB.
    pub depth_fall: f64,
    /// Amplitude at the start.
    pub level: f64,
    /// Seconds in which the amplitude falls by 60 dB; infinite keeps its level.
    pub fall: f64,
}

/// Adds the pairs up.
pub fn fm(key: u8, shape: Shape, pairs: &[Pair]) -> Tone {
    let grid = Grid::new(key, shape.repeat, shape.rate);
    let rate = f64::from(grid.rate);
    let onset = ((shape.onset * rate) as usize).max(16);
    let mut frames = vec![0.0; onset + grid.frames + AFTER_LOOP];
    for pair in pairs {
        add(&mut frames, pair, &grid, onset);
    }
    Tone { frames, rate: grid.rate, root: key, repeat: Some((onset, onset + grid.frames)) }
}

fn add(frames: &mut [f64], pair: &Pair, grid: &Grid, onset: usize) {
    let rate = f64::from(grid.rate);
    let (carrier, modulator) = (grid.turns(pair.carrier), grid.turns(pair.modulator));
    let depth_factor = fall(pair.depth_fall, rate);
    let factor = if pair.fall.is_finite() { fall(pair.fall, rate) } else { 1.0 };
    let (mut depth, mut level) = (pair.depth - pair.floor, pair.level);
    for (at, frame) in frames.iter_mut().enumerate() {
        let time = at as f64;
        let shake = (depth + pair.floor) * sine(modulator * time);
        *frame += level * sine(carrier * time + shake);
        if at < onset {
            depth *= depth_factor;
            level *= factor;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_loop_has_no_seam() {
        let pair = Pair {
            carrier: 1.0,
            modulator: 3.51,
            depth: 0.5,
            floor: 0.05,
            depth_fall: 0.4,
            level: 1.0,
            fall: 2.0,
        };
        let tone = fm(57, Shape { onset: 0.2, repeat: 0.1, rate: 30_000.0 }, &[pair]);
        let (start, end) = tone.repeat.unwrap();
        for at in 0..AFTER_LOOP {
            assert!((tone.frames[start + at] - tone.frames[end + at]).abs() < 1e-9);
        }
    }
}
