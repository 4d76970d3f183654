//! A font: the samples and programs that the instrument plays.
//!
//! In: the bytes of a SoundFont 2 file from any source. Out: a [`Font`] that is safe to play, or one
//! sentence. `check.rs` checks what the player's reader trusts, before it reads; `load.rs` checks
//! what the player trusts, after it.

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

/// The largest font in bytes.
pub const MAX_FONT_BYTES: u64 = 1_000_000_000;

const STANDARD_BYTES: &[u8] = include_bytes!("../../../../assets/default.sf2");

/// The bank of drum kits (SoundFont 2.04, 7.2 `phdr`, "wBank": 128 is percussion).
const DRUM_BANK: i32 = 128;

/// A font that is ready to play; cheap to clone and to share between threads.
#[derive(Clone)]
pub struct Font {
    sounds: Arc<SoundFont>,
    /// Which drums the instrument cuts off itself; none unless this is the default font.
    chokes: Chokes,
}

impl Font {
    /// The default font: every General MIDI program and the percussion, created by `cargo xtask
    /// assets`. It is read once and then shared.
    #[expect(
        clippy::expect_used,
        reason = "its bytes are part of the program, and tests read them"
    )]
    pub fn standard() -> Font {
        static STANDARD: OnceLock<Font> = OnceLock::new();
        let read = || {
            let mut bytes = STANDARD_BYTES.to_vec();
            let chokes = Chokes::take(&mut bytes);
            let font = Font::read(&bytes).expect("the default font can be read");
            Font { chokes, ..font }
        };
        STANDARD.get_or_init(read).clone()
    }

    /// Reads a SoundFont 2 file from its bytes. This takes time and memory: do not call it on a
    /// real-time thread.
    ///
    /// # Errors
    /// [`SoundError::TooLarge`], and [`SoundError::Font`] for a file that is broken, points outside
    /// itself or has a note that could not start in time.
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
        // Something other than a plain file reports no size, so reading stops at the limit.
        let mut bytes = Vec::new();
        file.take(MAX_FONT_BYTES + 1).read_to_end(&mut bytes).map_err(unreadable)?;
        Font::read(&bytes)
    }

    /// The name stored in the font; can be empty.
    pub fn name(&self) -> &str {
        self.sounds.get_info().get_bank_name().trim()
    }

    /// The drum kits, in order of program, each once: the program that selects the kit on a drum
    /// channel, and its name, which may be empty.
    pub fn kits(&self) -> Vec<(u8, String)> {
        let presets = self.sounds.get_presets().iter();
        let drums = presets.filter(|preset| preset.get_bank_number() == DRUM_BANK);
        let mut kits: Vec<(u8, String)> = drums
            .filter_map(|preset| {
                let program = u8::try_from(preset.get_patch_number()).ok()?;
                (program < 128).then(|| (program, preset.get_name().trim().to_string()))
            })
            .collect();
        kits.sort();
        kits.dedup_by_key(|(program, _)| *program);
        kits
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
