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
    let bars: Vec<_> =
        texts.iter().map(|text| reader.faults.number(text.bar, "bar", 1, bars)).collect();
    let metres: Vec<_> = texts.iter().map(|text| metre(reader, text)).collect();
    let mut good = true;
    for (index, text) in texts.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| bars[before]);
        let follows = bar_follows(before, bars[index]);
        good &= reader.faults.keep(text.bar, follows).is_some();
    }
    let changes = bars
        .into_iter()
        .zip(metres)
        .map(|(bar, metre)| Some(MetreChange { bar: bar? as u32, metre: metre? }));
    changes.collect::<Option<_>>().filter(|_| good)
}

/// Whether a metre comes after the one before; the first is at bar 1. A bar that was wrong by
/// itself is passed over.
fn bar_follows(before: Option<Option<i64>>, bar: Option<i64>) -> Result<(), String> {
    match (before, bar) {
        (None, Some(bar)) if bar != 1 => {
            Err(format!("the first metre is at bar {bar}; it must be at bar 1"))
        }
        (Some(Some(before)), Some(bar)) if bar <= before => {
            Err(format!("the metre at bar {bar} must come after the one at bar {before}"))
        }
        _ => Ok(()),
    }
}

fn metre<'a>(reader: &mut Reader<'a>, text: &MetreText<'a>) -> Option<Metre> {
    let mut metre: Metre = reader.faults.said(text.metre, "metre", str::parse)?;
    if let Some(leaf) = text.groups {
        let groups = reader.faults.said(leaf, "groups", groups)?;
        metre = reader.faults.keep(leaf, metre.grouped(groups))?;
    }
    if let Some(leaf) = text.tempo_unit {
        metre = metre.with_tempo_unit(reader.faults.said(leaf, "tempo_unit", str::parse)?);
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
    let points: Vec<_> = texts.iter().map(|text| tempo_point(reader, text, metre)).collect();
    let mut good = true;
    for (index, text) in texts.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| points[before].as_ref());
        let follows = point_follows(metre, before, points[index].as_ref());
        good &= reader.faults.keep(text.at, follows).is_some();
    }
    let points: Option<Vec<TempoPoint>> = points.into_iter().collect();
    let map = TempoMap::with_points(points.filter(|_| good)?);
    reader.faults.keep(leaf, map)
}

/// Whether a tempo point comes after the one before has ended; the first is at the start. A
/// point that was wrong by itself is passed over.
fn point_follows(
    metre: &MetreMap,
    before: Option<Option<&TempoPoint>>,
    point: Option<&TempoPoint>,
) -> Result<(), String> {
    let (Some(point), None | Some(Some(_))) = (point, before) else { return Ok(()) };
    let at = metre.place(point.at);
    let Some(before) = before.flatten() else {
        return match point.at {
            Tick::ZERO => Ok(()),
            _ => Err(format!("the first tempo is at {at}; it must be at 1.1.0")),
        };
    };
    let ended = before.at + pulse::tick_of(before.tempi.len() as i64 - 1);
    if point.at > ended {
        return Ok(());
    }
    let ended = metre.place(ended);
    Err(format!("the tempo at {at} must come after the one before it has ended, at {ended}"))
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
