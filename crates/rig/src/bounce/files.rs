//! The files of a bounce: the mix, and one per track on request.
//!
//! In: paths, and pieces of sound. Out: WAV files, put in place once all are complete.

use super::HowToBounce;
use crate::replace::{Guard, Kind, Refusal, Replace, WriteError};
use crate::store::Draft;
use crate::track_files;
use chaconne_song::{Song, Track};
use chaconne_sound::bounce::{Bits, Bounce, Stereo, WavFile};
use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::sync::Arc;

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
        guard: &mut Guard,
    ) -> Result<Files, WriteError> {
        // Each file: its path, what it holds, and its number.
        let mut stems: Vec<(PathBuf, &str, usize)> = Vec::new();
        if let Some(folder) = &how.stems {
            track_files::create(folder)?;
            let whole = track_files::stem(path);
            let file = |number, name| folder.join(track_files::name(&whole, number, name, "wav"));
            for track in tracks {
                let place = song.tracks.iter().position(|other| other.id == track.id);
                let number = place.map_or(0, |place| place + 1);
                stems.push((file(number, &track.name), &track.name, number));
            }
            if how.click {
                let number = song.tracks.len() + 1;
                stems.push((file(number, "click"), "the click", number));
            }
        }
        let paths = std::iter::once(path).chain(stems.iter().map(|(path, ..)| path.as_path()));
        guard.check_all(paths, Kind::Wav, how.replace)?;
        let mix = BegunFile::begin(path.into(), "the mix", how, 0)?;
        let begin = |(path, name, number)| BegunFile::begin(path, name, how, number as u64);
        let stems = stems.into_iter().map(begin).collect::<Result<_, _>>()?;
        Ok(Files { mix, stems })
    }

    /// Checks again, after what may have been a long time, that no other program has written to one of
    /// the files.
    pub fn check(&self, guard: &mut Guard, replace: Replace) -> Result<(), Refusal> {
        let files = std::iter::once(&self.mix).chain(&self.stems);
        guard.check_all(files.map(|file| file.path.as_path()), Kind::Wav, replace)
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
    fn begin(path: PathBuf, name: &str, how: &HowToBounce, seed: u64) -> Result<BegunFile, String> {
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
