//! Bounces: a song as a WAV file, and as one for each track.
//!
//! In: a song, what of it is wanted, and where to. Out: files, whole or not at all, and what they
//! measure. What is played comes from `perform`, what it sounds like from the sound's own
//! `bounce`; here they are joined, a piece at a time, so that a long song takes no more memory for
//! its sound than a short one.

mod files;
mod score;

use crate::Extent;
use crate::lay::find_track;
use chaconne_song::{Song, Track};
use chaconne_sound::Font;
use chaconne_sound::bounce::{Bits, Bounce, Loudness, MOST_WAV_BYTES, Score, Settings, Tail};
use files::Files;
use score::Played;
use std::path::PathBuf;
use std::sync::Arc;

/// How a song is bounced.
#[derive(Debug, Clone, PartialEq)]
pub struct HowToBounce {
    /// What of the song.
    pub extent: Extent,
    /// Whether a section is made to go round without a gap: its tail sounds at its beginning.
    pub looped: bool,
    /// The tracks that are heard, by name or number; all where there is none.
    pub tracks: Vec<String>,
    /// The folder for a file of each track.
    pub stems: Option<PathBuf>,
    /// Frames a second.
    pub rate: u32,
    /// The form of the samples.
    pub bits: Bits,
    /// How many seconds follow the end; without it, until it is silent, and at most 10.
    pub tail: Option<f64>,
    /// The loudness it is brought to, in LUFS.
    pub loudness: Option<f64>,
    /// A font of the player's own.
    pub font: Option<PathBuf>,
}

/// How far a bounce has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BounceProgress {
    /// Whether it only measures as yet, and is to be rendered once more.
    pub measures: bool,
    /// Seconds of music that are rendered.
    pub done: f64,
    /// Of how many at the most.
    pub of: f64,
}

/// What a bounce has come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounced {
    /// How long it is, in frames.
    pub frames: u64,
    /// Frames a second.
    pub rate: u32,
    /// Its largest sample in dBFS; `None` where it is silent.
    pub peak: Option<f64>,
    /// Its integrated loudness in LUFS; `None` where nothing is louder than -70 LUFS.
    pub loudness: Option<f64>,
    /// How far the limiter turned it down at most, in decibels.
    pub limited: f64,
    /// The files of the tracks.
    pub stems: Vec<PathBuf>,
    /// What should be known besides, a sentence each.
    pub remarks: Vec<String>,
}

/// Writes what `song` sounds like to `path`. `progress` is told after each piece, and says whether
/// it goes on; where it does not, the result is `None`.
///
/// # Errors
/// One sentence. Then, and where it is stopped, files that were there are as they were.
pub fn bounce(
    song: &Song,
    path: &std::path::Path,
    how: &HowToBounce,
    progress: &mut dyn FnMut(BounceProgress) -> bool,
) -> Result<Option<Bounced>, String> {
    let mut remarks = Vec::new();
    let tracks = tracks(song, &how.tracks)?;
    let muted = tracks.iter().filter(|track| track.mute && !how.tracks.is_empty());
    remarks.extend(muted.map(|track| format!("track '{}' is muted, so it is silent", track.name)));
    let played = Played::new(song, how)?;
    let mut settings = settings(&played, how);
    fits(&settings, how.bits)?;
    let font = font(how, &mut remarks);
    let mut files = Files::begin(path, how, song, &tracks)?;
    let score = played.score(song, &tracks);
    drop(played);
    if let Some(wanted) = how.loudness {
        match measure(&font, &score, settings, progress)? {
            Measured::Stopped => return Ok(None),
            Measured::Lufs(lufs) => settings.gain = 10f64.powf((wanted - lufs) / 20.0) as f32,
            Measured::Silent => {
                remarks.push("it is silent, so there is no loudness to change".into())
            }
        }
    }
    let (mut measured, mut frames) = (loudness(how.rate)?, 0);
    let mut bounce = Bounce::new(&font, &score, settings).map_err(|error| error.to_string())?;
    while bounce.step() {
        measured.take(bounce.mix());
        frames += bounce.mix().len() as u64;
        files.write(&bounce)?;
        if !progress(told(&bounce, how.rate, false)) {
            return Ok(None);
        }
    }
    let limited = -20.0 * f64::from(bounce.lowest_gain()).log10();
    remarks.extend(files.too_loud(how.bits));
    let (peak, loudness) = (measured.peak_db(), measured.lufs());
    let (rate, stems) = (how.rate, files.finish()?);
    Ok(Some(Bounced { frames, rate, peak, loudness, limited, stems, remarks }))
}

