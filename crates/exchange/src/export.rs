//! Writes a route as a Standard MIDI File of format 1, 960 ticks to the quarter.
//!
//! In: a song and a route. Out: bytes, the same for the same song and route. The first track of the
//! file holds the title, the keys, a marker at the start of each section, and every metre and tempo.
//! Then comes one track for each track of the song that plays anything along the route; tracks that
//! are muted or have no pass in those sections are left out. [`perform`] decides what plays. Names
//! are written in UTF-8. Each track names its port by number, unless all of them are number 0.

mod ports;

use crate::ExportError;
use crate::pairs::pairs;
use chaconne_engine::{Landmark, Message, Performance, Route, View, Walk, Wire, perform};
use chaconne_harmony::key_heard;
use chaconne_song::{KeySignature, Song, TrackId};
use chaconne_time::{Metre, Span, TICKS_PER_QUARTER, Tick, pulse};
use midly::num::{u4, u7, u15, u24, u28};
use midly::{
    Format, Header, MetaMessage, MidiMessage, PitchBend, Timing, TrackEvent, TrackEventKind,
};
use std::sync::Arc;

/// Writes what `song` plays along `route`, which must have an end.
///
/// [`Route::form`] gives the whole form, [`Route::rounds`] one section. Notes that ring out after
/// the end of the route are written in full.
///
/// # Errors
/// [`ExportError::Open`] for a route without an end; [`ExportError::TooManyPorts`] and
/// [`ExportError::Refused`] for more than a file can hold.
pub fn export(song: &Song, route: &Route, view: View) -> Result<Vec<u8>, ExportError> {
    let span = closed(route)?;
    let performance = perform(song, route, span, view);
    let marks = Walk::along(song, route).landmarks(span);
    let numbers = ports::numbers(song)?;
    let heads = song.tracks.iter().map(|track| Head {
        id: track.id,
        name: &track.name,
        port: numbers.get(track.port.as_str()).copied(),
    });
    let tracks = heads.collect();
    let keys = keys(song, route, span);
    write(&performance, &marks, &Sheet { title: &song.title, keys, tracks })
}

/// The keys along a route, each where it begins. The notes are as they sound, so the keys are too. A section without
/// a key, in a song without one, says nothing.
fn keys(song: &Song, route: &Route, span: Span) -> Vec<(Tick, KeySignature)> {
    let mut keys: Vec<(Tick, KeySignature)> = Vec::new();
    let rounds = Walk::along(song, route).rounds(span.from);
    for round in rounds.take_while(|round| round.start < span.to) {
        let key = key_heard(song, round.visit.section);
        if let Some(key) = key.filter(|key| keys.last().is_none_or(|(_, last)| last != key)) {
            keys.push((round.start.max(span.from), key));
        }
    }
    keys
}

/// Writes what one track of `song` plays along `route`, with the same sections, metres and tempi as
/// the whole. A track that plays nothing makes a file without notes.
///
/// # Errors
/// As [`export`].
pub fn export_track(
    song: &Song,
    track: TrackId,
    route: &Route,
    view: View,
) -> Result<Vec<u8>, ExportError> {
    let mut alone = song.clone();
    alone.tracks.retain(|other| other.id == track);
    alone.passes.retain(|_, pass| pass.track == track);
    let Song { sections, passes, .. } = &mut alone;
    for section in sections {
        let layers = &mut Arc::make_mut(section).layers;
        layers.retain(|layer| passes.contains_key(&layer.pass));
    }
    export(&alone, route, view)
}

/// The span of a route that has an end.
pub(crate) fn closed(route: &Route) -> Result<Span, ExportError> {
    let span = route.span();
    if span.to >= Tick::MAX { Err(ExportError::Open) } else { Ok(span) }
}

/// What a file holds besides the performance and its landmarks.
pub(crate) struct Sheet<'a> {
    pub title: &'a str,
    /// The keys, each where it begins.
    pub keys: Vec<(Tick, KeySignature)>,
    /// The tracks, in the order of the file.
    pub tracks: Vec<Head<'a>>,
}

/// How a track of the file begins.
pub(crate) struct Head<'a> {
    pub id: TrackId,
    pub name: &'a str,
    /// The number of its port; `None` if every port of the song is number 0.
    pub port: Option<u7>,
}

/// Writes a performance and its landmarks.
pub(crate) fn write(
    performance: &Performance,
    marks: &[(Tick, Landmark)],
    sheet: &Sheet,
) -> Result<Vec<u8>, ExportError> {
    let last = performance.events.last().map_or(performance.span.to, |event| event.at);
    let end = last.max(performance.span.to);
    // The events borrow these texts until the file is written.
    let letters: Vec<String> = marks.iter().map(|(_, mark)| letter(mark)).collect();
    let mut tracks = vec![guide(performance.span.from, end, marks, &letters, sheet)];
    let parts = parts(performance, sheet);
    for (part, head) in parts.iter().zip(&sheet.tracks) {
        if !part.is_empty() {
            let mut writer = TrackWriter::new(performance.span.from, head.name);
            if let Some(port) = head.port {
                writer.put(performance.span.from, meta(MetaMessage::MidiPort(port)));
            }
            for &index in part {
                let event = &performance.events[index];
                if let Some(kind) = kind_of(&event.wire) {
                    writer.put(event.at, kind);
                }
            }
            tracks.push(writer.end(end));
        }
    }
    let ppq = u15::new(TICKS_PER_QUARTER as u16);
    let header = Header::new(Format::Parallel, Timing::Metrical(ppq));
    let mut bytes = Vec::new();
    midly::write_std(&header, &tracks, &mut bytes)
        .map_err(|error| ExportError::Refused(error.to_string()))?;
    Ok(bytes)
}

