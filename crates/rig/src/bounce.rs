//! Bounces: a song as a WAV file, and as one for each track.
//!
//! In: a song, what of it is wanted, and where to. Out: files, whole or not at all, and what they
//! measure. What is played comes from `perform`, what it sounds like from the sound's own
//! `bounce`; here they are joined, a piece at a time, so that a long song takes no more memory for
//! its sound than a short one.

mod files;
mod level;
mod score;

use crate::lay::find_track;
use crate::replace::{Replace, WriteError};
use crate::{Extent, sound};
use chaconne_song::{Song, Track};
use chaconne_sound::bounce::{Bits, Bounce, Loudness, MOST_WAV_BYTES, Score, Settings, Tail};
use chaconne_sound::{Decibels, Font};
use files::Files;
use level::Heard;
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
    /// The tracks that are heard, by name or number, or several of them with commas between; all
    /// where there is none. A name that has commas itself comes before the names between them.
    pub tracks: Vec<String>,
    /// Whether the click is heard, too.
    pub click: bool,
    /// Its level in decibels under that of the parts; the usual one where there is none.
    pub click_level: Option<f32>,
    /// The folder for a file of each track.
    pub stems: Option<PathBuf>,
    /// Frames a second.
    pub rate: u32,
    /// The form of the samples.
    pub bits: Bits,
    /// How many seconds follow the end; without it, until it is silent, and at most 10.
    pub tail: Option<f64>,
    /// The loudness it is brought to, in LUFS, limiter and all.
    pub loudness: Option<f64>,
    /// A font of the player's own.
    pub font: Option<PathBuf>,
    /// Whether files that exist are replaced.
    pub replace: Replace,
}

/// How far a bounce has come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BounceProgress {
    /// Whether it only measures as yet, and is to be rendered again.
    pub measures: bool,
    /// Seconds of music that are rendered.
    pub done: f64,
    /// Of how many at the most.
    pub of: f64,
}

/// What is told while a bounce is made.
#[derive(Debug, Clone, PartialEq)]
pub enum BounceNews {
    /// How far it has come.
    Progress(BounceProgress),
    /// What should be known besides: a sentence. Whatever is known before anything is rendered is
    /// told before it.
    Remark(String),
}

/// Told what is new; says whether the bounce goes on.
type Tell<'a> = &'a mut dyn FnMut(BounceNews) -> bool;

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
}

/// Writes what `song` sounds like to `path`. `tell` is told what is new after each piece and before
/// the first, and says whether it goes on; where it does not, the result is `None`.
///
/// # Errors
/// What is in the way, or what went wrong. Then, and where it is stopped, files that were there are
/// as they were.
pub fn bounce(
    song: &Song,
    path: &std::path::Path,
    how: &HowToBounce,
    tell: Tell,
) -> Result<Option<Bounced>, WriteError> {
    let tracks = tracks(song, &how.tracks)?;
    let played = Played::new(song, how)?;
    let mut settings = settings(&played, how);
    fits(&settings, how.bits)?;
    let mut files = Files::begin(path, how, song, &tracks)?;
    let muted = tracks.iter().filter(|track| track.mute && !how.tracks.is_empty());
    let muted = muted.map(|track| format!("track '{}' is muted, so it is silent", track.name));
    let (font, notice) = sound::font(how.font.as_deref());
    muted.chain(notice).for_each(|remark| _ = tell(BounceNews::Remark(remark)));
    let score = played.score(song, &tracks, how.click);
    drop(played);
    if let Some(wanted) = how.loudness {
        let mut hear = |gain| hear(&font, &score, Settings { gain, ..settings }, tell);
        let Some(level) = level::find(wanted, &mut hear)? else { return Ok(None) };
        settings.gain = level.gain;
        level.remark.into_iter().for_each(|remark| _ = tell(BounceNews::Remark(remark)));
    }
    let (mut measured, mut frames) = (loudness(how.rate)?, 0);
    let mut bounce = Bounce::new(&font, &score, settings).map_err(|error| error.to_string())?;
    while bounce.step() {
        measured.take(bounce.mix());
        frames += bounce.mix().len() as u64;
        files.write(&bounce)?;
        if !tell(told(&bounce, how.rate, false)) {
            return Ok(None);
        }
    }
    let limited = -20.0 * f64::from(bounce.lowest_gain()).log10();
    files.too_loud(how.bits).into_iter().for_each(|remark| _ = tell(BounceNews::Remark(remark)));
    let (peak, loudness) = (measured.peak_db(), measured.lufs());
    let (rate, stems) = (how.rate, files.finish()?);
    Ok(Some(Bounced { frames, rate, peak, loudness, limited, stems }))
}

