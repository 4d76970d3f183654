//! Assembling a pass from what was caught in a round.
//!
//! A start within half a grid step before a seam belongs to what begins there (rule 1); of a
//! roll, the loudest stroke decides for all. A note or pedal still down at the end of its round
//! gets its full possible length for now, and its true one when it is let go.

use crate::capture::{Capture, Caught, Stamp};
use crate::{Mode, feel};
use chaconne_song::{
    Channel, Control, Feel, Lane, Note, NoteId, Pass, PassId, Placed, Point, Stroke, SysEx,
    TrackId, U14, transposed,
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
    /// Controllers and system-exclusive messages before this belong to it.
    pub off: Tick,
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
    pub stamps: Vec<u64>,
    pub held: Vec<NoteId>,
    pub held_stamps: Vec<u64>,
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
    let stamps: Vec<&Stamp> = capture
        .stamps
        .iter()
        .filter(|stamp| {
            stamp.fate.is_free(round.anew)
                && round.low <= stamp.start()
                && stamp.start() < round.high
        })
        .collect();
    content.lanes = pedal_lanes(&stamps, &round);
    content.lanes.extend(move_lanes(capture, &round, &frame));
    let end = round.off.min(round.from + round.length);
    content.sysex = capture
        .sysex
        .iter()
        .filter(|message| message.fate.is_free(round.anew))
        .filter(|message| round.from.max(round.low) <= message.at && message.at < end)
        .map(|message| SysEx { at: message.at - round.from, bytes: message.bytes.clone() })
        .collect();
    pass.covers = covers(pass.notes(), &round, &frame);
    pass.sort();
    Draft {
        pass,
        notes: owned.iter().map(|caught| caught.id).collect(),
        stamps: stamps.iter().map(|stamp| stamp.number).collect(),
        held: owned.iter().filter(|caught| caught.end.is_none()).map(|caught| caught.id).collect(),
        held_stamps: stamps.iter().filter(|stamp| !stamp.up).map(|stamp| stamp.number).collect(),
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
    Note { id: caught.id, channel: caught.channel, played, placed: Placed::NOWHERE }
}

/// The sustain lane of each channel.
fn pedal_lanes(stamps: &[&Stamp], round: &Round) -> Vec<Lane> {
    let mut lanes: BTreeMap<Channel, Lane> = BTreeMap::new();
    for stamp in stamps {
        let lane = lanes.entry(stamp.channel).or_insert_with(|| Lane {
            channel: stamp.channel,
            control: Control::SUSTAIN,
            span: Span::new(stamp.start() - round.from, Tick::ZERO),
            points: Vec::new(),
        });
        let (points, to) = pedal_points(stamp, round.from, round.length);
        lane.points.extend(points);
        lane.span.to = to;
    }
    lanes.into_values().collect()
}

/// The moves of a pedal stroke from a pass's start, and where the pass stops owning the pedal:
/// when it has come up, or at the latest where the stroke starts again.
pub(crate) fn pedal_points(stamp: &Stamp, from: Tick, length: Tick) -> (Vec<Point>, Tick) {
    let start = stamp.start() - from;
    let again = start + length;
    let points: Vec<Point> = stamp
        .moves
        .iter()
        .map(|&(at, value)| Point::step(at - from, value))
        .filter(|point| point.at < again)
        .collect();
    let last = points.last().map_or(start, |point| point.at);
    let came_up = stamp.up && points.last().is_some_and(|point| point.value == U14::default());
    (points, if came_up { last + Tick(1) } else { again })
}

/// The lanes of all other controllers: a live touch wins until the seam, and so it is kept.
fn move_lanes(capture: &Capture, round: &Round, frame: &Frame<'_>) -> Vec<Lane> {
    let end = round.off.min(round.from + round.length);
    let span = Span::new(round.from.max(round.low), end);
    let mut lanes: BTreeMap<(Channel, Control), Lane> = BTreeMap::new();
    for moved in capture
        .moves
        .iter()
        .filter(|moved| moved.fate.is_free(round.anew) && span.contains(moved.at))
    {
        let at = moved.at - round.from;
        let control = match moved.control {
            Control::KeyPressure(key) => Control::KeyPressure(transposed(key, -frame.transpose)),
            control => control,
        };
        let lane = lanes.entry((moved.channel, control)).or_insert_with(|| Lane {
            channel: moved.channel,
            control,
            span: Span::new(at, round.length),
            points: Vec::new(),
        });
        // Of several moves at one tick the last one counts.
        if lane.points.last().is_some_and(|last| last.at == at) {
            lane.points.pop();
        }
        lane.points.push(Point::step(at, moved.value));
    }
    lanes.into_values().collect()
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
