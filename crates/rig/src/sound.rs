//! The built-in instrument as two outputs: one for the parts, one for the click, which has a sound
//! and a level of its own.
//!
//! In: a font, where one was asked for. Out: open outputs and the device behind them, or a sentence
//! about why there is no sound.

use chaconne_clock::{Output, Sent, Wire, now, quietly};
use chaconne_engine::ClickSound;
use chaconne_sound::{Font, Line, Live, SoundError};
use chaconne_time::Ns;
use std::path::Path;
use std::time::Duration;

/// What a note may need to ring out when the program ends: 300 ms.
const RINGS_OUT: Duration = Duration::from_millis(300);
/// Real-time messages mean nothing to an instrument.
const REAL_TIME: u8 = 0xF8;

/// The instrument on a device.
pub(crate) struct Sound {
    pub live: Live,
    pub parts: Output,
    pub click: Output,
    /// What was wrong with the font that was asked for.
    pub notice: Option<String>,
}

/// Opens the device, with the font of a file or with the program's own.
pub(crate) fn open(name: &str, font: Option<&Path>) -> Result<Sound, String> {
    let (font, notice) = self::font(font);
    let (live, [parts, click]) =
        quietly(|| Live::open(&font, now)).map_err(|error| error.to_string())?;
    let parts = Output::wired(name, Box::new(Parts(parts)));
    let click = Output::wired("click", Box::new(Clicks(click)));
    Ok(Sound { live, parts, click, notice })
}

/// The font of a file, or the one that comes along: where none is asked for, and where the file
/// cannot be played, which is then told in a sentence.
pub(crate) fn font(path: Option<&Path>) -> (Font, Option<String>) {
    let Some(path) = path else { return (Font::standard(), None) };
    let error = match Font::open(path) {
        Ok(font) => return (font, None),
        Err(error @ SoundError::Unreadable { .. }) => error.to_string(),
        Err(error) => format!("{}: {error}", path.display()),
    };
    (Font::standard(), Some(format!("{error}; the default sounds are used instead")))
}

/// The parts: MIDI messages as they are.
#[derive(Debug)]
struct Parts(Line);

/// The click: its two keys become strikes.
#[derive(Debug)]
struct Clicks(Line);

fn sent(done: bool) -> Sent {
    if done { Sent::Done } else { Sent::Full }
}

impl Wire for Parts {
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        let is_for_it = bytes.first().is_some_and(|&status| status < REAL_TIME);
        sent(!is_for_it || self.0.send(due, bytes))
    }

    fn ahead(&self) -> Ns {
        self.0.ahead()
    }

    fn is_drained(&self) -> bool {
        self.0.is_drained()
    }

    fn drain(&self) -> Duration {
        RINGS_OUT
    }
}

impl Wire for Clicks {
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        match *bytes {
            [status, key, velocity] if status & 0xF0 == 0x90 && velocity > 0 => {
                let is_accent = key == ClickSound::default().accent.get();
                sent(self.0.strike(due, is_accent))
            }
            _ => Sent::Done,
        }
    }

    fn ahead(&self) -> Ns {
        self.0.ahead()
    }

    fn is_drained(&self) -> bool {
        self.0.is_drained()
    }

    fn drain(&self) -> Duration {
        RINGS_OUT
    }
}
