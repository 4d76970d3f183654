//! A WAV file as another reader sees it: libsndfile, through Python's soundfile.

use crate::program::top;
use crate::python::python;
use std::path::Path;
use std::process::Command;

/// What the reader finds in a file.
#[derive(Debug, Clone, PartialEq)]
pub struct Wav {
    /// Frames per second.
    pub rate: u32,
    /// The sample format in libsndfile's words: PCM_16, PCM_24 or FLOAT.
    pub format: String,
    /// The left samples; full scale is 1.0.
    pub left: Vec<f32>,
    /// The right samples.
    pub right: Vec<f32>,
}

impl Wav {
    /// Reads a file of two channels.
    ///
    /// # Panics
    /// If the reader refuses it, finds another number of channels, or reads another number of samples
    /// than it announced.
    #[track_caller]
    pub fn read(path: &Path) -> Wav {
        let folder = tempfile::tempdir().expect("a folder can be created");
        let raw = folder.path().join("samples");
        let ran = Command::new(python())
            .env("PYTHONDONTWRITEBYTECODE", "1")
            .arg(top().join("tests/python/read_wav.py"))
            .args([path, &raw])
            .output()
            .expect("Python starts");
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
        let line = String::from_utf8(ran.stdout).expect("the reader writes text");
        let words: Vec<&str> = line.split_whitespace().collect();
        let [channels, rate, frames, format] = words[..] else { panic!("{line}") };
        assert_eq!(channels, "2", "{line}");
        let bytes = std::fs::read(raw).expect("the reader writes samples");
        let sample = |four: &[u8]| f32::from_ne_bytes([four[0], four[1], four[2], four[3]]);
        let side =
            |from: usize| bytes.chunks_exact(8).map(|frame| sample(&frame[from..])).collect();
        let wav = Wav {
            rate: rate.parse().expect("a rate"),
            format: format.to_string(),
            left: side(0),
            right: side(4),
        };
        assert_eq!(wav.left.len().to_string(), frames, "{line}");
        wav
    }

    /// Both sides, one after the other.
    pub fn samples(&self) -> impl Iterator<Item = f32> {
        self.left.iter().chain(&self.right).copied()
    }

    /// The largest sample, regardless of its sign.
    pub fn peak(&self) -> f32 {
        self.samples().fold(0.0, |peak, sample| peak.max(sample.abs()))
    }
}
