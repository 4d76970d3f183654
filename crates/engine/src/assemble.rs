//! Assembling a pass from what was caught in a round.
//!
//! A start within half a grid step before a seam belongs to what begins there (rule 1); of a
//! roll, the loudest stroke decides for all. A note still down at the end of its round gets its
//! full possible length for now, and its true one when it is let go; so does a gesture that goes on.
//! What a pedal or wheel was doing when the take began is where the take's first pass starts.

use crate::capture::{Capture, Caught, Fate, Gesture};
use crate::gestures::at_rest;
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
    /// Where the pass starts, and how long it is.
    pub from: Tick,
    pub length: Tick,
    /// Starts from `low` up to `high` belong to it.
    pub low: Tick,
    pub high: Tick,
    /// System-exclusive messages before this belong to it.
    pub off: Tick,
    /// Whether a take begins with it.
    pub first: bool,
    /// Record on and record off, for a punch.
    pub punch: Span,
    pub mode: Mode,
    /// Whether what undo threw away belongs to it, too.
    pub anew: bool,
}

/// A pass in the making, and what of it is not finished.
#[derive(Debug, Clone)]
pub(crate) struct Draft {
    pub pass: Pass,
    pub notes: Vec<NoteId>,
    pub gestures: Vec<u64>,
    pub held: Vec<NoteId>,
    /// The gestures that may go on, and their lanes.
    pub going: Vec<(u64, LaneId)>,
}

/// What a round belongs to.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame<'a> {
    pub id: PassId,
    pub track: TrackId,
    pub feel: Feel,
    /// By how many semitones the pass will be transposed when it is performed.
    pub transpose: i32,
    pub metre: &'a MetreMap,
}

/// The longest a roll reaches back: 50 ms at the fastest tempo, in ticks.
const ROLL_REACH: Tick = Tick(960);

/// Assembles the pass of a round. `tempo_at` tells the tempo at a transport tick.
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
        .filter(|message| message.fate.is_free(round.anew))
        .filter(|message| round.from.max(round.low) <= message.at && message.at < end)
        .map(|message| SysEx { at: message.at - round.from, bytes: message.bytes.clone() })
        .collect();
    pass.covers = covers(pass.notes(), &round, &frame);
    let rests = gestures.iter().all(|gesture| gesture.only_rests());
    if rests && pass.notes().is_empty() && pass.sysex().is_empty() {
        // A controller at rest that was told to rest makes no pass.
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
    let free = capture.notes.iter().filter(|caught| caught.fate.is_free(round.anew));
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

/// The stroke of a caught note in a pass that starts at `from`; a held one gets the most it can.
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

/// The note of a pass. The player heard the key that was struck, and hears it again when the pass
/// is transposed.
fn note(caught: &Caught, round: &Round, frame: &Frame<'_>) -> Note {
    let stroke = stroke(caught, round.from, round.length);
    let played = Stroke { key: transposed(stroke.key, -frame.transpose), ..stroke };
    Note { id: caught.id, channel: caught.channel, played, placed: Placed::UNCHANGED }
}

/// Whether a gesture belongs to a round: it begins in it, or was away from rest when its take began.
fn owns(round: &Round, gesture: &Gesture) -> bool {
    let start = gesture.start();
    if !gesture.fate.is_free(round.anew) || start >= round.high {
        return false;
    }
    let begins = round.begin();
    let goes_on = || {
        let (value, rest) = (gesture.value_at(begins), at_rest(gesture.control));
        // What has no rest was set, not moved.
        round.first && value.is_some() && rest.is_some() && value != rest
    };
    start >= round.low || gesture.fate == Fate::Free && goes_on()
}

impl Round {
    /// Where a take that begins with it begins: at a seam, or where the foot came.
    fn begin(&self) -> Tick {
        self.from.max(self.low)
    }
}

/// A lane for each gesture.
fn lanes(gestures: &[&Gesture], round: &Round, frame: &Frame<'_>) -> Vec<Lane> {
    let mut lanes: BTreeMap<LaneId, Lane> = BTreeMap::new();
    for gesture in gestures {
        let lane = lane(gesture, round, frame);
        // Two keys may have become one by transposition.
        lanes.entry(lane.id()).or_insert(lane);
    }
    lanes.into_values().collect()
}

/// The lane of a gesture. One that goes on has its controller until it would start again.
fn lane(gesture: &Gesture, round: &Round, frame: &Frame<'_>) -> Lane {
    let control = match gesture.control {
        Control::KeyPressure(key) => Control::KeyPressure(transposed(key, -frame.transpose)),
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
        // Of several moves at one tick the last one counts.
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

/// Where the lane of a gesture ends, in a pass of this length in which it starts at `start` and has
/// its last move at `last`: with that move where it brings the controller to rest; where it starts
/// again while a pedal is held; else a bar later, but not past the end of the pass for that.
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

/// Where the pass silences what lies under it.
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

/// From the first note in each bar to the end of that bar.
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
