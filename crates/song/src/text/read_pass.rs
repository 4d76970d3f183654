//! Reads passes. Covers, notes, lanes and messages are checked against the length of the pass.

use super::layout::{CoverText, LaneText, MessageText, NoteText, PassText, PlacedText, PointText};
use super::leaf::Leaf;
use super::read::Reader;
use super::{control, length as length_words};
use crate::rules::{self, Frame};
use crate::{
    Channel, Content, Control, Feel, Lane, LaneId, Note, NoteId, Notes, Pass, PassId, Placed,
    Point, Shape, Stroke, SysEx, TrackId, U7, U14,
};
use chaconne_time::{MetreMap, Span, Tick};
use std::collections::BTreeMap;

/// Reads a pass: in a song with the metre of its section, in an edit without. If its length is
/// wrong, its content is not read, because it cannot be checked.
pub(super) fn pass<'a>(
    reader: &mut Reader<'a>,
    text: &PassText<'a>,
    metre: Option<&MetreMap>,
) -> Option<Pass> {
    let id = reader.id(text.id).map(PassId);
    let track = track(reader, text.track);
    let name = reader.or(text.name, String::new(), |reader, leaf| {
        Some(reader.faults.string(leaf, "name")?.into_owned())
    });
    let length = length(reader, text.length, metre);
    let frame = match metre {
        Some(metre) => Some(reader.faults.keep(text.length, Frame::new(metre, length?))?),
        None => None,
    };
    let channel = reader.or(text.channel, Channel::default(), Reader::channel);
    let feel = feel(reader, text, track);
    let usual = channel.unwrap_or_default();
    let mut inside = Inside { reader, frame, metre, channel: usual };
    let covers = inside.covers(&text.covers);
    let notes = inside.each(&text.notes, Inside::note);
    let lanes = inside.each(&text.lanes, Inside::lane);
    let sysex = inside.each(&text.sysex, Inside::message);
    inside.one_of_each(text, notes.as_deref(), lanes.as_deref());
    channel?;
    let content = Content::Notes(Notes { notes: notes?, lanes: lanes?, sysex: sysex? });
    let (id, track, name, length) = (id?, track?, name?, length?);
    let (feel, covers) = (feel?, covers?);
    let mut pass = Pass { id, track, name, length, feel, covers, content };
    // An edit reads back exactly as it was written; applying it sorts the pass.
    if metre.is_some() {
        pass.sort();
    }
    Some(pass)
}

fn length<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>, metre: Option<&MetreMap>) -> Option<Tick> {
    match metre {
        Some(metre) => {
            reader.faults.parsed(leaf, "length", |words| length_words::read(metre, words))
        }
        None => reader.faults.number(leaf, "length", 1, rules::LONGEST_PASS.0).map(Tick),
    }
}

/// Reads the track of a pass, which must be in the song.
fn track<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<TrackId> {
    let id = reader.faults.number(leaf, "track", 1, i64::from(crate::Song::LAST_ID))? as u32;
    if !reader.is_edit && !reader.pitched.contains_key(&TrackId(id)) {
        if !reader.lost.track {
            let message = format!("there is no track {id}; a pass belongs to a track of the song");
            reader.faults.add(leaf, message);
        }
        return None;
    }
    Some(TrackId(id))
}

fn feel<'a>(
    reader: &mut Reader<'a>,
    text: &PassText<'a>,
    track: Option<TrackId>,
) -> Option<Option<Feel>> {
    let Some(feel) = &text.feel else { return Some(None) };
    let pitched = track.and_then(|track| reader.pitched.get(&track).copied());
    reader.feel(feel, !reader.is_edit && pitched == Some(false)).map(Some)
}

/// Reads the content of one pass.
pub(super) struct Inside<'r, 'a, 'm> {
    pub(super) reader: &'r mut Reader<'a>,
    /// The limits of the pass; `None` in an edit, which is checked when it is applied.
    frame: Option<Frame<'m>>,
    metre: Option<&'m MetreMap>,
    channel: Channel,
}

impl<'r, 'a> Inside<'r, 'a, '_> {
    /// Reads content without its pass, for an edit.
    pub(super) fn any(reader: &'r mut Reader<'a>) -> Inside<'r, 'a, 'static> {
        Inside { reader, frame: None, metre: None, channel: Channel::default() }
    }
}

