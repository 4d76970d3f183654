//! The chords of a section as they sound: with the transpositions of song and section, as everything else
//! on the screen is heard.

use crate::keys_play::as_on_keys;
use chaconne_engine::{Message, Route, View, Wire, perform};
use chaconne_harmony::{recognised, transposed_chord};
use chaconne_song::{Chord, KeySignature, Section, Song, TrackId, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;
use std::sync::Arc;

pub use chaconne_harmony::{key_heard, shift, sounds_words};

/// The chords of a section as they sound.
pub fn sounding(song: &Song, section: &Section) -> Vec<Chord> {
    moved(&section.chords, shift(song, section), key_heard(song, section))
}

/// Chords that sound, as the section has them before its transposition.
pub fn written(song: &Song, section: &Section, sounding: &[Chord]) -> Vec<Chord> {
    moved(sounding, -shift(song, section), section.key.or(song.key))
}

/// The chords that the notes of tracks suggest for a section, as they sound; those of a track whose keys play chords
/// as they are called on its keys.
pub fn suggested(song: &Song, section: &Section, tracks: &[TrackId]) -> Vec<Chord> {
    let notes = heard(song, section, tracks);
    let key = key_heard(song, section);
    let mut chords = recognised(&notes, &section.metre, key);
    if let &[only] = tracks
        && let Some(track) = song.track(only)
    {
        chords.iter_mut().for_each(|chord| chord.symbol = as_on_keys(chord.symbol, track, key));
        // One chord in two positions is one.
        chords.dedup_by_key(|chord| chord.symbol);
    }
    chords
}

fn moved(chords: &[Chord], by: i32, key: Option<KeySignature>) -> Vec<Chord> {
    let moved = |chord: &Chord| Chord { symbol: transposed_chord(chord.symbol, by, key), ..*chord };
    chords.iter().map(moved).collect()
}

/// The notes of tracks in one round of a section, straight on their grid, as if they played alone: another
/// track on the same channel would cut notes of theirs.
fn heard(song: &Song, section: &Section, tracks: &[TrackId]) -> Vec<(Span, U7)> {
    let mut song = Song::clone(song);
    for track in &mut song.tracks {
        let is_asked = tracks.contains(&track.id);
        Arc::make_mut(track).mute = !is_asked;
    }
    let song = &song;
    let Some(route) = Route::rounds(song, section.letter, 1) else { return Vec::new() };
    let performance = perform(song, &route, route.span(), View::Straight);
    let mut down: BTreeMap<_, Tick> = BTreeMap::new();
    let mut notes = Vec::new();
    for event in performance.events.iter().filter(|event| tracks.contains(&event.track)) {
        match event.wire {
            Wire::Message(Message::NoteOn { channel, key, .. }) => {
                down.insert((event.port, channel, key), event.at);
            }
            Wire::Message(Message::NoteOff { channel, key, .. }) => {
                if let Some(from) = down.remove(&(event.port, channel, key)) {
                    notes.push((Span::new(from, event.at), key));
                }
            }
            _ => {}
        }
    }
    notes
}
