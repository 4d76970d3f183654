//! Assembles a pass from what was captured in a round.
//!
//! A note that starts within half a grid step before a seam belongs to the round that begins there; in
//! a roll, the loudest stroke so far decides for all. A note that is still held at the end of its round gets
//! the greatest possible length for now, and its true one at its release; so does a gesture that goes
//! on. A pedal or wheel that is away from rest when the take begins is so from the start of its first
//! pass.

use crate::capture::{Capture, Caught, Fate, Gesture};
use crate::gestures::at_rest;
use crate::key_change::Transposition;
use crate::{Mode, feel};
use chaconne_song::{
    Channel, Control, Feel, Lane, LaneId, Note, NoteId, Pass, PassId, Placed, Point, Stroke, SysEx,
    TrackId, transposed,
};
use chaconne_time::{MetreMap, Span, Tempo, Tick};
use std::collections::BTreeMap;

/// The round a pass is made of.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Round {
    /// The tick at which the pass starts.
    pub from: Tick,
    /// The length of the pass.
    pub length: Tick,
    /// Notes and gestures that start from `low` up to `high` belong to it.
    pub low: Tick,
    pub high: Tick,
    /// System-exclusive messages before this tick belong to it.
    pub off: Tick,
    /// Whether it is the first of a take.
    pub first: bool,
    /// From record on to record off. A punch covers all of it.
    pub punch: Span,
    pub mode: Mode,
    /// Whether input that undo discarded belongs to it too.
    pub with_discarded: bool,
}

/// A pass that was assembled, and what it was assembled from.
#[derive(Debug, Clone)]
pub(crate) struct Draft {
    pub pass: Pass,
    /// All its notes.
    pub notes: Vec<NoteId>,
    /// All its gestures, by number.
    pub gestures: Vec<u64>,
    /// Those of its notes that are still held.
    pub held: Vec<NoteId>,
    /// Those of its gestures that may go on, and their lanes.
    pub going: Vec<(u64, LaneId)>,
}

/// The pass, track and bars for which a round is assembled.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame<'a> {
    pub id: PassId,
    pub track: TrackId,
    pub feel: Feel,
    /// By how many semitones what is played will be transposed when it is performed.
    pub transpose: &'a Transposition,
    pub metre: &'a MetreMap,
}

/// How far apart, in ticks, the strokes of a roll at the edge of a round may be: more than 50 ms at the
/// fastest tempo, which are 800 ticks.
const ROLL_REACH: Tick = Tick(960);

/// Assembles the pass of a round. `tempo_at` gives the tempo at a transport tick.
pub(crate) fn assemble(
    capture: &Capture,
    round: Round,
    frame: Frame<'_>,
    tempo_at: impl Fn(Tick) -> Tempo,
) -> Draft {
    let owned = owned(capture, &round, &frame.feel, tempo_at);
    let mut pass = Pass::empty(frame.id, frame.track, round.length);
    let content = pass.notes_mut();
    content.notes = owned.iter().map(|caught| note(caught, &round, &frame)).collect();
    let gestures: Vec<&Gesture> =
        capture.gestures.values().filter(|gesture| owns(&round, gesture)).collect();
    content.lanes = lanes(&gestures, &round, &frame);
    let end = round.off.min(round.from + round.length);
    content.sysex = capture
        .sysex
        .iter()
        .filter(|message| message.fate.is_free(round.with_discarded))
        .filter(|message| round.from.max(round.low) <= message.at && message.at < end)
        .map(|message| SysEx { at: message.at - round.from, bytes: message.bytes.clone() })
        .collect();
    pass.covers = covers(pass.notes(), &round, &frame);
    let rests = gestures.iter().all(|gesture| gesture.only_rests());
    if rests && pass.notes().is_empty() && pass.sysex().is_empty() {
        // Moves to rest of a controller that is at rest do not make a pass.
        pass.notes_mut().lanes.clear();
    }
    pass.sort();
    let going = gestures.iter().filter(|gesture| gesture.over.is_none());
    Draft {
        pass,
        notes: owned.iter().map(|caught| caught.id).collect(),
        gestures: gestures.iter().map(|gesture| gesture.number).collect(),
        held: owned.iter().filter(|caught| caught.end.is_none()).map(|caught| caught.id).collect(),
        going: going.map(|gesture| (gesture.number, lane(gesture, &round, &frame).id())).collect(),
    }
}

/// The notes that belong to a round.
fn owned<'a>(
    capture: &'a Capture,
    round: &Round,
    feel: &Feel,
    tempo_at: impl Fn(Tick) -> Tempo,
) -> Vec<&'a Caught> {
    let free = capture.notes.iter().filter(|caught| caught.fate.is_free(round.with_discarded));
    let inside = |at: Tick| round.low <= at && at < round.high;
    if !feel.rolls {
        return free.filter(|caught| inside(caught.start)).collect();
    }
    let near: Vec<&Caught> = free
        .filter(|caught| {
            round.low - ROLL_REACH <= caught.start && caught.start < round.high + ROLL_REACH
        })
        .collect();
    let strokes: Vec<(Channel, Stroke)> =
        near.iter().map(|caught| (caught.channel, stroke(caught, Tick::ZERO, Tick::MAX))).collect();
    let mut mine: Vec<usize> = feel::rolls(&strokes, tempo_at)
        .into_iter()
        .filter(|group| inside(strokes[feel::main_stroke(group, &strokes)].1.start))
        .flatten()
        .collect();
    mine.sort_unstable();
    mine.into_iter().map(|index| near[index]).collect()
}