impl<'a> Inside<'_, 'a, '_> {
    /// Checks a rule of the pass, if the pass is known.
    fn check(
        &mut self,
        leaf: Leaf<'a>,
        rule: impl FnOnce(Frame<'_>) -> Result<(), String>,
    ) -> Option<()> {
        match self.frame {
            Some(frame) => self.reader.faults.keep(leaf, rule(frame)),
            None => Some(()),
        }
    }

    /// Reads all items, even after one is wrong, so that every error is reported.
    pub(super) fn each<T, R>(
        &mut self,
        texts: &[T],
        mut read: impl FnMut(&mut Self, &T) -> Option<R>,
    ) -> Option<Vec<R>> {
        let mut all = Some(Vec::with_capacity(texts.len()));
        for text in texts {
            match (read(self, text), &mut all) {
                (Some(item), Some(items)) => items.push(item),
                _ => all = None,
            }
        }
        all
    }

    /// Adds an error for each note whose id is already used in the pass, and for each lane that
    /// starts where another of the same control and channel does.
    fn one_of_each(&mut self, text: &PassText<'a>, notes: Option<&[Note]>, lanes: Option<&[Lane]>) {
        let notes = notes.into_iter().flatten().zip(&text.notes);
        self.reader.no_id_twice(notes.map(|(note, text)| (note.id.0, text.id)).collect());
        let mut known: BTreeMap<LaneId, Leaf<'a>> = BTreeMap::new();
        for (lane, text) in lanes.into_iter().flatten().zip(&text.lanes) {
            if let Some(earlier) = known.insert(lane.id(), text.control) {
                let message =
                    format!("a lane of {} starting there is already on line", lane.control);
                self.reader.twice(text.control, earlier, &message);
            }
        }
    }

    fn tick(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Tick> {
        self.reader.tick(leaf, what, self.metre)
    }

    fn channel(&mut self, leaf: Option<Leaf<'a>>) -> Option<Channel> {
        self.reader.or(leaf, self.channel, Reader::channel)
    }

    /// Reads where a note or message starts.
    pub(super) fn start(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Tick> {
        let at = self.tick(leaf, "at")?;
        self.check(leaf, |frame| frame.start(what, at))?;
        Some(at)
    }

    pub(super) fn covers(&mut self, texts: &[CoverText<'a>]) -> Option<Vec<Span>> {
        let mut before = None;
        self.each(texts, |inside, text| {
            let span = inside.span(text.from, text.to, |frame, span| frame.cover_span(span))?;
            inside.check(text.from, |frame| frame.apart(before, span))?;
            before = Some(span);
            Some(span)
        })
    }

    pub(super) fn span(
        &mut self,
        from: Leaf<'a>,
        to: Leaf<'a>,
        rule: impl FnOnce(Frame<'_>, Span) -> Result<(), String>,
    ) -> Option<Span> {
        let (start, end) = (self.tick(from, "from"), self.tick(to, "to"));
        let span = Span::new(start?, end?);
        let start_fits = self.frame.is_some_and(|frame| frame.start_fits(span));
        self.check(if start_fits { to } else { from }, |frame| rule(frame, span))?;
        Some(span)
    }

    pub(super) fn note(&mut self, text: &NoteText<'a>) -> Option<Note> {
        let id = self.reader.any_id(text.id).map(NoteId);
        let start = self.start(text.at, "a note");
        let length = self.length(text.length);
        let key = self.reader.data(text.key, "key");
        let velocity = self.velocity(text.velocity);
        let release =
            self.reader.or(text.release, U7::CENTRE, |reader, leaf| reader.data(leaf, "release"));
        let channel = self.channel(text.channel);
        let played = Stroke {
            start: start?,
            length: length?,
            key: key?,
            velocity: velocity?,
            release: release?,
        };
        let placed = text.placed.as_ref().map_or(Some(Placed::UNCHANGED), |text| self.placed(text));
        Some(Note { id: id?, channel: channel?, played, placed: placed? })
    }

    pub(super) fn length(&mut self, leaf: Leaf<'a>) -> Option<Tick> {
        let longest = self.frame.map_or(rules::LONGEST_PASS, Frame::longest);
        self.reader.faults.number(leaf, "length", 1, longest.0).map(Tick)
    }

    pub(super) fn velocity(&mut self, leaf: Leaf<'a>) -> Option<U7> {
        U7::new(self.reader.faults.number(leaf, "velocity", 1, 127)? as u8)
    }

    /// Reads what edits have changed about a note.
    fn placed(&mut self, text: &PlacedText<'a>) -> Option<Placed> {
        let start = self.changed(text.at, |inside, leaf| inside.start(leaf, "a note"));
        let length = self.changed(text.length, Self::length);
        let key = self.changed(text.key, |inside, leaf| inside.reader.data(leaf, "key"));
        let velocity = self.changed(text.velocity, Self::velocity);
        let release =
            self.changed(text.release, |inside, leaf| inside.reader.data(leaf, "release"));
        Some(Placed {
            start: start?,
            length: length?,
            key: key?,
            velocity: velocity?,
            release: release?,
        })
    }

    /// Reads a field that may be left out.
    fn changed<T>(
        &mut self,
        leaf: Option<Leaf<'a>>,
        read: impl FnOnce(&mut Self, Leaf<'a>) -> Option<T>,
    ) -> Option<Option<T>> {
        leaf.map_or(Some(None), |leaf| read(self, leaf).map(Some))
    }

    pub(super) fn lane(&mut self, text: &LaneText<'a>) -> Option<Lane> {
        let control = self.reader.faults.parsed(text.control, "control", control::read);
        let channel = self.channel(text.channel);
        let span = self.span(text.from, text.to, |frame, span| frame.lane_span(span));
        let (control, span) = (control?, span?);
        let mut before = None;
        let points = self.each(&text.points, |inside, text| {
            let point = inside.point(text, control, Some(span), before);
            before = point.map(|point| point.at).or(before);
            point
        });
        Some(Lane { channel: channel?, control, span, points: points? })
    }

    /// Reads a point of a lane with this control and, if it is known, this span.
    pub(super) fn point(
        &mut self,
        text: &PointText<'a>,
        control: Control,
        span: Option<Span>,
        before: Option<Tick>,
    ) -> Option<Point> {
        let at = self.tick(text.at, "at");
        let value = self.value(text.value, control);
        let at = at?;
        if let Some(span) = span {
            self.check(text.at, |frame| frame.point_at(span, before, at))?;
        }
        let shape = text.shape.map_or(Some(Shape::Step), |leaf| self.shape(leaf, control));
        Some(Point { at, value: value?, shape: shape? })
    }

    /// Reads the value of a point. Programs are written from 1, as instruments show them.
    pub(super) fn value(&mut self, leaf: Leaf<'a>, control: Control) -> Option<U14> {
        let low = i64::from(control == Control::Program);
        let high = i64::from(control.highest()) + low;
        U14::new((self.reader.faults.number(leaf, "value", low, high)? - low) as u16)
    }

    pub(super) fn shape(&mut self, leaf: Leaf<'a>, control: Control) -> Option<Shape> {
        let shape = self.reader.faults.parsed(leaf, "shape", str::parse)?;
        self.reader.faults.keep(leaf, rules::shape(control, shape))?;
        Some(shape)
    }

    pub(super) fn message(&mut self, text: &MessageText<'a>) -> Option<SysEx> {
        let at = self.start(text.at, "a message");
        let bytes = self.reader.faults.parsed(text.bytes, "bytes", bytes)?;
        Some(SysEx { at: at?, bytes })
    }
}

/// Reads a complete system-exclusive message: pairs of hexadecimal digits.
fn bytes(text: &str) -> Result<Vec<u8>, String> {
    let byte = |pair: &str| match pair.len() {
        2 => u8::from_str_radix(pair, 16).ok(),
        _ => None,
    };
    let bytes: Option<Vec<u8>> = text.split_whitespace().map(byte).collect();
    let bytes =
        bytes.ok_or("bytes must be pairs of hexadecimal digits with spaces between them")?;
    rules::sysex_bytes(&bytes)?;
    Ok(bytes)
}
