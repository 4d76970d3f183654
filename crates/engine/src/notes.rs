//! The pitched notes that are heard in a section, with how long each sounds: what says how high and low its
//! parts go, and which key they may be in.

use crate::{Message, Route, View, Wire, perform};
use chaconne_song::{Letter, Song, TrackId, U7};
use chaconne_time::Tick;
use std::collections::{BTreeMap, VecDeque};

/// A note that is heard.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeardNote {
    /// The track that plays it.
    pub track: TrackId,
    /// Its key, with the transpositions of song and section.
    pub key: U7,
    /// How long it sounds.
    pub length: Tick,
}

/// The notes of the pitched tracks of a section, until its longest pass has played to its end. Empty if there is
/// no such section.
pub fn heard_notes(song: &Song, section: Letter) -> Vec<HeardNote> {
    let Some(route) = Route::whole(song, section) else { return Vec::new() };
    let mut down: BTreeMap<_, VecDeque<(TrackId, Tick)>> = BTreeMap::new();
    let mut notes = Vec::new();
    for event in perform(song, &route, route.span(), View::Corrected).events {
        match event.wire {
            Wire::Message(Message::NoteOn { channel, key, .. }) => {
                let held = down.entry((event.port, channel, key)).or_default();
                held.push_back((event.track, event.at));
            }
            Wire::Message(Message::NoteOff { channel, key, .. }) => {
                let held = down.get_mut(&(event.port, channel, key));
                let Some((track, from)) = held.and_then(VecDeque::pop_front) else { continue };
                if song.track(track).is_some_and(|track| track.pitched) {
                    notes.push(HeardNote { track, key, length: event.at - from });
                }
            }
            _ => {}
        }
    }
    notes
}
