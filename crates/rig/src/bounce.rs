//! Bounces: exports a song as a WAV file, and on request each track as a file of its own.
//!
//! In: a song, the part of it to bounce, and paths. Out: files, whole or not at all, and their
//! measurements. The notes come from `perform`, the sound from the sound crate's own `bounce`; this
//! joins the two piece by piece, so that the sound of a long song takes no more memory than that of
//! a short one.

mod files;
mod level;
mod score;

use crate::lay::find_track;
use crate::replace::{Guard, Replace, WriteError};
use crate::{Extent, sound};
use chaconne_song::{Song, Track};
use chaconne_sound::bounce::{Bits, Bounce, Loudness, MOST_WAV_BYTES, Score, Settings, Tail};
use chaconne_sound::{Decibels, Font};
use files::Files;
use level::Heard;
use score::Played;
use std::path::PathBuf;
use std::sync::Arc;

/// How to bounce a song.
#[derive(Debug, Clone, PartialEq)]
pub struct HowToBounce {
    /// Which part of the song.
    pub extent: Extent,
    /// Whether to make a seamless loop of a section: its tail sounds at its beginning.
    pub looped: bool,
    /// The tracks to bounce, by name or number, or several with commas between; empty for all. A
    /// name with commas takes precedence over the names between them.
    pub tracks: Vec<String>,
    /// Whether to add the click.
    pub click: bool,
    /// The level of the click in decibels relative to the tracks; `None` for the default.
    pub click_level: Option<f32>,
    /// The folder for one file per track.
    pub stems: Option<PathBuf>,
    /// Frames per second.
    pub rate: u32,
    /// The sample format.
    pub bits: Bits,
    /// How many seconds to add after the end; `None` to wait for silence, 10 s at most.
    pub tail: Option<f64>,
    /// The loudness to reach, in LUFS, measured after the limiter.
    pub loudness: Option<f64>,
    /// A font file instead of the default sounds.
    pub font: Option<PathBuf>,
    /// Whether to replace existing files.
    pub replace: Replace,
}

impl Default for HowToBounce {
    /// The whole form with all tracks in 16 bits at 44,100 frames per second, until it has rung out.
    fn default() -> HowToBounce {
        HowToBounce {
            extent: Extent::Form,
            looped: false,
            tracks: Vec::new(),
            click: false,
            click_level: None,
            stems: None,
            rate: 44_100,
            bits: Bits::Sixteen,
            tail: None,
            loudness: None,
            font: None,
            replace: Replace::No,
        }
    }
}

/// The progress of a bounce.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BounceProgress {
    /// Whether this rendering only measures, and another one follows.
    pub measures: bool,
    /// Seconds of music rendered so far.
    pub done: f64,
    /// The seconds of music to render, at most.
    pub of: f64,
}

/// What a bounce reports.
#[derive(Debug, Clone, PartialEq)]
pub enum BounceNews {
    /// The progress.
    Progress(BounceProgress),
    /// A remark in one sentence; those known before rendering come first.
    Remark(String),
}

/// Called with news. After progress, it returns whether the bounce goes on.
type Tell<'a> = &'a mut dyn FnMut(BounceNews) -> bool;

/// The result of a bounce.
#[derive(Debug, Clone, PartialEq)]
pub struct Bounced {
    /// The length in frames.
    pub frames: u64,
    /// Frames per second.
    pub rate: u32,
    /// The largest sample in dBFS; `None` for silence.
    pub peak: Option<f64>,
    /// The integrated loudness in LUFS; `None` if nothing is louder than -70 LUFS.
    pub loudness: Option<f64>,
    /// The most the limiter turned the mix down, in decibels.
    pub limited: f64,
    /// The files of the stems.
    pub stems: Vec<PathBuf>,
}

/// Renders `song` to the file `path`. Calls `tell` with each remark, and with the progress after
/// each piece of sound; if it then returns `false`, the bounce stops and the result is `None`.
///
/// # Errors
/// If a file is in the way, or something fails. Then, and when stopped, existing files stay as they
/// were.
pub fn bounce(
    song: &Song,
    path: &std::path::Path,
    how: &HowToBounce,
    tell: Tell,
) -> Result<Option<Bounced>, WriteError> {
    bounce_guarded(song, path, how, &mut Guard::default(), tell)
}

