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

use crate::ExportError;
use crate::export::closed;
use chaconne_engine::{HeardNote, Route, heard_notes};
use chaconne_harmony::{
    Fit, Guess, PitchClass, Reach, Totals, best_fit, chart_text, compass_name, guesses, key_heard,
    note_name, outside, shift, song_key_heard, transposed_chord,
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
    let (mut text, mut reaches) = (String::new(), BTreeMap::new());
    for section in sections {
        one(song, section, &mut text, &mut reaches)?;
    }
    for track in &song.tracks {
        if let (Some(compass), Some(reaches)) = (track.compass, reaches.get(&track.id)) {
            let named = compass_name(compass, song_key_heard(song));
            text.extend(advice(&track.name, (compass, &named), reaches));
        }
    }
    Ok(text)
}

/// The sections in which a part goes beyond its compass, and the transposition that fits best; `None` if it
/// fits as it is.
fn advice(name: &str, (compass, named): (Compass, &str), reaches: &[Reach]) -> Option<String> {
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
    text: &mut String,
    reaches: &mut BTreeMap<TrackId, Vec<Reach>>,
) -> Result<(), ExportError> {
    let (by, key) = (shift(song, section), key_heard(song, section));
    let name = if section.name.is_empty() { String::new() } else { format!(" {}", section.name) };
    let (bars, told) =
        (section.metre.bars(), key.map_or("no key set".into(), |key| key.to_string()));
    let many = if bars == 1 { "" } else { "s" };
    let _ = writeln!(text, "section {}{name}, {bars} bar{many}, {told}", section.letter);
    let mut row = |label: &str, value: &str| _ = writeln!(text, "  {label:<LABEL$} {value}");
    let moved = |chord: &Chord| Chord { symbol: transposed_chord(chord.symbol, by, key), ..*chord };
    let chords: Vec<Chord> = section.chords.iter().map(moved).collect();
    let chart = chart_text(&chords, &section.metre);
    row("chords", if chart.is_empty() { "none" } else { &chart });
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