/// The indices of the events of each track of the sheet. A release belongs to the track of its
/// press.
fn parts(performance: &Performance, sheet: &Sheet) -> Vec<Vec<usize>> {
    let mut places: Vec<(TrackId, usize)> =
        sheet.tracks.iter().enumerate().map(|(place, head)| (head.id, place)).collect();
    places.sort_unstable();
    let mut parts = vec![Vec::new(); sheet.tracks.len()];
    let others = pairs(&performance.events);
    for (index, event) in performance.events.iter().enumerate() {
        let is_release = matches!(event.wire, Wire::Message(Message::NoteOff { .. }));
        let owner = others[index].filter(|_| is_release).unwrap_or(index);
        let id = performance.events[owner].track;
        if let Ok(found) = places.binary_search_by_key(&id, |&(id, _)| id) {
            parts[places[found].1].push(index);
        }
    }
    parts
}

/// The first track: title, key, sections, metres and tempi.
fn guide<'a>(
    from: Tick,
    end: Tick,
    marks: &[(Tick, Landmark)],
    letters: &'a [String],
    sheet: &Sheet<'a>,
) -> Vec<TrackEvent<'a>> {
    let mut writer = TrackWriter::new(from, sheet.title);
    let mut keys = sheet.keys.iter().peekable();
    for ((at, mark), letter) in marks.iter().zip(letters) {
        while let Some((from, key)) = keys.next_if(|(from, _)| from <= at) {
            writer.put(*from, meta(MetaMessage::KeySignature(key.fifths(), key.minor())));
        }
        let message = match mark {
            Landmark::Section(_) => MetaMessage::Marker(letter.as_bytes()),
            Landmark::Tempo(tempo) => MetaMessage::Tempo(u24::new(tempo.micros())),
            Landmark::Metre(metre) => metre_event(metre),
        };
        writer.put(*at, meta(message));
    }
    writer.end(end)
}

fn letter(mark: &Landmark) -> String {
    match mark {
        Landmark::Section(letter) => letter.to_string(),
        _ => String::new(),
    }
}

/// A time signature. Its metronome click is the note value in which the tempo is given, to the
/// nearest of the 24 clocks in a quarter (Standard MIDI Files 1.0, "Time Signature").
fn metre_event(metre: &Metre) -> MetaMessage<'static> {
    let half = pulse::TICKS_PER_PULSE / 2;
    let clocks = (metre.tempo_unit().ticks().0 + half) / pulse::TICKS_PER_PULSE;
    let power = metre.unit().trailing_zeros() as u8;
    MetaMessage::TimeSignature(metre.count(), power, clocks.clamp(1, 255) as u8, 8)
}

fn meta(message: MetaMessage<'_>) -> TrackEventKind<'_> {
    TrackEventKind::Meta(message)
}

/// One track being written.
struct TrackWriter<'a> {
    events: Vec<TrackEvent<'a>>,
    now: Tick,
}

impl<'a> TrackWriter<'a> {
    fn new(from: Tick, name: &'a str) -> TrackWriter<'a> {
        let mut writer = TrackWriter { events: Vec::new(), now: from };
        writer.put(from, meta(MetaMessage::TrackName(name.as_bytes())));
        writer
    }

    fn put(&mut self, at: Tick, kind: TrackEventKind<'a>) {
        let longest = Tick(i64::from(u28::max_value().as_int()));
        let mut delta = (at - self.now).max(Tick::ZERO);
        self.now += delta;
        while delta > longest {
            // An empty text event splits a gap that is too long for one number.
            let kind = meta(MetaMessage::Text(&[]));
            self.events.push(TrackEvent { delta: u28::max_value(), kind });
            delta -= longest;
        }
        self.events.push(TrackEvent { delta: u28::new(delta.0 as u32), kind });
    }

    fn end(mut self, at: Tick) -> Vec<TrackEvent<'a>> {
        self.put(at, meta(MetaMessage::EndOfTrack));
        self.events
    }
}

/// A message as an event of the file; `None` if it does not belong in a file.
fn kind_of(wire: &Wire) -> Option<TrackEventKind<'_>> {
    let message = match wire {
        // The leading F0 is the event's status; the closing F7 is part of its data.
        Wire::SysEx(bytes) => return Some(TrackEventKind::SysEx(bytes.get(1..)?)),
        Wire::Message(message) => *message,
    };
    let seven = |value: chaconne_song::U7| u7::new(value.get());
    let channel = u4::new(message.channel()?.wire());
    let message = match message {
        Message::NoteOff { key, velocity, .. } => {
            MidiMessage::NoteOff { key: seven(key), vel: seven(velocity) }
        }
        Message::NoteOn { key, velocity, .. } => {
            MidiMessage::NoteOn { key: seven(key), vel: seven(velocity) }
        }
        Message::KeyPressure { key, value, .. } => {
            MidiMessage::Aftertouch { key: seven(key), vel: seven(value) }
        }
        Message::Change { controller, value, .. } => {
            MidiMessage::Controller { controller: seven(controller), value: seven(value) }
        }
        Message::Program { program, .. } => MidiMessage::ProgramChange { program: seven(program) },
        Message::Pressure { value, .. } => MidiMessage::ChannelAftertouch { vel: seven(value) },
        Message::Bend { value, .. } => {
            let bend = PitchBend(midly::num::u14::new(value.get()));
            MidiMessage::PitchBend { bend }
        }
        _ => return None,
    };
    Some(TrackEventKind::Midi { channel, message })
}

#[cfg(test)]
mod tests;
