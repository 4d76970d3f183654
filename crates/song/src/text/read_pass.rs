//! Passes: covers, notes, lanes and messages, each checked against the length of the pass.

use super::layout::{CoverText, LaneText, MessageText, NoteText, PassText, PlacedText, PointText};
use super::leaf::Leaf;
use super::read::Reader;
use super::{control, length};
use crate::rules::{self, Frame};
use crate::{
    Channel, Control, Feel, Lane, Note, NoteId, Pass, PassId, Point, Stroke, SysEx, TrackId, U7,
    U14,
};
use chaconne_time::{MetreMap, Span, Tick};

/// A pass. Where its length is wrong, what lies in it is not looked at.
pub(super) fn pass<'a>(
    reader: &mut Reader<'a>,
    text: &PassText<'a>,
    metre: &MetreMap,
) -> Option<Pass> {
    let id = reader.id(text.id).map(PassId);
    let track = track(reader, text.track);
    let length = reader.faults.said(text.length, "length", |words| length::read(metre, words));
    let frame = reader.faults.keep(text.length, Frame::new(metre, length?))?;
    let channel = reader.or(text.channel, Channel::default(), Reader::channel);
    let mute = reader.or(text.mute, false, |reader, leaf| reader.faults.flag(leaf, "mute"));
    let feel = feel(reader, text, track);
    let usual = channel.unwrap_or_default();
    let mut inside = Inside { reader, frame, metre, channel: usual };
    let covers = inside.covers(&text.covers);
    let notes = inside.each(&text.notes, Inside::note);
    let lanes = inside.each(&text.lanes, Inside::lane);
    let sysex = inside.each(&text.sysex, Inside::message);
    let mut pass = Pass {
        id: id?,
        track: track?,
        length: length?,
        mute: mute?,
        feel: feel?,
        covers: covers?,
        notes: notes?,
        lanes: lanes?,
        sysex: sysex?,
    };
    channel?;
    pass.sort();
    Some(pass)
}

/// The track a pass belongs to, which must be in the song.
fn track<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<TrackId> {
    let id = reader.faults.number(leaf, "track", 1, i64::from(crate::Song::LAST_ID))? as u32;
    if !reader.pitched.contains_key(&TrackId(id)) {
        if !reader.lost_track {
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
    reader.feel(feel, pitched == Some(false)).map(Some)
}

/// Reads what lies in one pass.
struct Inside<'r, 'a, 'm> {
    reader: &'r mut Reader<'a>,
    frame: Frame<'m>,
    metre: &'m MetreMap,
    channel: Channel,
}

impl<'a> Inside<'_, 'a, '_> {
    /// Reads all items, so that all that is wrong is told.
    fn each<T, R>(
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

    fn tick(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Tick> {
        self.reader.faults.tick(leaf, what, self.metre)
    }

    fn channel(&mut self, leaf: Option<Leaf<'a>>) -> Option<Channel> {
        self.reader.or(leaf, self.channel, Reader::channel)
    }

    /// Where a note or message starts.
    fn start(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Tick> {
        let at = self.tick(leaf, "at")?;
        self.reader.faults.keep(leaf, self.frame.start(what, at))?;
        Some(at)
    }

    fn covers(&mut self, texts: &[CoverText<'a>]) -> Option<Vec<Span>> {
        let mut before = None;
        self.each(texts, |inside, text| {
            let span = inside.span(text.from, text.to, |frame, span| frame.cover_span(span))?;
            inside.reader.faults.keep(text.from, inside.frame.apart(before, span))?;
            before = Some(span);
            Some(span)
        })
    }

    fn span(
        &mut self,
        from: Leaf<'a>,
        to: Leaf<'a>,
        rule: impl FnOnce(Frame<'_>, Span) -> Result<(), String>,
    ) -> Option<Span> {
        let (start, end) = (self.tick(from, "from"), self.tick(to, "to"));
        let span = Span::new(start?, end?);
        let wrong = if self.frame.starts_well(span) { to } else { from };
        self.reader.faults.keep(wrong, rule(self.frame, span))?;
        Some(span)
    }

    fn note(&mut self, text: &NoteText<'a>) -> Option<Note> {
        let id = self.reader.id(text.id).map(NoteId);
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
        let placed = match &text.placed {
            Some(placed) => Some(self.placed(placed, &played)?),
            None => None,
        };
        Some(Note { id: id?, channel: channel?, played, placed })
    }

    fn length(&mut self, leaf: Leaf<'a>) -> Option<Tick> {
        self.reader.faults.number(leaf, "length", 1, self.frame.longest().0).map(Tick)
    }

    fn velocity(&mut self, leaf: Leaf<'a>) -> Option<U7> {
        U7::new(self.reader.faults.number(leaf, "velocity", 1, 127)? as u8)
    }

    /// Where an edit has put a note: as played, but for what is said.
    fn placed(&mut self, text: &PlacedText<'a>, played: &Stroke) -> Option<Stroke> {
        let start = text.at.map_or(Some(played.start), |leaf| self.start(leaf, "a note"));
        let length = text.length.map_or(Some(played.length), |leaf| self.length(leaf));
        let key = self.reader.or(text.key, played.key, |reader, leaf| reader.data(leaf, "key"));
        let velocity = text.velocity.map_or(Some(played.velocity), |leaf| self.velocity(leaf));
        let release = self
            .reader
            .or(text.release, played.release, |reader, leaf| reader.data(leaf, "release"));
        Some(Stroke {
            start: start?,
            length: length?,
            key: key?,
            velocity: velocity?,
            release: release?,
        })
    }

    fn lane(&mut self, text: &LaneText<'a>) -> Option<Lane> {
        let control = self.reader.faults.said(text.control, "control", control::read);
        let channel = self.channel(text.channel);
        let span = self.span(text.from, text.to, |frame, span| frame.lane_span(span));
        let (control, span) = (control?, span?);
        let mut before = None;
        let points = self.each(&text.points, |inside, text| {
            let point = inside.point(text, control, span, before);
            before = point.map(|point| point.at).or(before);
            point
        });
        Some(Lane { channel: channel?, control, span, points: points? })
    }

    fn point(
        &mut self,
        text: &PointText<'a>,
        control: Control,
        span: Span,
        before: Option<Tick>,
    ) -> Option<Point> {
        let at = self.tick(text.at, "at");
        // Programs are shown from 1, as on instruments.
        let low = i64::from(control == Control::Program);
        let high = i64::from(control.highest()) + low;
        let value = self.reader.faults.number(text.value, "value", low, high);
        let at = at?;
        self.reader.faults.keep(text.at, self.frame.point_at(span, before, at))?;
        Some(Point { at, value: U14::new((value? - low) as u16)? })
    }

    fn message(&mut self, text: &MessageText<'a>) -> Option<SysEx> {
        let at = self.start(text.at, "a message");
        let bytes = self.reader.faults.said(text.bytes, "bytes", bytes)?;
        Some(SysEx { at: at?, bytes })
    }
}

/// A whole system-exclusive message: pairs of hexadecimal digits.
fn bytes(text: &str) -> Result<Vec<u8>, String> {
    let byte = |pair: &str| match pair.len() {
        2 => u8::from_str_radix(pair, 16).ok(),
        _ => None,
    };
    let bytes: Option<Vec<u8>> = text.split_whitespace().map(byte).collect();
    let bytes = bytes.ok_or("bytes are pairs of hexadecimal digits with a space between them")?;
    rules::sysex_bytes(&bytes)?;
    Ok(bytes)
}
