//! Writes a song: the fields in a fixed order, each note or point on its own line, and defaults
//! left out.

use super::chord_keys::chord_keys_record;
use super::line::{Record, quoted};
use super::scale::Scale;
use super::write_groove::{given_record, human_record};
use crate::{
    Channel, Chord, Control, Feel, Human, KeysPlay, Lane, Layer, Note, Pass, PassId, Point,
    Section, Shape, SharedPass, Song, SysEx, Track, TrackId, Transpose, U7, U14,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, TempoMap, TempoPoint, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The text of a song.
pub(super) fn song(song: &Song) -> String {
    let tracks = song.tracks.iter().map(|track| (track.id, track)).collect();
    let mut page = Page { tracks, ..Page::new(&song.passes, false) };
    page.open("");
    page.field("chaconne", Song::VERSION);
    if !song.title.is_empty() {
        page.field("title", quoted(&song.title));
    }
    if let Some(key) = song.key {
        page.field("key", quoted(&key.to_string()));
    }
    if song.transpose != Transpose::default() {
        page.field("transpose", song.transpose);
    }
    if !song.form.is_empty() {
        page.field("form", quoted(&song.form.to_string()));
    }
    page.list("tracks", &song.tracks, |page, track| page.line(track_record(track)));
    page.list("grooves", &song.grooves, |page, groove| page.groove("", groove));
    page.list("sections", &song.sections, |page, section| {
        page.section("", section, Scale::Bars(&section.metre));
    });
    page.text.push_str(")\n");
    page.text
}

/// The text that has been written so far.
pub(super) struct Page<'a> {
    pub(super) text: String,
    depth: usize,
    /// Whether everything is written on one line, without comments.
    inline: bool,
    /// The passes to write in full where they first appear.
    passes: &'a BTreeMap<PassId, SharedPass>,
    tracks: BTreeMap<TrackId, &'a Arc<Track>>,
    /// The passes that have been written in full.
    written: BTreeSet<PassId>,
}