/// The stroke of a captured note in a pass that starts at `from`. A held note gets the length `most`.
fn stroke(caught: &Caught, from: Tick, most: Tick) -> Stroke {
    let length = caught.end.map_or(most, |end| end - caught.start);
    Stroke {
        start: caught.start - from,
        length: length.min(most).max(Tick(1)),
        key: caught.key,
        velocity: caught.velocity,
        release: caught.release,
    }
}

/// The note of a pass. Its key is transposed back, so that the player hears the key that was struck
/// when the pass is performed.
fn note(caught: &Caught, round: &Round, frame: &Frame<'_>) -> Note {
    let stroke = stroke(caught, round.from, round.length);
    let played =
        Stroke { key: transposed(stroke.key, -frame.transpose.at(caught.start)), ..stroke };
    Note { id: caught.id, channel: caught.channel, played, placed: Placed::UNCHANGED }
}

/// Whether a gesture belongs to a round: it begins in it, or its controller was away from rest when the
/// take began with this round.
fn owns(round: &Round, gesture: &Gesture) -> bool {
    let start = gesture.start();
    if !gesture.fate.is_free(round.with_discarded) || start >= round.high {
        return false;
    }
    let begins = round.begin();
    let goes_on = || {
        let (value, rest) = (gesture.value_at(begins), at_rest(gesture.control));
        // A controller without a rest keeps its setting; only later moves are recorded.
        round.first && value.is_some() && rest.is_some() && value != rest
    };
    start >= round.low || gesture.fate == Fate::Free && goes_on()
}

impl Round {
    /// Where its take begins, if this is the first round: where the music begins, at a seam, or where record
    /// was pressed.
    fn begin(&self) -> Tick {
        self.from.max(self.punch.from)
    }
}

/// A lane for each gesture.
fn lanes(gestures: &[&Gesture], round: &Round, frame: &Frame<'_>) -> Vec<Lane> {
    let mut lanes: BTreeMap<LaneId, Lane> = BTreeMap::new();
    for gesture in gestures {
        let lane = lane(gesture, round, frame);
        // Two keys may have become the same key by transposition.
        lanes.entry(lane.id()).or_insert(lane);
    }
    lanes.into_values().collect()
}

/// The lane of a gesture, in ticks from the start of the pass.
fn lane(gesture: &Gesture, round: &Round, frame: &Frame<'_>) -> Lane {
    let control = match gesture.control {
        Control::KeyPressure(key) => {
            Control::KeyPressure(transposed(key, -frame.transpose.at(gesture.start())))
        }
        control => control,
    };
    let begin = round.begin();
    let start = if gesture.start() < round.low { begin } else { gesture.start() };
    let clipped = gesture.value_at(start).filter(|_| gesture.start() < start);
    let first = clipped.map(|value| Point::step(start - round.from, value));
    let later = gesture.moves.iter().filter(|&&(at, _)| clipped.is_none() || at > start);
    let mut points: Vec<Point> = first.into_iter().collect();
    for &(at, value) in later {
        let at = at - round.from;
        // The last of several moves at one tick counts.
        if points.last().is_some_and(|last| last.at == at) {
            points.pop();
        }
        points.push(Point::step(at, value));
    }
    let last = points.last().map_or(start - round.from, |point| point.at);
    let to = lane_end(gesture, last, start - round.from, round.length, frame.metre);
    let span = Span::new(start - round.from, to);
    Lane { channel: gesture.channel, control, span, points }
}

/// Where the lane of a gesture ends, in a pass of this length in which it starts at `start` and has its
/// last move at `last`. If that move brings the controller to rest, the lane ends with it. If a pedal
/// is held, it ends where it would start again. Otherwise it ends a bar after the last move, or at the
/// end of the pass.
pub(crate) fn lane_end(
    gesture: &Gesture,
    last: Tick,
    start: Tick,
    length: Tick,
    metre: &MetreMap,
) -> Tick {
    let value = gesture.moves.last().map(|&(_, value)| value);
    if value == at_rest(gesture.control) {
        return last + Tick(1);
    }
    let end = if gesture.is_held() {
        start + length
    } else {
        (last + metre.metre_at(last).bar()).min(length)
    };
    end.max(last + Tick(1))
}

/// The spans in which the pass silences the layers under it.
pub(crate) fn covers(notes: &[Note], round: &Round, frame: &Frame<'_>) -> Vec<Span> {
    match round.mode {
        Mode::Layer => Vec::new(),
        Mode::Punch => {
            let from = (round.punch.from - round.from).max(Tick::ZERO);
            let to = (round.punch.to - round.from).min(round.length);
            let span = Span::new(from, to);
            if span.is_empty() { Vec::new() } else { vec![span] }
        }
        Mode::Replace => replaced(notes, round, frame),
    }
}

/// The spans from the first note in each bar to the end of that bar.
fn replaced(notes: &[Note], round: &Round, frame: &Frame<'_>) -> Vec<Span> {
    let half = feel::half_step(&frame.feel);
    let mut bars: BTreeMap<i64, Tick> = BTreeMap::new();
    for note in notes {
        let start = note.played.start;
        let first = bars.entry(frame.metre.bar_at(start + half)).or_insert(start);
        *first = start.min(*first);
    }
    let mut covers: Vec<Span> = Vec::new();
    for (bar, first) in bars {
        let to = frame.metre.bar_start(bar + 1).min(round.length);
        let from = first.max(Tick::ZERO).min(to);
        match covers.last_mut().filter(|last| last.to >= from) {
            Some(last) => last.to = to,
            None if from < to => covers.push(Span::new(from, to)),
            None => {}
        }
    }
    covers
}

#[cfg(test)]
mod tests;
