//! The outline of a song: for each section its chords, the keys that its notes suggest, and how low and how
//! high each part goes. All as it sounds, with the transpositions of song and section.
//!
//! ```text
//! section A, 4 bars, A minor
//!   chords        Am | F | C | G
//!   notes suggest A minor (0.93), C major (0.81)
//!   Bass          E1 to A2
//! ```

use crate::ExportError;
use crate::export::closed;
use crate::pairs::pairs;
use chaconne_engine::{Message, Route, View, Wire, perform};
use chaconne_harmony::{
    Guess, PitchClass, Totals, chart_text, guesses, note_name, transposed_chord, transposed_key,
};
use chaconne_song::{Chord, KeySignature, Section, Song, TrackId, U7};
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
    let mut text = String::new();
    for section in sections {
        one(song, section, &mut text)?;
    }
    Ok(text)
}

fn one(song: &Song, section: &Section, text: &mut String) -> Result<(), ExportError> {
    let by = i32::from(song.transpose.semitones()) + i32::from(section.transpose.semitones());
    let key = section.key.or(song.key).map(|key| transposed_key(key, by));
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
            let [low, high] = [low, high].map(|&key| note_name(key, shown));
            row(&track.name, &if low == high { low } else { format!("{low} to {high}") });
        }
    }
    Ok(())
}

/// How long each pitch class sounds in a section, and the lowest and the highest note of each track.
fn notes(song: &Song, section: &Section) -> Result<(Totals, Ranges), ExportError> {
    let (mut totals, mut ranges) = (Totals::default(), Ranges::new());
    let Some(route) = Route::whole(song, section.letter) else { return Ok((totals, ranges)) };
    let events = perform(song, &route, closed(&route)?, View::Corrected).events;
    let others = pairs(&events);
    for (event, other) in events.iter().zip(&others) {
        let Wire::Message(Message::NoteOn { key, .. }) = event.wire else { continue };
        let track = song.track(event.track).filter(|track| track.pitched);
        let (Some(track), Some(off)) = (track, *other) else { continue };
        let length = u64::try_from((events[off].at - event.at).0).unwrap_or_default();
        totals.add(PitchClass::of(key), length);
        let range = ranges.entry(track.id).or_insert((key, key));
        *range = (range.0.min(key), range.1.max(key));
    }
    Ok((totals, ranges))
}

#[cfg(test)]
mod tests;