impl<'a> Page<'a> {
    /// An empty page.
    pub(super) fn new(passes: &'a BTreeMap<PassId, SharedPass>, inline: bool) -> Page<'a> {
        let (text, tracks, written) = Default::default();
        Page { text, depth: 0, inline, passes, tracks, written }
    }

    /// Writes a line and a comma.
    pub(super) fn line(&mut self, content: String) {
        self.put(&content, ",");
    }

    /// Writes a line, a comma and a comment.
    fn commented(&mut self, content: String, note: &str) {
        if self.inline {
            return self.line(content);
        }
        self.put(&content, &format!(", // {note}"));
    }

    fn put(&mut self, content: &str, end: &str) {
        if self.inline {
            return self.put_inline(content, end);
        }
        for _ in 0..self.depth {
            self.text.push_str("    ");
        }
        self.text.push_str(content);
        self.text.push_str(end);
        self.text.push('\n');
    }

    /// Writes without line breaks, and without a comma before a closing bracket.
    fn put_inline(&mut self, content: &str, end: &str) {
        if matches!(content, ")" | "]") {
            let length = self.text.trim_end_matches(", ").len();
            self.text.truncate(length);
        }
        self.text.push_str(content);
        self.text.push_str(end);
        if end == "," {
            self.text.push(' ');
        }
    }

    pub(super) fn field(&mut self, name: &str, value: impl std::fmt::Display) {
        self.line(format!("{name}: {value}"));
    }

    pub(super) fn open(&mut self, name: &str) {
        self.put(name, "(");
        self.depth += 1;
    }

    pub(super) fn close(&mut self) {
        self.depth -= 1;
        self.line(")".into());
    }

    /// Writes a list, one item below the other; nothing if it is empty.
    pub(super) fn list<T>(&mut self, name: &str, items: &[T], mut each: impl FnMut(&mut Self, &T)) {
        if items.is_empty() {
            return;
        }
        self.put(name, ": [");
        self.depth += 1;
        for item in items {
            each(self, item);
        }
        self.depth -= 1;
        self.line("]".into());
    }

    /// Writes a section, with its positions in `scale`.
    pub(super) fn section(&mut self, name: &str, section: &Section, scale: Scale<'_>) {
        self.open(name);
        self.field("letter", quoted(section.letter.as_str()));
        if !section.name.is_empty() {
            self.field("name", quoted(&section.name));
        }
        if let Some(key) = section.key {
            self.field("key", quoted(&key.to_string()));
        }
        if section.transpose != Transpose::default() {
            self.field("transpose", section.transpose);
        }
        self.field("bars", section.metre.bars());
        self.metre(&section.metre);
        self.tempo(Some(&section.metre), &section.tempo, scale);
        let fermatas: Vec<String> =
            section.fermatas.iter().map(|&at| scale.at(at).to_string()).collect();
        if !fermatas.is_empty() {
            self.field("fermatas", format!("[{}]", fermatas.join(", ")));
        }
        self.list("chords", &section.chords, |page, chord| {
            page.line(chord_record(scale, chord));
        });
        self.list("layers", &section.layers, |page, layer| page.layer(scale, layer));
        self.close();
    }

    /// Writes a layer: the pass in full where it first appears, after that one line.
    fn layer(&mut self, scale: Scale<'_>, layer: &Layer) {
        let pass = self.passes.get(&layer.pass);
        if let Some(pass) = pass.filter(|_| self.written.insert(layer.pass)) {
            return self.pass("", scale, layer.mute, pass);
        }
        let record = Record::new().plain("pass", layer.pass.0);
        let track = pass.and_then(|pass| self.tracks.get(&pass.track));
        let track = track.map_or(String::new(), |track| quoted(&track.name));
        self.commented(record.unless(false, "mute", layer.mute).end(), &track);
    }

    pub(super) fn metre(&mut self, map: &MetreMap) {
        match map.changes() {
            [only] if is_plain(&only.metre) => {
                self.field("metre", quoted(&only.metre.to_string()));
            }
            changes => self.list("metre", changes, |page, change| {
                page.line(metre_record(change.bar, &change.metre));
            }),
        }
    }

    /// Writes tempi. Comments give them in beats per minute, in the tempo unit of the metre.
    pub(super) fn tempo(&mut self, metre: Option<&MetreMap>, tempo: &TempoMap, scale: Scale<'_>) {
        let unit =
            |at: Tick| metre.map_or(NoteValue::QUARTER, |metre| metre.metre_at(at).tempo_unit());
        match tempo.points() {
            [TempoPoint { at, tempi }] if tempi.len() == 1 => {
                let content = format!("tempo: {}", tempi[0].micros());
                self.commented(content, &bpm(tempi[0], unit(*at)));
            }
            points => self.list("tempo", points, |page, point| {
                let record = tempo_record(scale, point);
                let (first, last) = (point.tempi[0], point.tempi[point.tempi.len() - 1]);
                let mut note = bpm(first, unit(point.at));
                if point.tempi.len() > 1 {
                    note = format!("{note} to {}", bpm(last, unit(point.at)));
                }
                page.commented(record, &note);
            }),
        }
    }

    /// Writes a pass in full.
    pub(super) fn pass(&mut self, name: &str, scale: Scale<'_>, mute: bool, pass: &Pass) {
        let track = self.tracks.get(&pass.track).copied().cloned();
        let channel = pass_channel(pass);
        self.open(name);
        self.field("id", pass.id.0);
        let name = track.as_ref().map_or(String::new(), |track| quoted(&track.name));
        self.commented(format!("track: {}", pass.track.0), &name);
        if !pass.name.is_empty() {
            self.field("name", quoted(&pass.name));
        }
        self.field("length", scale.length(pass.length));
        if channel != Channel::default() {
            self.field("channel", channel);
        }
        if mute {
            self.field("mute", true);
        }
        if let Some(feel) = &pass.feel {
            let rolls = track.is_some_and(|track| !track.pitched);
            self.field("feel", feel_record(feel, rolls));
        }
        self.list("covers", &pass.covers, |page, cover| page.line(cover_record(scale, cover)));
        self.list("notes", pass.notes(), |page, note| {
            page.line(note_record(scale, channel, note));
        });
        self.list("lanes", pass.lanes(), |page, lane| page.lane("", scale, channel, lane));
        self.list("sysex", pass.sysex(), |page, message| {
            page.line(message_record(scale, message));
        });
        self.close();
    }

    pub(super) fn lane(&mut self, name: &str, scale: Scale<'_>, channel: Channel, lane: &Lane) {
        self.open(name);
        let control = format!("control: {}", quoted(&lane.control.to_string()));
        match lane.control.name() {
            Some(name) => self.commented(control, name),
            None => self.line(control),
        }
        if lane.channel != channel {
            self.field("channel", lane.channel);
        }
        self.field("from", scale.at(lane.span.from));
        self.field("to", scale.at(lane.span.to));
        self.list("points", &lane.points, |page, point| {
            page.line(point_record(scale, lane.control, point));
        });
        self.close();
    }
}

pub(super) fn track_record(track: &Track) -> String {
    let usual = Feel::off(!track.pitched);
    let feel = (track.feel != usual).then(|| feel_record(&track.feel, usual.rolls));
    let mut record = Record::new().plain("id", track.id.0).text("name", &track.name);
    if !track.port.is_empty() {
        record = record.text("port", &track.port);
    }
    record = record
        .maybe("channel", track.channel)
        .maybe("bank", track.bank)
        .maybe("program", track.program.map(|program| program.get() + 1))
        .unless(true, "pitched", track.pitched)
        .maybe("feel", feel)
        .maybe("volume", track.levels.volume)
        .maybe("pan", track.levels.pan)
        .unless(false, "mute", track.mute)
        .maybe("pass_length", track.pass_length.map(|length| length.0));
    if let Some(compass) = track.compass {
        record = record.text("compass", compass);
    }
    if track.keys_play != KeysPlay::default() {
        record = record.text("keys_play", track.keys_play);
    }
    record.maybe("chord_keys", chord_keys_record(&track.chord_keys)).end()
}

/// The record of a feel; `rolls` is the default for its track.
pub(super) fn feel_record(feel: &Feel, rolls: bool) -> String {
    let usual = Feel::off(rolls);
    let mut record = Record::new();
    if let Some(grid) = feel.grid {
        record = record.text("grid", grid);
    }
    record
        .unless(usual.pull, "pull", feel.pull)
        .unless(usual.swing, "swing", feel.swing)
        .unless(usual.reach, "reach", feel.reach)
        .unless(rolls, "rolls", feel.rolls)
        .maybe("groove", feel.groove.as_ref().map(given_record))
        .maybe("human", (feel.human != Human::NONE).then(|| human_record(&feel.human)))
        .end()
}

fn is_plain(metre: &Metre) -> bool {
    metre.groups().is_empty() && metre.tempo_unit() == NoteValue::QUARTER
}

fn metre_record(bar: u32, metre: &Metre) -> String {
    let mut record = Record::new().plain("bar", bar).text("metre", metre);
    if !metre.groups().is_empty() {
        let groups: Vec<String> = metre.groups().iter().map(u8::to_string).collect();
        record = record.text("groups", groups.join("+"));
    }
    if metre.tempo_unit() != NoteValue::QUARTER {
        record = record.text("tempo_unit", metre.tempo_unit());
    }
    record.end()
}

fn tempo_record(scale: Scale<'_>, point: &TempoPoint) -> String {
    let record = Record::new().plain("at", scale.at(point.at));
    match point.tempi.as_slice() {
        [only] => record.plain("tempo", only.micros()).end(),
        tempi => {
            let tempi: Vec<String> = tempi.iter().map(|tempo| tempo.micros().to_string()).collect();
            record.plain("ramp", format!("[{}]", tempi.join(", "))).end()
        }
    }
}

/// A tempo in beats per minute, in the tempo unit of the metre. For a comment only.
fn bpm(tempo: Tempo, unit: NoteValue) -> String {
    if unit == NoteValue::QUARTER {
        return format!("{tempo} BPM");
    }
    let quarters = u64::from(tempo.milli_bpm()) * Tick::QUARTER.0 as u64;
    let tenths = (quarters / unit.ticks().0 as u64 + 50) / 100;
    let beats = format!("{}.{}", tenths / 10, tenths % 10);
    format!("{} BPM in {unit}", beats.trim_end_matches(".0"))
}

/// The default channel of a pass: that of its first note, or else of its first lane.
fn pass_channel(pass: &Pass) -> Channel {
    let lane = pass.lanes().first().map(|lane| lane.channel);
    pass.notes().first().map(|note| note.channel).or(lane).unwrap_or_default()
}

pub(super) fn note_record(scale: Scale<'_>, channel: Channel, note: &Note) -> String {
    let played = &note.played;
    Record::new()
        .plain("id", note.id.0)
        .plain("at", scale.at(played.start))
        .plain("length", played.length.0)
        .plain("key", played.key)
        .plain("velocity", played.velocity)
        .unless(U7::CENTRE, "release", played.release)
        .unless(channel, "channel", note.channel)
        .maybe("placed", placed_record(scale, note))
        .end()
}

/// The record of what edits have changed about a note; `None` if nothing.
fn placed_record(scale: Scale<'_>, note: &Note) -> Option<String> {
    let placed = &note.placed;
    if placed.is_unchanged() {
        return None;
    }
    let record = Record::new()
        .maybe("at", placed.start.map(|start| scale.at(start)))
        .maybe("length", placed.length.map(|length| length.0))
        .maybe("key", placed.key)
        .maybe("velocity", placed.velocity)
        .maybe("release", placed.release);
    Some(record.end())
}

/// The record of a point in a lane with this control.
pub(super) fn point_record(scale: Scale<'_>, control: Control, point: &Point) -> String {
    let record = Record::new().plain("at", scale.at(point.at));
    let record = record.plain("value", shown(control, point.value));
    match point.shape {
        Shape::Step => record.end(),
        shape => record.text("shape", shape.word()).end(),
    }
}

/// The value as it is written: programs from 1, as instruments show them.
pub(super) fn shown(control: Control, value: U14) -> u16 {
    value.get() + u16::from(control == Control::Program)
}

pub(super) fn cover_record(scale: Scale<'_>, cover: &Span) -> String {
    Record::new().plain("from", scale.at(cover.from)).plain("to", scale.at(cover.to)).end()
}

pub(super) fn message_record(scale: Scale<'_>, message: &SysEx) -> String {
    let record = Record::new().plain("at", scale.at(message.at));
    record.text("bytes", hex(&message.bytes)).end()
}

fn chord_record(scale: Scale<'_>, chord: &Chord) -> String {
    Record::new().plain("at", scale.at(chord.at)).text("chord", chord.symbol).end()
}

/// Bytes as pairs of hexadecimal digits.
fn hex(bytes: &[u8]) -> String {
    let pairs: Vec<String> = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
    pairs.join(" ")
}