/// The tracks that are wanted, in the order of the song.
fn tracks(song: &Song, names: &[String]) -> Result<Vec<Arc<Track>>, String> {
    let mut wanted = Vec::new();
    for names in names {
        let words: Vec<&str> = names.split(',').collect();
        let mut rest = &words[..];
        while !rest.is_empty() {
            let (track, count) = first_track(song, rest)?;
            wanted.push(track.id);
            rest = &rest[count..];
        }
    }
    let tracks = song.tracks.iter().filter(|track| names.is_empty() || wanted.contains(&track.id));
    Ok(tracks.cloned().collect())
}

/// The track that the first of these words name, which had commas between them, and how many they
/// are: as many as can be, so that a name with a comma in it is not taken for two.
fn first_track(song: &Song, words: &[&str]) -> Result<(Arc<Track>, usize), String> {
    let commas = song.tracks.iter().map(|track| track.name.matches(',').count()).max();
    let most = words.len().min(commas.unwrap_or(0) + 1);
    let named = |count: usize| find_track(song, words[..count].join(",").trim());
    let found = (1..=most).rev().find_map(|count| Some((named(count)?, count)));
    found.ok_or_else(|| {
        let there: Vec<&str> = song.tracks.iter().map(|track| track.name.as_str()).collect();
        format!("there is no track '{}'; there is {}", words[0].trim(), there.join(", "))
    })
}

fn settings(played: &Played, how: &HowToBounce) -> Settings {
    let tail = match how.tail {
        _ if how.looped => Tail::Loop,
        Some(seconds) => Tail::Frames((seconds.max(0.0) * f64::from(how.rate)).round() as u64),
        None => Tail::Silence,
    };
    let click = how.click_level.map_or(Decibels::CLICK, Decibels::new);
    Settings { rate: how.rate, from: played.from, to: played.to, tail, gain: 1.0, click }
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

/// Renders it and keeps nothing but what it measures; `None` where it is stopped.
fn hear(
    font: &Font,
    score: &Score,
    settings: Settings,
    tell: Tell,
) -> Result<Option<Heard>, String> {
    let (mut dry, mut mix) = (loudness(settings.rate)?, loudness(settings.rate)?);
    let mut bounce = Bounce::new(font, score, settings).map_err(|error| error.to_string())?;
    while bounce.step() {
        dry.take(bounce.dry());
        mix.take(bounce.mix());
        if !tell(told(&bounce, settings.rate, true)) {
            return Ok(None);
        }
    }
    Ok(Some(Heard { dry: dry.lufs(), peak: dry.peak_db(), mix: mix.lufs() }))
}

fn loudness(rate: u32) -> Result<Loudness, String> {
    Loudness::new(rate).map_err(|error| error.to_string())
}

fn told(bounce: &Bounce, rate: u32, measures: bool) -> BounceNews {
    let (done, of) = bounce.progress();
    let seconds = |frames: u64| frames as f64 / f64::from(rate);
    BounceNews::Progress(BounceProgress { measures, done: seconds(done), of: seconds(of) })
}

#[cfg(test)]
mod tests;
