//! The outline of a song: for each section its chords, the keys that its notes suggest, how low and how
//! high each part goes, and where that is beyond what its singer or player reaches. All as it sounds, with the transpositions of song and section.
//!
//! ```text
//! section A, 4 bars, A minor
//!   chords        Am | F | C | G
//!   notes suggest A minor (0.93), C major (0.81)
//!   Bass          E1 to A2
//!   Melody        D4 to F5, beyond A3 to E5 by 1 above
//! Melody goes beyond A3 to E5 in A: transposed by -1 it fits
//! ```
//!
//! The outline of its keys has the written keys and the transpositions in place of the chords.

use crate::ExportError;
use crate::export::closed;
use chaconne_engine::{HeardNote, Route, heard_notes};
use chaconne_harmony::{
    Fit, Guess, PitchClass, Reach, Totals, best_fit, chart_text, compass_name, guesses, key_heard,
    note_name, outside, shift, song_key_heard, sounds_words, transposed_chord,
};
use chaconne_song::{Chord, Compass, KeySignature, Section, Song, TrackId, U7};
use std::collections::BTreeMap;
use std::fmt::Write;

/// How many likely keys are listed.
const KEYS: usize = 3;
/// The widest label; longer names of tracks stand out.
const LABEL: usize = 13;

/// The lowest and the highest note of each track that has notes.
type Ranges = BTreeMap<TrackId, (U7, U7)>;

/// What is said of each section besides its likely keys and its ranges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Besides {
    Chords,
    WrittenKeys,
}

/// Outlines sections of a song, in their order. The notes are those that are heard until the longest pass has
/// played to its end, without drums; without notes no key is suggested, and a part that plays nothing is left
/// out.
///
/// # Errors
/// [`ExportError::Open`] for a section without an end; there is none in a valid song.
pub fn outline<'s>(
    song: &Song,
    sections: impl IntoIterator<Item = &'s Section>,
) -> Result<String, ExportError> {
    let (mut text, reaches) = each(song, sections, Besides::Chords)?;
    text.extend(advice(song, &reaches));
    Ok(text)
}

/// Outlines the keys of a song and of sections: written, transposed and as they sound, the likely ones, and how
/// far each part reaches.
///
/// # Errors
/// As [`outline`].
pub fn key_outline<'s>(
    song: &Song,
    sections: impl IntoIterator<Item = &'s Section>,
) -> Result<String, ExportError> {
    let by = song.transpose.semitones();
    let key = song.key.map_or("no key set".to_string(), |key| format!("written in {key}"));
    let sounds = sounds_words(song.key, by.into());
    let (of_each, reaches) = each(song, sections, Besides::WrittenKeys)?;
    let mut text = format!("{key}{}, sounds {sounds}\n{of_each}", transposed(by));
    text.extend(advice(song, &reaches));
    Ok(text)
}

/// For each part of a song that goes beyond its compass a line: in which sections, and which transposition fits
/// best.
///
/// # Errors
/// As [`outline`].
pub fn compass_advice(song: &Song) -> Result<Vec<String>, ExportError> {
    let sections = song.sections.iter().map(|section| &**section);
    let (_, reaches) = each(song, sections, Besides::WrittenKeys)?;
    Ok(advice(song, &reaches).map(|line| line.trim_end().to_string()).collect())
}

/// The notes that each track reaches in each section.
type Reaches = BTreeMap<TrackId, Vec<Reach>>;

fn each<'s>(
    song: &Song,
    sections: impl IntoIterator<Item = &'s Section>,
    besides: Besides,
) -> Result<(String, Reaches), ExportError> {
    let (mut text, mut reaches) = (String::new(), Reaches::new());
    for section in sections {
        one(song, section, besides, &mut text, &mut reaches)?;
    }
    Ok((text, reaches))
}

fn transposed(by: i8) -> String {
    if by == 0 { String::new() } else { format!(", transposed by {by}") }
}

fn advice(song: &Song, reaches: &Reaches) -> impl Iterator<Item = String> {
    song.tracks.iter().filter_map(|track| {
        let (compass, reaches) = (track.compass?, reaches.get(&track.id)?);
        let named = compass_name(compass, song_key_heard(song));
        advice_on(&track.name, (compass, &named), reaches)
    })
}

