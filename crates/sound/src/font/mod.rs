//! A font: the samples and programs that the instrument plays.
//!
//! In: the bytes of a SoundFont 2 file, from anyone. Out: a [`Font`] that can be played without a
//! surprise, or one sentence. What the player's own reader trusts is checked before (`check.rs`),
//! what the player trusts after (`load.rs`).

mod check;
mod chokes;
mod load;
mod riff;
mod silence;

use crate::error::SoundError;
pub(crate) use chokes::Chokes;
use rustysynth_ext::SoundFont;
use silence::Silence;
use std::fmt;
use std::io::Read;
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// The most bytes that a font may have.
pub const MAX_FONT_BYTES: u64 = 1_000_000_000;

const STANDARD_BYTES: &[u8] = include_bytes!("../../../../assets/default.sf2");

/// A font that is ready to be played; cheap to clone, free to share between threads.
#[derive(Clone)]
pub struct Font {
    sounds: Arc<SoundFont>,
    /// Which drums the instrument cuts off; any other font leaves that to the player.
    chokes: Chokes,
}

impl Font {
    /// The font that comes with the program: every program of General MIDI and its percussion,
    /// made by `cargo xtask assets`. Read once, then shared.
    pub fn standard() -> Font {
        static STANDARD: OnceLock<Font> = OnceLock::new();
        let read = || {
            let mut bytes = STANDARD_BYTES.to_vec();
            let chokes = Chokes::take(&mut bytes);
            let font = Font::read(&bytes).expect("the font that comes along is whole");
            Font { chokes, ..font }
        };
        STANDARD.get_or_init(read).clone()
    }

    /// Reads a SoundFont 2 file from its bytes. Takes its time and memory: not for a thread that
    /// has to be on time.
    ///
    /// # Errors
    /// [`SoundError::TooLarge`], and [`SoundError::Font`] for anything that is broken, reaches
    /// outside of the file or would take a note for ever to start.
    pub fn read(bytes: &[u8]) -> Result<Font, SoundError> {
        if bytes.len() as u64 > MAX_FONT_BYTES {
            return Err(SoundError::TooLarge(bytes.len() as u64));
        }
        if bytes == STANDARD_BYTES {
            return Ok(Font::standard());
        }
        let sound = check::check(bytes).map_err(SoundError::Font)?;
        let font = SoundFont::new(&mut Silence::new(sound))
            .map_err(|e| SoundError::Font(e.to_string()))?;
        load::check(&font).map_err(SoundError::Font)?;
        Ok(Font { sounds: Arc::new(font), chokes: Chokes::NONE })
    }

    /// Reads a SoundFont 2 file.
    ///
    /// # Errors
    /// [`SoundError::Unreadable`], and those of [`Font::read`].
    pub fn open(path: &Path) -> Result<Font, SoundError> {
        let unreadable = |e: std::io::Error| SoundError::Unreadable {
            path: path.display().to_string(),
            reason: e.to_string(),
        };
        let file = std::fs::File::open(path).map_err(unreadable)?;
        let size = file.metadata().map_err(unreadable)?.len();
        if size > MAX_FONT_BYTES {
            return Err(SoundError::TooLarge(size));
        }
        // What is no plain file has no size: it is read up to the limit and not beyond.
        let mut bytes = Vec::new();
        file.take(MAX_FONT_BYTES + 1).read_to_end(&mut bytes).map_err(unreadable)?;
        Font::read(&bytes)
    }

    /// The name that the font gives itself; may be empty.
    pub fn name(&self) -> &str {
        self.sounds.get_info().get_bank_name().trim()
    }

    pub(crate) fn sounds(&self) -> &Arc<SoundFont> {
        &self.sounds
    }

    pub(crate) fn chokes(&self) -> &Chokes {
        &self.chokes
    }
}

impl fmt::Debug for Font {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Font").field(&self.name()).finish()
    }
}