/// Like [`bounce`], for a user who can be asked: `guard` remembers which files that was about.
pub(crate) fn bounce_guarded(
    song: &Song,
    path: &std::path::Path,
    how: &HowToBounce,
    guard: &mut Guard,
    tell: Tell,
) -> Result<Option<Bounced>, WriteError> {
    let tracks = tracks(song, &how.tracks)?;
    let played = Played::new(song, how)?;
    let mut settings = settings(&played, how);
    fits(&settings, how.bits)?;
    let font = sound::read_font(how.font.as_deref())?;
    let mut files = Files::begin(path, how, song, &tracks, guard)?;
    let muted = tracks.iter().filter(|track| track.mute && !how.tracks.is_empty());
    let muted = muted.map(|track| format!("track '{}' is muted and will be silent", track.name));
    muted.for_each(|remark| _ = tell(BounceNews::Remark(remark)));
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
        if !tell(progress(&bounce, how.rate, false)) {
            return Ok(None);
        }
    }
    let limited = -20.0 * f64::from(bounce.lowest_gain()).log10();
    files.too_loud(how.bits).into_iter().for_each(|remark| _ = tell(BounceNews::Remark(remark)));
    let (peak, loudness) = (measured.peak_db(), measured.lufs());
    files.check(guard, how.replace)?;
    let (rate, stems) = (how.rate, files.finish()?);
    Ok(Some(Bounced { frames, rate, peak, loudness, limited, stems }))
}

/// The tracks to bounce, in the order of the song.
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

/// The track that these words (once separated by commas) begin with, and the number of words in its
/// name: as many as possible, so that a name with a comma is not split.
fn first_track(song: &Song, words: &[&str]) -> Result<(Arc<Track>, usize), String> {
    let commas = song.tracks.iter().map(|track| track.name.matches(',').count()).max();
    let most = words.len().min(commas.unwrap_or(0) + 1);
    let named = |count: usize| find_track(song, words[..count].join(",").trim());
    let found = (1..=most).rev().find_map(|count| Some((named(count)?, count)));
    found.ok_or_else(|| {
        let there: Vec<&str> = song.tracks.iter().map(|track| track.name.as_str()).collect();
        let there = match there.as_slice() {
            [] => "the song has no tracks".to_string(),
            there => format!("tracks: {}", there.join(", ")),
        };
        format!("there is no track '{}'; {there}", words[0].trim())
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

/// Refuses music that is too long for a WAV file.
fn fits(settings: &Settings, bits: Bits) -> Result<(), String> {
    let frames = settings.latest() - settings.from;
    if frames <= MOST_WAV_BYTES / bits.frame_bytes() {
        return Ok(());
    }
    let hours = |frames: u64| frames as f64 / f64::from(settings.rate) / 3600.0;
    Err(format!(
        "the bounce would last {:.1} hours, and a WAV file of this kind holds at most {:.1}",
        hours(frames),
        hours(MOST_WAV_BYTES / bits.frame_bytes())
    ))
}

/// Measures a rendering without writing it; `None` if stopped.
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
        if !tell(progress(&bounce, settings.rate, true)) {
            return Ok(None);
        }
    }
    Ok(Some(Heard { dry: dry.lufs(), peak: dry.peak_db(), mix: mix.lufs() }))
}

fn loudness(rate: u32) -> Result<Loudness, String> {
    Loudness::new(rate).map_err(|error| error.to_string())
}

fn progress(bounce: &Bounce, rate: u32, measures: bool) -> BounceNews {
    let (done, of) = bounce.progress();
    let seconds = |frames: u64| frames as f64 / f64::from(rate);
    BounceNews::Progress(BounceProgress { measures, done: seconds(done), of: seconds(of) })
}

#[cfg(test)]
mod tests;
