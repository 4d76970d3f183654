//! The built-in instrument as two outputs: one for the tracks, one for the click, which has its own
//! sound and level.
//!
//! In: a font, if the user chose one. Out: the two outputs, the device behind them, and notices. A
//! missing or lost device is searched for on a thread of its own, since that can take a while.

mod device;
mod wires;

pub(crate) use device::Device;

use chaconne_ports::{Link, Output};
use chaconne_sound::{Font, SoundError, SoundLine};
use std::path::Path;

/// Makes the scheduler's end of a wire to a device.
type MakeLink = fn(SoundLine) -> Box<dyn Link>;

/// The instrument and its device.
pub(crate) struct Sound {
    pub device: Device,
    pub parts: Output,
    pub click: Output,
    /// The drum kits of its font: programs and names.
    pub kits: Vec<(u8, String)>,
    /// What went wrong, one sentence each.
    pub notices: Vec<String>,
}

/// Opens the device, with a font file or the default sounds.
///
/// # Errors
/// If no thread can be started.
pub(crate) fn open(name: &str, font: Option<&Path>) -> Result<Sound, String> {
    let (font, notice) = self::font(font);
    let mut notices = Vec::from_iter(notice);
    let kits = font.kits();
    let no_thread = |error| format!("no thread could be started for the sound: {error}");
    let (device, opened) = Device::start(font).map_err(no_thread)?;
    let [parts, click] = opened.map(|lines| lines.map(Some)).unwrap_or_else(|error| {
        notices.push(format!("{error}; playing silently until one appears"));
        [None, None]
    });
    let parts = Output::linked(name, parts.map(wires::parts), Some(device.keeper(0, wires::parts)));
    let click =
        Output::linked("click", click.map(wires::click), Some(device.keeper(1, wires::click)));
    Ok(Sound { device, parts, click, kits, notices })
}

/// The font in a file, or the default sounds if there is no path.
///
/// # Errors
/// Why the file cannot be used, in one sentence that names it.
pub(crate) fn read_font(path: Option<&Path>) -> Result<Font, String> {
    let Some(path) = path else { return Ok(Font::standard()) };
    Font::open(path).map_err(|error| match error {
        SoundError::Unreadable { .. } => error.to_string(),
        other => format!("{}: {other}", path.display()),
    })
}

/// The same to play with at once: the default sounds if the file cannot be used, and a sentence that
/// says why.
pub(crate) fn font(path: Option<&Path>) -> (Font, Option<String>) {
    let or_default =
        |error| (Font::standard(), Some(format!("{error}; the default sounds are used instead")));
    read_font(path).map_or_else(or_default, |font| (font, None))
}
