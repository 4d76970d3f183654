//! The list of a song's sections.
//!
//! ```text
//! section A Verse: 4 bars of 4/4, tempo 104, lasts 0:09.231
//!   key           A minor
//!   fermatas      4.4
//!   Drums         1 layer, also in B
//!   Bass          2 layers; 1 also in B; 2 muted
//! ```

use super::{clock, whole};
use crate::say;
use chaconne_engine::Route;
use chaconne_harmony::{shift, sounds_words};
use chaconne_song::{Layer, Section, SharedPass, Song, Track, fermatas_text};
use std::fmt::Write;

/// The widest label; longer names of tracks stand out.
const LABEL: usize = 13;

/// The sections of a song, in their order.
pub fn listed(song: &Song) -> String {
    song.sections.iter().map(|section| of(song, section)).collect()
}

fn of(song: &Song, section: &Section) -> String {
    let name = if section.name.is_empty() { String::new() } else { format!(" {}", section.name) };
    let lasts = Route::rounds(song, section.letter, 1).map_or(0, |route| route.duration(song));
    let (letter, facts) = (section.letter, whole::facts(section));
    let mut text = format!("section {letter}{name}: {facts}, lasts {}\n", clock(lasts));
    let mut row = |label: &str, value: &str| _ = writeln!(text, "  {label:<LABEL$} {value}");
    row("key", &key(song, section));
    let fermatas = fermatas_text(section);
    if !fermatas.is_empty() {
        row("fermatas", &fermatas);
    }
    for track in &song.tracks {
        if let Some(layers) = layers(song, section, track) {
            row(&track.name, &layers);
        }
    }
    text
}

/// The written key, and how it sounds if that is not as written.
fn key(song: &Song, section: &Section) -> String {
    let written = section.key.or(song.key);
    let key = written.map_or("none".to_string(), |key| key.to_string());
    match shift(song, section) {
        0 => key,
        by => format!("{key}, sounds {}", sounds_words(written, by)),
    }
}

/// The layers of a track in a section; `None` if it has none. What holds for all of them is said once.
fn layers(song: &Song, section: &Section, track: &Track) -> Option<String> {
    let fact = |(layer, pass): (&Layer, &SharedPass)| fact(song, section, layer, pass);
    let facts: Vec<String> = song.layers_of(section, track.id).map(fact).collect();
    let first = facts.first()?;
    let count = say::counted(facts.len() as u64, "layer", "layers");
    if facts.iter().all(|fact| fact == first) {
        return Some(if first.is_empty() { count } else { format!("{count}, {first}") });
    }
    let numbered = (1..).zip(&facts).filter(|(_, fact)| !fact.is_empty());
    let each = numbered.map(|(number, fact): (u32, _)| format!("; {number} {fact}"));
    Some(std::iter::once(count).chain(each).collect())
}

/// Which sections share a layer, and whether it is muted.
fn fact(song: &Song, section: &Section, layer: &Layer, pass: &SharedPass) -> String {
    let others = song.sections_with(pass.id).filter(|other| other.letter != section.letter);
    let others: Vec<String> = others.map(|other| other.letter.to_string()).collect();
    let also = (!others.is_empty()).then(|| format!("also in {}", others.join(", ")));
    let muted = layer.mute.then(|| "muted".to_string());
    also.into_iter().chain(muted).collect::<Vec<_>>().join(", ")
}
