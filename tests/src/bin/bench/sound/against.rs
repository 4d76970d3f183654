//! The same piece by our instrument and by libfluidsynth, with the same font: seconds of sound per
//! second on a core. Both have reverberation and chorus on and at most 128 voices. They take turns, and
//! the figures are medians of the rounds.

use super::piece::Piece;
use super::theirs::{self, Interpolation};
use super::{middle, ours, times};
use crate::measure::line;
use crate::{Extent, Failure};
use std::time::Duration;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let (rounds, seconds) = if extent == Extent::Short { (1, 5) } else { (7, 20) };
    let chord = Piece::chord(seconds);
    let version = match theirs::play(&chord, Interpolation::Cubic) {
        Ok(played) => {
            let voices = format!("{} and {}", ours::voices(&chord)?, played.voices);
            line("chord, voices of ours and of libfluidsynth", voices);
            Some(played.version)
        }
        Err(why) => {
            eprintln!("{why}");
            line("chord, voices of ours", ours::voices(&chord)?);
            None
        }
    };
    compare("chord", &chord, rounds, version.as_deref())?;
    compare("demo song", &Piece::demo()?, rounds, version.as_deref())
}

/// Has both play a piece in turn, and prints. `version` is that of libfluidsynth, if it is installed.
fn compare(name: &str, piece: &Piece, rounds: usize, version: Option<&str>) -> Result<(), Failure> {
    let mut taken: [Vec<Duration>; 4] = Default::default();
    for _ in 0..rounds {
        taken[0].push(ours::instrument(piece)?);
        taken[1].push(ours::mix(piece)?);
        if version.is_some() {
            taken[2].push(theirs::play(piece, Interpolation::Linear)?.taken);
            taken[3].push(theirs::play(piece, Interpolation::Cubic)?.taken);
        }
    }
    let print = |what: String, taken| {
        line(&format!("{name}: {what}"), times(piece.seconds(), taken));
    };
    let [instrument, mix, linear, cubic] = taken.map(middle);
    print("our instrument".into(), instrument);
    print("with click, limiter and meters".into(), mix);
    let Some(version) = version else { return Ok(()) };
    print(format!("libfluidsynth {version}, linear"), linear);
    print("the same, its own four-point curve".into(), cubic);
    let ratio = |theirs: Duration| theirs.as_secs_f64() / instrument.as_secs_f64();
    let ratios = format!("{:.2} : {:.2} : 1", ratio(linear), ratio(cubic));
    line(&format!("{name}: cost of theirs, linear : curve : ours"), ratios);
    Ok(())
}
