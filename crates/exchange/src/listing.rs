//! The listing: everything a song plays along a route, one line per event.
//!
//! In: a song, a route and a view. Out: text in four columns: the place on the route as
//! bar.beat.tick, the section and its bar, the track, and the event. Sections, metres and tempi
//! have `-` as their track. Notes are spelled for the key in which their section sounds. A note is one line that includes its length; its release has no line.
//! The same song and route give the same text on every machine.
//!
//! ```text
//! 1.1.0       A1    -     section A
//! 1.1.0       A1    Bass  note C2 36 velocity 90 length 240 channel 2
//! ```

mod rows;
mod words;

use crate::ExportError;
use crate::export::closed;
use crate::pairs::pairs;
use chaconne_engine::{
    Counts, Event, Landmark, Message, Performance, Route, View, Walk, Wire, perform,
};
use chaconne_harmony::{key_heard, song_key_heard};
use chaconne_song::{Song, Track, TrackId};
use chaconne_time::Tick;
use rows::row;
use std::fmt::Write;
use std::sync::Arc;

pub(crate) use words::Keys;

/// Lists what `song` plays along `route`, which must have an end. Bars count from the start of the
/// route: an early note is in bar 0, and a note that rings past the end is in the bar after the
/// last.
///
/// # Errors
/// [`ExportError::Open`] for a route without an end.
pub fn listing(song: &Song, route: &Route, view: View) -> Result<String, ExportError> {
    let span = closed(route)?;
    let performance = perform(song, route, span, view);
    let walk = Walk::along(song, route);
    Ok(list(song, &walk.counts(), &performance, &walk.landmarks(span)))
}

/// Lists a performance and its landmarks.
fn list(
    song: &Song,
    counts: &Counts,
    performance: &Performance,
    marks: &[(Tick, Landmark)],
) -> String {
    let names = Names::new(song);
    let mut text = String::new();
    let mut marks = marks.iter().peekable();
    let others = pairs(&performance.events);
    for (index, event) in performance.events.iter().enumerate() {
        while let Some((at, mark)) = marks.next_if(|(at, _)| *at <= event.at) {
            row(counts, &mut text, *at, &names.pad("-"), &words::of_landmark(mark));
        }
        let keys = names.keys(song, counts, event);
        if let Some(words) = event_words(performance, &others, index, keys) {
            row(counts, &mut text, event.at, &names.pad(names.of(event.track)), &words);
        }
    }
    for (at, mark) in marks {
        row(counts, &mut text, *at, &names.pad("-"), &words::of_landmark(mark));
    }
    text
}

/// The last column for an event; `None` for a release, which is part of its note's line.
pub(crate) fn event_words(
    performance: &Performance,
    others: &[Option<usize>],
    index: usize,
    keys: Keys,
) -> Option<String> {
    let event = &performance.events[index];
    let mut text = match &event.wire {
        Wire::SysEx(bytes) => words::of_sysex(bytes),
        Wire::Message(Message::NoteOn { key, velocity, .. }) => {
            let mut text = format!("note {} velocity {velocity}", words::of_key(*key, keys));
            text.push_str(&ending(event, others[index].map(|off| &performance.events[off])));
            text
        }
        Wire::Message(Message::NoteOff { .. }) if others[index].is_some() => return None,
        Wire::Message(message) => words::of_message(*message, keys)?,
    };
    let channel = match event.wire {
        Wire::Message(message) => message.channel(),
        Wire::SysEx(_) => None,
    };
    if let Some(channel) = channel {
        let _ = write!(text, " channel {channel}");
    }
    let port = performance.ports.get(usize::from(event.port.0)).filter(|port| !port.is_empty());
    if let Some(port) = port {
        let _ = write!(text, " port '{port}'");
    }
    Some(text)
}

/// A note's length, and its release velocity unless it is 64, which means it was not measured.
fn ending(on: &Event, off: Option<&Event>) -> String {
    let Some(off) = off else { return " held".into() };
    let length = (off.at - on.at).0;
    match off.wire {
        Wire::Message(Message::NoteOff { velocity, .. }) if velocity.get() != 64 => {
            format!(" length {length} release {velocity}")
        }
        _ => format!(" length {length}"),
    }
}

/// The column of track names.
struct Names<'a> {
    tracks: Vec<(TrackId, &'a Arc<Track>)>,
    width: usize,
}

impl<'a> Names<'a> {
    /// The widest the column gets; a longer name pushes its line to the right.
    const WIDEST: usize = 24;

    fn new(song: &'a Song) -> Names<'a> {
        let mut tracks: Vec<_> = song.tracks.iter().map(|track| (track.id, track)).collect();
        tracks.sort_by_key(|&(id, _)| id);
        let widths = song.tracks.iter().map(|track| track.name.chars().count());
        Names { tracks, width: widths.max().unwrap_or(1).clamp(1, Self::WIDEST) }
    }

    fn track(&self, id: TrackId) -> Option<&'a Arc<Track>> {
        let found = self.tracks.binary_search_by_key(&id, |&(id, _)| id).ok()?;
        Some(self.tracks[found].1)
    }

    /// How the keys of an event are named: as notes in the key in which the section sounds that plays there.
    fn keys(&self, song: &Song, counts: &Counts, event: &Event) -> Keys {
        if self.track(event.track).is_some_and(|track| !track.pitched) {
            return Keys::Numbers;
        }
        let section = counts.at(event.at).and_then(|position| song.section(position.section));
        Keys::Notes(match section {
            Some(section) => key_heard(song, section),
            None => song_key_heard(song),
        })
    }

    fn of(&self, id: TrackId) -> &'a str {
        self.track(id).map_or("?", |track| &track.name)
    }

    /// A name on one line, padded to the column.
    fn pad(&self, name: &str) -> String {
        let plain = |letter: char| if letter.is_control() { ' ' } else { letter };
        let name: String = name.chars().map(plain).collect();
        format!("{name:<width$}", width = self.width)
    }
}

#[cfg(test)]
mod tests;
