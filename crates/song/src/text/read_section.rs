//! Sections: letter, bars, metres and tempi.

use super::layout::{MetreText, SectionText, TempoText};
use super::leaf::Leaf;
use super::read::Reader;
use super::read_pass;
use crate::{Letter, Section, rules};
use chaconne_time::{Metre, MetreChange, MetreMap, Tempo, TempoMap, TempoPoint, Tick, pulse};
use std::sync::Arc;

/// A section. Where its bars or metres are wrong, its passes are not looked at.
pub(super) fn section<'a>(
    reader: &mut Reader<'a>,
    letter: Option<Letter>,
    text: &SectionText<'a>,
) -> Option<Section> {
    let most = i64::from(MetreMap::MAX_BARS);
    let bars = reader.faults.number(text.bars, "bars", 1, most);
    let changes = metres(reader, text.metre, bars.unwrap_or(most));
    let map = MetreMap::with_changes(bars? as u32, changes?);
    let metre = reader.faults.keep(text.metre, map)?;
    let tempo = tempi(reader, text.tempo, &metre);
    let passes: Vec<_> =
        text.passes.iter().map(|pass| read_pass::pass(reader, pass, &metre)).collect();
    let passes: Option<Vec<_>> = passes.into_iter().map(|pass| pass.map(Arc::new)).collect();
    Some(Section { letter: letter?, metre, tempo: tempo?, passes: passes? })
}

/// Whether a field holds a list rather than a single value.
fn is_list(leaf: Leaf<'_>) -> bool {
    leaf.spelt().starts_with('[')
}

fn metres<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>, bars: i64) -> Option<Vec<MetreChange>> {
    if !is_list(leaf) {
        let metre = reader.faults.said(leaf, "metre", str::parse)?;
        return Some(vec![MetreChange { bar: 1, metre }]);
    }
    let texts: Vec<MetreText<'a>> = reader.faults.nested(leaf)?;
    if texts.is_empty() {
        reader.faults.add(leaf, "the list is empty; it needs at least one metre");
        return None;
    }
    let mut changes = Vec::with_capacity(texts.len());
    let mut next = 1;
    for text in &texts {
        let bar = reader.faults.number(text.bar, "bar", next, if next == 1 { 1 } else { bars });
        next = bar.unwrap_or(next) + 1;
        let metre = metre(reader, text);
        changes.push(bar.zip(metre).map(|(bar, metre)| MetreChange { bar: bar as u32, metre }));
    }
    changes.into_iter().collect()
}

fn metre<'a>(reader: &mut Reader<'a>, text: &MetreText<'a>) -> Option<Metre> {
    let mut metre: Metre = reader.faults.said(text.metre, "metre", str::parse)?;
    if let Some(leaf) = text.groups {
        let groups = reader.faults.said(leaf, "groups", groups)?;
        metre = reader.faults.keep(leaf, metre.grouped(groups))?;
    }
    if let Some(leaf) = text.tempo_unit {
        metre = metre.told_in(reader.faults.said(leaf, "tempo_unit", str::parse)?);
    }
    Some(metre)
}

/// How beats group: `2+2+3`.
fn groups(text: &str) -> Result<Vec<u8>, String> {
    let groups: Result<Vec<u8>, _> = text.split('+').map(str::parse).collect();
    groups.map_err(|_| format!("groups '{text}' is not numbers of beats such as 2+2+3"))
}

fn tempi<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>, metre: &MetreMap) -> Option<TempoMap> {
    if !is_list(leaf) {
        return tempo(reader, leaf).map(TempoMap::new);
    }
    let texts: Vec<TempoText<'a>> = reader.faults.nested(leaf)?;
    if texts.is_empty() {
        reader.faults.add(leaf, "the list is empty; it needs at least one tempo");
        return None;
    }
    let mut points: Vec<Option<TempoPoint>> = Vec::with_capacity(texts.len());
    let mut before = None;
    for text in &texts {
        let point = tempo_point(reader, text, metre).filter(|point| {
            let result = follows(metre, before, point.at);
            reader.faults.keep(text.at, result).is_some()
        });
        if let Some(point) = &point {
            before = Some(point.at + pulse::tick_of(point.tempi.len() as i64 - 1));
        }
        points.push(point);
    }
    let points: Option<Vec<TempoPoint>> = points.into_iter().collect();
    reader.faults.keep(leaf, TempoMap::with_points(points?))
}

/// Whether a tempo point comes after the one before has ended; the first is at the start.
fn follows(metre: &MetreMap, before: Option<Tick>, at: Tick) -> Result<(), String> {
    match before {
        None if at != Tick::ZERO => {
            Err(format!("the first tempo is at {}; it must be at 1.1.0", metre.place(at)))
        }
        Some(before) if at <= before => Err(format!(
            "the tempo at {} must come after the one before it has ended, at {}",
            metre.place(at),
            metre.place(before)
        )),
        _ => Ok(()),
    }
}

fn tempo<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<Tempo> {
    let (low, high) = (i64::from(Tempo::FASTEST.micros()), i64::from(Tempo::SLOWEST.micros()));
    let what = "tempo in microseconds per quarter note,";
    let micros = reader.faults.number(leaf, what, low, high)?;
    reader.faults.keep(leaf, Tempo::from_micros(micros as u32))
}

fn tempo_point<'a>(
    reader: &mut Reader<'a>,
    text: &TempoText<'a>,
    metre: &MetreMap,
) -> Option<TempoPoint> {
    let at = reader.faults.tick(text.at, "at", metre);
    let tempi = match (text.tempo, text.ramp) {
        (Some(leaf), None) => tempo(reader, leaf).map(|tempo| vec![tempo]),
        (None, Some(leaf)) => ramp(reader, leaf),
        _ => {
            reader.faults.add(text.at, "a tempo has either the field 'tempo' or the field 'ramp'");
            None
        }
    };
    let point = TempoPoint { at: at?, tempi: tempi? };
    reader.faults.keep(text.at, rules::tempo_point(metre, &point))?;
    Some(point)
}

fn ramp<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<Vec<Tempo>> {
    let leaves: Vec<Leaf<'a>> = reader.faults.nested(leaf)?;
    if leaves.is_empty() {
        reader.faults.add(leaf, "the list is empty; a ramp needs at least one tempo");
        return None;
    }
    let tempi: Vec<_> = leaves.into_iter().map(|leaf| tempo(reader, leaf)).collect();
    tempi.into_iter().collect()
}