/// The sections in which a part goes beyond its compass, and the transposition that fits best; `None` if it
/// fits as it is.
fn advice_on(name: &str, (compass, named): (Compass, &str), reaches: &[Reach]) -> Option<String> {
    let letters: Vec<String> =
        outside(reaches, compass).iter().map(|(letter, ..)| letter.to_string()).collect();
    if letters.is_empty() {
        return None;
    }
    let Fit { by, outside } = best_fit(reaches, compass);
    let best = match (by.semitones(), outside) {
        (0, _) => "no transposition fits better".to_string(),
        (by, 0) => format!("transposed by {by} it fits"),
        (by, 1) => format!("transposed by {by} it is 1 semitone beyond"),
        (by, outside) => format!("transposed by {by} it is {outside} semitones beyond"),
    };
    Some(format!("{name} goes beyond {named} in {}: {best}\n", letters.join(", ")))
}

/// How far a part is beyond its compass in a section, for the end of its line.
fn beyond(compass: Compass, reach: Reach, key: Option<KeySignature>) -> String {
    let told = |count: u8, way: &str| (count > 0).then(|| format!("{count} {way}"));
    match outside(&[reach], compass).first() {
        Some(&(_, below, above)) => {
            let ways: Vec<String> =
                [told(below, "below"), told(above, "above")].into_iter().flatten().collect();
            format!(", beyond {} by {}", compass_name(compass, key), ways.join(" and "))
        }
        None => String::new(),
    }
}

fn one(
    song: &Song,
    section: &Section,
    besides: Besides,
    text: &mut String,
    reaches: &mut Reaches,
) -> Result<(), ExportError> {
    let key = key_heard(song, section);
    let name = if section.name.is_empty() { String::new() } else { format!(" {}", section.name) };
    let (bars, told) =
        (section.metre.bars(), key.map_or("no key set".into(), |key| key.to_string()));
    let many = if bars == 1 { "" } else { "s" };
    let _ = writeln!(text, "section {}{name}, {bars} bar{many}, {told}", section.letter);
    let mut row = |label: &str, value: &str| _ = writeln!(text, "  {label:<LABEL$} {value}");
    match besides {
        Besides::Chords => row("chords", &chart(song, section)),
        Besides::WrittenKeys => written(section).iter().for_each(|words| row("written", words)),
    }
    let (totals, ranges) = notes(song, section)?;
    let likely = guesses(&totals);
    let spell = |guess: &Guess| format!("{} ({:.2})", guess.key, guess.correlation);
    let keys: Vec<String> = likely.iter().take(KEYS).map(spell).collect();
    row("notes suggest", &if keys.is_empty() { "no key".into() } else { keys.join(", ") });
    let shown: Option<KeySignature> = key.or(likely.first().map(|guess| guess.key));
    for track in &song.tracks {
        if let Some((low, high)) = ranges.get(&track.id) {
            let reach = Reach { section: section.letter, low: *low, high: *high };
            reaches.entry(track.id).or_default().push(reach);
            let [low, high] = [low, high].map(|&key| note_name(key, shown));
            let range = if low == high { low } else { format!("{low} to {high}") };
            let beyond =
                track.compass.map_or(String::new(), |compass| beyond(compass, reach, shown));
            row(&track.name, &format!("{range}{beyond}"));
        }
    }
    Ok(())
}

/// The chords of a section as they sound.
fn chart(song: &Song, section: &Section) -> String {
    let (by, key) = (shift(song, section), key_heard(song, section));
    let moved = |chord: &Chord| Chord { symbol: transposed_chord(chord.symbol, by, key), ..*chord };
    let chords: Vec<Chord> = section.chords.iter().map(moved).collect();
    let chart = chart_text(&chords, &section.metre);
    if chart.is_empty() { "none".to_string() } else { chart }
}

/// A section's own key and transposition, if it has either.
fn written(section: &Section) -> Option<String> {
    let by = section.transpose.semitones();
    let key = section.key.map_or("the song's key".to_string(), |key| key.to_string());
    (section.key.is_some() || by != 0).then(|| format!("{key}{}", transposed(by)))
}

/// How long each pitch class sounds in a section, and the lowest and the highest note of each track.
fn notes(song: &Song, section: &Section) -> Result<(Totals, Ranges), ExportError> {
    let (mut totals, mut ranges) = (Totals::default(), Ranges::new());
    // A section without an end has no whole to be heard.
    if let Some(route) = Route::whole(song, section.letter) {
        closed(&route)?;
    }
    for HeardNote { track, key, length } in heard_notes(song, section.letter) {
        totals.add(PitchClass::of(key), u64::try_from(length.0).unwrap_or_default());
        let range = ranges.entry(track).or_insert((key, key));
        *range = (range.0.min(key), range.1.max(key));
    }
    Ok((totals, ranges))
}

#[cfg(test)]
mod tests;