/// The tracks that are wanted, in the order of the song.
fn tracks(song: &Song, names: &[String]) -> Result<Vec<Arc<Track>>, String> {
    let mut wanted = Vec::new();
    for name in names {
        let track = find_track(song, name.trim()).ok_or_else(|| {
            let there: Vec<&str> = song.tracks.iter().map(|track| track.name.as_str()).collect();
            format!("there is no track '{}'; there is {}", name.trim(), there.join(", "))
        })?;
        wanted.push(track.id);
    }
    let tracks = song.tracks.iter().filter(|track| names.is_empty() || wanted.contains(&track.id));
    Ok(tracks.cloned().collect())
}

fn settings(played: &Played, how: &HowToBounce) -> Settings {
    let tail = match how.tail {
        _ if how.looped => Tail::Loop,
        Some(seconds) => Tail::Frames((seconds.max(0.0) * f64::from(how.rate)).round() as u64),
        None => Tail::Silence,
    };
    Settings { rate: how.rate, from: played.from, to: played.to, tail, gain: 1.0 }
}

/// Refuses what no WAV file can hold.
fn fits(settings: &Settings, bits: Bits) -> Result<(), String> {
    let frames = settings.latest() - settings.from;
    if frames <= MOST_WAV_BYTES / bits.frame_bytes() {
        return Ok(());
    }
    let hours = |frames: u64| frames as f64 / f64::from(settings.rate) / 3600.0;
    Err(format!(
        "it would last {:.1} hours, and a WAV file of this kind holds at most {:.1}",
        hours(frames),
        hours(MOST_WAV_BYTES / bits.frame_bytes())
    ))
}

/// The font that is wanted; the one that comes along where it cannot be played.
fn font(how: &HowToBounce, remarks: &mut Vec<String>) -> Font {
    let Some(path) = &how.font else { return Font::standard() };
    Font::open(path).unwrap_or_else(|error| {
        let shown = path.display();
        remarks.push(format!("{shown}: {error}; the default sounds are used instead"));
        Font::standard()
    })
}

/// What measuring comes to.
enum Measured {
    Lufs(f64),
    Silent,
    Stopped,
}

/// The loudness before the limiter.
fn measure(
    font: &Font,
    score: &Score,
    settings: Settings,
    progress: &mut dyn FnMut(BounceProgress) -> bool,
) -> Result<Measured, String> {
    let mut measured = loudness(settings.rate)?;
    let mut bounce = Bounce::new(font, score, settings).map_err(|error| error.to_string())?;
    while bounce.step() {
        measured.take(bounce.dry());
        if !progress(told(&bounce, settings.rate, true)) {
            return Ok(Measured::Stopped);
        }
    }
    Ok(measured.lufs().map_or(Measured::Silent, Measured::Lufs))
}

fn loudness(rate: u32) -> Result<Loudness, String> {
    Loudness::new(rate).map_err(|error| error.to_string())
}

fn told(bounce: &Bounce, rate: u32, measures: bool) -> BounceProgress {
    let (done, of) = bounce.progress();
    let seconds = |frames: u64| frames as f64 / f64::from(rate);
    BounceProgress { measures, done: seconds(done), of: seconds(of) }
}

#[cfg(test)]
mod tests;
