//! Tempo: by value, by proportion, and ramps over bars.

use super::{ArrangeError, commit, found, refused};
use crate::{Commit, Edit, Label, Letter, Section, SectionEdit, Song};
use chaconne_time::{Span, Tempo, TempoMap, TempoPoint, Tick, TimeError, pulse};

fn told(error: TimeError) -> ArrangeError {
    ArrangeError(error.to_string())
}

fn edit(section: &Section, tempo: TempoMap) -> Option<Edit> {
    let changes = tempo != section.tempo;
    changes.then_some(Edit::Section(section.letter, SectionEdit::Tempo(tempo)))
}

/// A tempo in thousandths of a beat per minute, as the bar counts its beats.
fn beats(section: &Section, bar: u32, milli: u64) -> Result<Tempo, ArrangeError> {
    let unit = section.metre.metre_of(i64::from(bar)).tempo_unit();
    Tempo::of_milli_beats(milli, unit).map_err(told)
}

/// The label for a change of the tempo of these sections.
fn label(letters: &[Letter]) -> Label {
    if letters.len() == 1 { Label::Tempo } else { Label::SongTempo }
}

/// Gives sections a first tempo, in thousandths of a beat per minute as each counts its beats. Their other
/// tempi change in proportion.
///
/// # Errors
/// If a tempo would be out of range, or all are like that already: the reason.
pub fn set_tempo(song: &Song, letters: &[Letter], milli: u64) -> Result<Commit, ArrangeError> {
    let mut edits = Vec::new();
    for &letter in letters {
        let section = found(song, letter)?;
        let (before, now) = (section.tempo.first(), beats(section, 1, milli)?);
        let map = stretched(section, now.micros().into(), before.micros().into())?;
        edits.extend(edit(section, map));
    }
    commit(song, label(letters), edits)
}

/// Sets the tempo from the start of a bar on, up to the next change of tempo. A ramp that goes on there
/// ends there.
///
/// # Errors
/// If the section has no such bar, or the tempo is out of range: the reason.
pub fn set_tempo_at(
    song: &Song,
    letter: Letter,
    bar: u32,
    milli: u64,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let at = bars(section, bar, bar)?.from;
    let point = TempoPoint { at, tempi: vec![beats(section, bar, milli)?] };
    let tempo = with_point(&section.tempo, point, at + Tick(1))?;
    commit(song, Label::Tempo, edit(section, tempo).into_iter().collect())
}

/// Makes every tempo of these sections longer in the proportion `now` to `before`: twice as slow for 2 to
/// 1. Each is rounded to the nearest microsecond per quarter note.
///
/// # Errors
/// If a tempo would be out of range, or nothing would change: the reason.
pub fn stretch_tempi(
    song: &Song,
    letters: &[Letter],
    (now, before): (u64, u64),
) -> Result<Commit, ArrangeError> {
    let mut edits = Vec::new();
    for &letter in letters {
        let section = found(song, letter)?;
        edits.extend(edit(section, stretched(section, now, before)?));
    }
    commit(song, label(letters), edits)
}

fn stretched(section: &Section, now: u64, before: u64) -> Result<TempoMap, ArrangeError> {
    let (now, before) = (u128::from(now), u128::from(before.max(1)));
    let change = |tempo: &Tempo| {
        let micros = (2 * u128::from(tempo.micros()) * now + before) / (2 * before);
        let to = u32::try_from(micros).ok().and_then(|micros| Tempo::from_micros(micros).ok());
        to.ok_or_else(|| {
            ArrangeError(format!(
                "a tempo of section {} would be outside 10 to 1000 quarter notes per minute",
                section.letter
            ))
        })
    };
    let point = |point: &TempoPoint| {
        let tempi: Result<Vec<Tempo>, _> = point.tempi.iter().map(change).collect();
        Ok(TempoPoint { at: point.at, tempi: tempi? })
    };
    let points: Result<Vec<TempoPoint>, ArrangeError> =
        section.tempo.points().iter().map(point).collect();
    TempoMap::with_points(points?).map_err(told)
}

