//! The files of a bounce: the mix, and one per track on request.
//!
//! In: paths, and pieces of sound. Out: WAV files, put in place once all are complete.

use super::HowToBounce;
use crate::replace::{Kind, WriteError, may_write};
use crate::store::Draft;
use chaconne_song::{Song, Track};
use chaconne_sound::bounce::{Bits, Bounce, Stereo, WavFile};
use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The most letters of a track's name in the name of its file.
const MOST_LETTERS: usize = 40;

/// All files of a bounce.
pub struct Files {
    mix: BegunFile,
    stems: Vec<BegunFile>,
}

/// One file being written.
struct BegunFile {
    path: PathBuf,
    /// What the file holds, for messages.
    name: String,
    draft: Draft,
    wav: WavFile<BufWriter<File>>,
    peak: f32,
}

impl Files {
    /// Begins all files, so that a file that cannot be written is known before rendering starts.
    /// The file of a track has its number in the song, even if other tracks are left out; the click
    /// comes after all tracks.
    pub fn begin(
        path: &Path,
        how: &HowToBounce,
        song: &Song,
        tracks: &[Arc<Track>],
    ) -> Result<Files, WriteError> {
        let mix = BegunFile::begin(path.into(), "the mix", how, 0)?;
        let mut stems = Vec::new();
        if let Some(folder) = &how.stems {
            if !folder.is_dir() {
                if folder.exists() {
                    return Err(format!("{} is a file, not a folder", folder.display()).into());
                }
                let failed =
                    |error| format!("the folder '{}' cannot be created: {error}", folder.display());
                fs::create_dir(folder).map_err(failed)?;
            }
            for track in tracks {
                let place = song.tracks.iter().position(|other| other.id == track.id);
                let number = place.map_or(0, |place| place + 1);
                let path = folder.join(stem_name(path, number, &track.name));
                stems.push(BegunFile::begin(path, &track.name, how, number as u64)?);
            }
            if how.click {
                let number = song.tracks.len() + 1;
                let path = folder.join(stem_name(path, number, "click"));
                stems.push(BegunFile::begin(path, "the click", how, number as u64)?);
            }
        }
        Ok(Files { mix, stems })
    }

    /// Writes a piece of sound to all files.
    pub fn write(&mut self, bounce: &Bounce) -> Result<(), String> {
        self.mix.write(bounce.mix())?;
        let mut stems = self.stems.iter_mut().enumerate();
        stems.try_for_each(|(place, stem)| stem.write(bounce.stem(place)))
    }

    /// Reports the stems that clip; unlike the mix, they do not pass the limiter.
    pub fn too_loud(&self, bits: Bits) -> Vec<String> {
        let loud = self.stems.iter().filter(|stem| bits != Bits::Float && stem.peak > 1.0);
        let sentences = loud.map(|stem| {
            let over = 20.0 * stem.peak.log10();
            format!(
                "the stem of '{}' peaks {over:.1} dB above full scale and clips; --bits 32f avoids \
                 that",
                stem.name
            )
        });
        sentences.collect()
    }

    /// Completes all files, then puts each in its place; returns the paths of the stems.
    pub fn finish(self) -> Result<Vec<PathBuf>, String> {
        let (mut drafts, mut paths) = (Vec::new(), Vec::new());
        for file in std::iter::once(self.mix).chain(self.stems) {
            file.wav.finish().map_err(|error| file.draft.failed(&error))?;
            drafts.push(file.draft);
            paths.push(file.path);
        }
        drafts.into_iter().try_for_each(Draft::finish)?;
        Ok(paths.split_off(1))
    }
}

impl BegunFile {
    fn begin(
        path: PathBuf,
        name: &str,
        how: &HowToBounce,
        seed: u64,
    ) -> Result<BegunFile, WriteError> {
        may_write(&path, Kind::Wav, how.replace)?;
        let draft = Draft::begin(&path)?;
        let wav = WavFile::new(BufWriter::new(draft.file()?), how.rate, how.bits, seed)
            .map_err(|error| draft.failed(&error))?;
        Ok(BegunFile { path, name: name.into(), draft, wav, peak: 0.0 })
    }

    fn write(&mut self, frames: &Stereo) -> Result<(), String> {
        self.peak = self.peak.max(frames.peak());
        self.wav.write(frames).map_err(|error| self.draft.failed(&error))
    }
}

/// The name of a track's file: the name of the mix, a number that keeps the order, and the letters
/// of the track's name that every system accepts.
fn stem_name(mix: &Path, number: usize, track: &str) -> String {
    let mix = mix.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let safe = |letter: char| if letter.is_alphanumeric() { letter } else { '-' };
    let name: String = track.trim().chars().take(MOST_LETTERS).map(safe).collect();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    let name = if words.is_empty() { "track".into() } else { words.join("-") };
    format!("{mix}-{number:02}-{name}.wav")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stem_names_contain_only_letters_that_every_system_accepts() {
        let name = |number, track| stem_name(Path::new("out/mix.v2.wav"), number, track);
        assert_eq!(name(1, "Bass"), "mix.v2-01-Bass.wav");
        assert_eq!(name(12, " ../Línea: 2?/ "), "mix.v2-12-Línea-2.wav");
        assert_eq!(name(3, "///"), "mix.v2-03-track.wav");
        assert!(name(3, &"x".repeat(500)).len() < 60);
    }
}
