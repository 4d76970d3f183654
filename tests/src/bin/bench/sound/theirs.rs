//! libfluidsynth, playing the same piece with the same font: `tests/python/play_font.py`.

use super::piece::Piece;
use crate::Failure;
use chaconne_tests::{program, python};
use std::process::Command;
use std::time::Duration;

/// How it gets from one sample of the font to the next.
#[derive(Debug, Clone, Copy)]
pub enum Interpolation {
    /// By straight lines, as our player does.
    Linear = 1,
    /// By curves through four points, which is what it does when nothing is said.
    Cubic = 4,
}

/// What it says of a piece.
#[derive(Debug, Clone)]
pub struct Played {
    /// Its version.
    pub version: String,
    /// The voices that sound when the measurement begins.
    pub voices: usize,
    /// The time on a core that it took.
    pub taken: Duration,
}

/// Has it play.
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
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let words: Vec<&str> = said.split_whitespace().collect();
    let [version, voices, seconds, peak] = words[..] else {
        return Err(String::from_utf8_lossy(&output.stderr).trim().to_string().into());
    };
    if peak.parse::<f64>()? == 0.0 {
        return Err("nothing sounds of libfluidsynth".into());
    }
    let taken = Duration::from_secs_f64(seconds.parse()?);
    Ok(Played { version: version.into(), voices: voices.parse()?, taken })
}