/// Makes the tempo change evenly, a step a pulse, from the start of the bar `first`, where it is what it
/// was, to a tempo that it reaches at the end of the bar `last`, in thousandths of a beat per minute. It
/// stays there until the next change of tempo. Changes of tempo inside these bars are replaced.
///
/// # Errors
/// If the section does not have these bars, or the tempo is out of range or in force already: the
/// reason.
pub fn set_ramp(
    song: &Song,
    letter: Letter,
    (first, last): (u32, u32),
    milli: u64,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let span = bars(section, first, last)?;
    let (from, to) = (section.tempo.at(span.from), beats(section, last, milli)?);
    if from == to {
        return refused(format!("the tempo at bar {first} is that already"));
    }
    let steps = (span.length().0 + pulse::TICKS_PER_PULSE - 1) / pulse::TICKS_PER_PULSE;
    let mut tempi = Vec::new();
    for step in 0..steps {
        tempi.push(between(from, to, step, steps - 1)?);
    }
    let point = TempoPoint { at: span.from, tempi };
    let tempo = with_point(&section.tempo, point, span.to)?;
    commit(song, Label::TempoRamp, edit(section, tempo).into_iter().collect())
}

/// The tempo after `step` of `steps` steps that are even in beats per minute.
fn between(from: Tempo, to: Tempo, step: i64, steps: i64) -> Result<Tempo, ArrangeError> {
    let (from, to) = (u128::from(from.micros()), u128::from(to.micros()));
    let step = u128::from(step.unsigned_abs());
    let steps = u128::from(steps.max(1).unsigned_abs());
    // Beats per minute are the inverse of the length of a beat.
    let below = to * (steps - step) + from * step;
    let micros = (2 * steps * from * to + below) / (2 * below);
    Tempo::from_micros(u32::try_from(micros).unwrap_or(0)).map_err(told)
}

/// Removes the ramp that a bar is part of: the tempo is then what it was before, up to the next change.
///
/// # Errors
/// If there is no ramp in that bar: the reason.
pub fn remove_ramp(song: &Song, letter: Letter, bar: u32) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let span = bars(section, bar, bar)?;
    let is_there = |point: &TempoPoint| {
        let end = point.at + pulse::tick_of(point.tempi.len() as i64);
        point.tempi.len() > 1 && point.at < span.to && span.from < end
    };
    let Some(index) = section.tempo.points().iter().position(is_there) else {
        return refused(format!("bar {bar} of section {letter} has no ramp"));
    };
    let mut points = section.tempo.points().to_vec();
    match index {
        0 => points[0].tempi.truncate(1),
        _ => drop(points.remove(index)),
    }
    let tempo = TempoMap::with_points(points).map_err(told)?;
    commit(song, Label::RemoveRamp, edit(section, tempo).into_iter().collect())
}

/// The span of bars of a section, the last included.
fn bars(section: &Section, first: u32, last: u32) -> Result<Span, ArrangeError> {
    let count = section.metre.bars();
    if first < 1 || last < first || last > count {
        let given = if first == last { format!("{first}") } else { format!("{first} to {last}") };
        return refused(format!("section {} has bars 1 to {count}, not {given}", section.letter));
    }
    let tick = |bar: u32| section.metre.bar_start(i64::from(bar));
    Ok(Span::new(tick(first), tick(last + 1)))
}

/// The map with a point in place of those from it up to a tick. A ramp before it ends where it begins.
fn with_point(map: &TempoMap, new: TempoPoint, to: Tick) -> Result<TempoMap, ArrangeError> {
    let mut points = Vec::new();
    for point in map.points().iter().filter(|point| point.at < new.at) {
        let before = |k: &usize| point.at + pulse::tick_of(*k as i64) < new.at;
        let count = (0..point.tempi.len()).take_while(before).count();
        points.push(TempoPoint { at: point.at, tempi: point.tempi[..count].to_vec() });
    }
    points.push(new);
    points.extend(map.points().iter().filter(|point| point.at >= to).cloned());
    TempoMap::with_points(points).map_err(told)
}
