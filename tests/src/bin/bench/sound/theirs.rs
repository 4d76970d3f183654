//! libfluidsynth, playing the same piece with the same font: `tests/python/play_font.py`.

use super::piece::Piece;
use crate::Failure;
use chaconne_tests::{program, python};
use std::process::Command;
use std::time::Duration;

/// How libfluidsynth interpolates between the samples of the font.
#[derive(Debug, Clone, Copy)]
pub enum Interpolation {
    /// By straight lines, as our instrument does.
    Linear = 1,
    /// By curves through four points, its default.
    Cubic = 4,
}

/// What it reports after it has played a piece.
#[derive(Debug, Clone)]
pub struct Played {
    /// Its version.
    pub version: String,
    /// The voices that sound when the measurement begins.
    pub voices: usize,
    /// The time on a core that it took.
    pub taken: Duration,
}

/// Has libfluidsynth play a piece.
pub fn play(piece: &Piece, interpolation: Interpolation) -> Result<Played, Failure> {
    let folder = tempfile::tempdir()?;
    let path = folder.path().join("piece.txt");
    std::fs::write(&path, piece.text())?;
    let output = Command::new(python::python())
        .arg(program::top().join("tests/python/play_font.py"))
        .arg(program::top().join("assets/default.sf2"))
        .arg((interpolation as u8).to_string())
        .arg(path)
        .output()?;
    let report = String::from_utf8_lossy(&output.stdout).into_owned();
    let words: Vec<&str> = report.split_whitespace().collect();
    let [version, voices, seconds, peak] = words[..] else {
        return Err(String::from_utf8_lossy(&output.stderr).trim().to_string().into());
    };
    if peak.parse::<f64>()? == 0.0 {
        return Err("libfluidsynth made no sound".into());
    }
    let taken = Duration::from_secs_f64(seconds.parse()?);
    Ok(Played { version: version.into(), voices: voices.parse()?, taken })
}
