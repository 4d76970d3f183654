//! Half time and double time: the same music over twice or half the bars, at the same tempo.

use super::frame::Bars;
use super::length::{Part, half_of, with_new};
use super::{ArrangeError, commit, found, rebuild, refused};
use crate::{
    Chord, Commit, Label, Lane, Letter, Pass, Placed, Point, Section, SharedPass, Song, Stroke,
};
use chaconne_time::{MetreChange, MetreMap, Span, TempoMap, TempoPoint, Tick};

/// How fast music goes against its beat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speed {
    /// Half time: everything takes twice as long.
    Half,
    /// Double time: everything takes half as long.
    Double,
}

/// Puts a section or layers of it into half time or double time: starts and lengths as played and as
/// placed, gestures, covers, and in a section bars, chords and tempo changes too. In double time, odd
/// ticks are rounded down, so half time followed by double time gives back the same.
///
/// # Errors
/// If half of the bars, or of a layer, is not a whole number of bars or beats: the reason.
pub fn change_speed(
    song: &Song,
    letter: Letter,
    part: Part,
    speed: Speed,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let make = |pass: &SharedPass| {
        if speed == Speed::Double {
            half_of(song, section, pass)?;
        }
        Ok(Some(vec![changed(pass, speed)]))
    };
    let label = match speed {
        Speed::Half => Label::HalfTime,
        Speed::Double => Label::DoubleTime,
    };
    let mut ids = song.ids();
    if part == Part::Section && section.layers.is_empty() {
        return refused(format!("section {letter} has no layers"));
    }
    let stack = with_new(song, section, part, &mut ids, make)?;
    let frame = match part {
        Part::Section => changed_bars(section, speed)?,
        _ => Bars::of(section),
    };
    commit(song, label, rebuild(section, frame, stack))
}

impl Speed {
    fn of(self, at: Tick) -> Tick {
        match self {
            Speed::Half => at * 2,
            Speed::Double => Tick(at.0.div_euclid(2)),
        }
    }

    /// An end, or a length: at least 1 tick after its start.
    fn up(self, at: Tick) -> Tick {
        match self {
            Speed::Half => at * 2,
            Speed::Double => Tick((at.0 + 1).div_euclid(2)),
        }
    }
}

fn changed(pass: &Pass, speed: Speed) -> Pass {
    let length = speed.of(pass.length);
    let mut pass = Pass { length, ..pass.clone() };
    let span = |span: &Span| Span::new(speed.of(span.from), speed.up(span.to));
    let covers: Vec<Span> = pass.covers.iter().map(span).collect();
    pass.covers.clear();
    for cover in covers {
        let last = pass.covers.last().map_or(-length, |last| last.to);
        let cover = Span::new(cover.from.max(last), cover.to.min(length));
        pass.covers.extend((!cover.is_empty()).then_some(cover));
    }
    let content = pass.notes_mut();
    let long = |at: Tick| speed.of(at).max(Tick(1));
    let start = |at: Tick| speed.of(at).max(Tick(1) - length);
    for note in &mut content.notes {
        let Stroke { start: at, length, .. } = note.played;
        note.played = Stroke { start: start(at), length: long(length), ..note.played };
        let Placed { start: at, length, .. } = note.placed;
        note.placed = Placed { start: at.map(start), length: length.map(long), ..note.placed };
    }
    let lanes = std::mem::take(&mut content.lanes);
    for lane in lanes {
        let point = |point: &Point| Point { at: speed.of(point.at), ..*point };
        let points = lane.points.iter().map(point).collect();
        let lane = Lane { span: span(&lane.span), points, ..lane };
        if content.lanes.last().is_none_or(|last| last.id() != lane.id()) {
            content.lanes.push(lane);
        }
    }
    content.sysex.iter_mut().for_each(|message| message.at = start(message.at));
    pass.sort();
    pass
}

fn changed_bars(section: &Section, speed: Speed) -> Result<Bars, ArrangeError> {
    let told = |error: chaconne_time::TimeError| ArrangeError(error.to_string());
    let bars = section.metre.bars();
    let changes = section.metre.changes();
    if section.metre.pickup().is_some() {
        return refused(format!(
            "section {} begins with a pickup: give it a plain metre first, and a pickup again afterwards",
            section.letter
        ));
    }
    let even = bars.is_multiple_of(2) && changes.iter().all(|change| change.bar % 2 == 1);
    if speed == Speed::Double && !even {
        return refused(format!(
            "the bars of section {} cannot be taken two by two: it has {bars}, and every metre must \
             last an even number of them",
            section.letter
        ));
    }
    let bar = |bar: u32| match speed {
        Speed::Half => bar * 2 - 1,
        Speed::Double => bar.div_ceil(2),
    };
    let change = |change: &MetreChange| MetreChange { bar: bar(change.bar), ..change.clone() };
    let count = if speed == Speed::Half { bars * 2 } else { bars / 2 };
    let metre =
        MetreMap::with_changes(count, changes.iter().map(change).collect()).map_err(told)?;
    let point = |point: &TempoPoint| TempoPoint {
        at: speed.of(point.at),
        tempi: match speed {
            // The last tempo stays in force, and must not take up a pulse of what follows.
            Speed::Half => {
                let twice = point.tempi.iter().flat_map(|&tempo| [tempo; 2]);
                twice.take(point.tempi.len() * 2 - 1).collect()
            }
            Speed::Double => point.tempi.iter().copied().step_by(2).collect(),
        },
    };
    let tempo = TempoMap::with_points(section.tempo.points().iter().map(point).collect());
    let mut chords: Vec<Chord> = Vec::new();
    for chord in &section.chords {
        let chord = Chord { at: speed.of(chord.at), ..*chord };
        if chords.last().is_some_and(|last| last.at == chord.at) {
            chords.pop();
        }
        chords.push(chord);
    }
    let mut fermatas: Vec<Tick> = section.fermatas.iter().map(|&at| speed.of(at)).collect();
    fermatas.dedup();
    Ok(Bars { metre, tempo: tempo.map_err(told)?, fermatas, chords })
}
