//! Reads sections: letter, name, key, bars, metres, tempi, fermatas, chords and layers.

use super::layout::{
    ChordText, LayerText, MetreText, PassText, SectionText, SharedText, TempoText,
};
use super::leaf::Leaf;
use super::read::Reader;
use super::read_pass;
use crate::{Chord, Layer, Letter, PassId, Section, Song, rules};
use chaconne_time::{Metre, MetreChange, MetreMap, Tempo, TempoMap, TempoPoint, Tick, pulse};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Reads a section. If its bars or metres are wrong, its passes are not read, because they cannot be
/// checked.
pub(super) fn section<'a>(
    reader: &mut Reader<'a>,
    letter: Option<Letter>,
    text: &SectionText<'a>,
) -> Option<Section> {
    let most = i64::from(MetreMap::MAX_BARS);
    // If this returns before the passes are read, a later section may still name them.
    let lost = std::mem::replace(&mut reader.lost.pass, true);
    let bars = reader.faults.number(text.bars, "bars", 1, most);
    let changes = metres(reader, text.metre, bars.unwrap_or(most));
    let map = MetreMap::with_changes(bars? as u32, changes?);
    let metre = reader.faults.keep(text.metre, map)?;
    reader.lost.pass = lost;
    let name = reader.or(text.name, String::new(), |reader, leaf| {
        Some(reader.faults.string(leaf, "name")?.into_owned())
    });
    let key = reader.key(text.key);
    let transpose = reader.transpose(text.transpose);
    let tempo = tempi(reader, text.tempo, Some(&metre));
    let fermatas = fermatas(reader, &text.fermatas, &metre);
    let chords = chords(reader, &text.chords, &metre);
    let layers = layers(reader, text, &metre);
    Some(Section {
        letter: letter?,
        name: name?,
        key: key?,
        transpose: transpose?,
        metre,
        tempo: tempo?,
        fermatas: fermatas?,
        chords: chords?,
        layers: layers?,
    })
}

fn layers<'a>(
    reader: &mut Reader<'a>,
    text: &SectionText<'a>,
    metre: &MetreMap,
) -> Option<Vec<Layer>> {
    let mut all = Some(Vec::with_capacity(text.layers.len()));
    let mut laid = BTreeMap::new();
    for text in &text.layers {
        let (layer, leaf) = match text {
            LayerText::Full(text) => (full(reader, text, metre), text.id),
            LayerText::Shared(text) => (shared(reader, text, metre), text.pass),
        };
        reader.lost.pass |= layer.is_none();
        if let Some(earlier) = layer.as_ref().and_then(|layer| laid.insert(layer.pass, leaf))
            && let LayerText::Shared(_) = text
        {
            reader.twice(leaf, earlier, "the section already has this pass on line");
        }
        match (layer, &mut all) {
            (Some(layer), Some(layers)) => layers.push(layer),
            _ => all = None,
        }
    }
    all
}

/// Reads a pass in full, where it first appears.
fn full<'a>(reader: &mut Reader<'a>, text: &PassText<'a>, metre: &MetreMap) -> Option<Layer> {
    let mute = mute(reader, text.mute);
    let metre = Some(metre).filter(|_| !reader.is_edit);
    let pass = read_pass::pass(reader, text, metre)?;
    let layer = Layer { pass: pass.id, mute: mute? };
    reader.passes.entry(pass.id).or_insert_with(|| Arc::new(pass));
    Some(layer)
}

/// Reads a layer that shares a pass of an earlier section.
fn shared<'a>(reader: &mut Reader<'a>, text: &SharedText<'a>, metre: &MetreMap) -> Option<Layer> {
    let mute = mute(reader, text.mute);
    let id = reader.faults.number(text.pass, "pass", 1, i64::from(Song::LAST_ID))? as u32;
    if reader.is_edit {
        return Some(Layer { pass: PassId(id), mute: mute? });
    }
    let Some(pass) = reader.passes.get(&PassId(id)) else {
        if !reader.lost.pass {
            let message = format!(
                "pass {id} is not in an earlier section; write it in full where it first appears"
            );
            reader.faults.add(text.pass, message);
        }
        return None;
    };
    let fits = rules::Frame::new(metre, pass.length).map(|_| ());
    reader.faults.keep(text.pass, fits)?;
    Some(Layer { pass: PassId(id), mute: mute? })
}

fn mute<'a>(reader: &mut Reader<'a>, leaf: Option<Leaf<'a>>) -> Option<bool> {
    reader.or(leaf, false, |reader, leaf| reader.faults.flag(leaf, "mute"))
}

fn fermatas<'a>(
    reader: &mut Reader<'a>,
    leaves: &[Leaf<'a>],
    metre: &MetreMap,
) -> Option<Vec<Tick>> {
    let mut all = Some(Vec::with_capacity(leaves.len()));
    let mut before = None;
    for &leaf in leaves {
        let at = reader.tick(leaf, "a fermata", Some(metre)).and_then(|at| {
            reader.faults.keep(leaf, rules::placed(metre, "fermata", at))?;
            reader.faults.keep(leaf, rules::follows(metre, "fermata", before, at))?;
            Some(at)
        });
        before = at.or(before);
        match (at, &mut all) {
            (Some(at), Some(fermatas)) => fermatas.push(at),
            _ => all = None,
        }
    }
    all
}

fn chords<'a>(
    reader: &mut Reader<'a>,
    texts: &[ChordText<'a>],
    metre: &MetreMap,
) -> Option<Vec<Chord>> {
    let mut before = None;
    let mut all = Some(Vec::with_capacity(texts.len()));
    for text in texts {
        let chord = chord(reader, text, metre, before);
        before = chord.map(|chord| chord.at).or(before);
        match (chord, &mut all) {
            (Some(chord), Some(chords)) => chords.push(chord),
            _ => all = None,
        }
    }
    all
}

fn chord<'a>(
    reader: &mut Reader<'a>,
    text: &ChordText<'a>,
    metre: &MetreMap,
    before: Option<Tick>,
) -> Option<Chord> {
    let at = reader.tick(text.at, "at", Some(metre));
    let symbol = reader.faults.parsed(text.chord, "chord", str::parse);
    let at = at?;
    reader.faults.keep(text.at, rules::placed(metre, "chord", at))?;
    reader.faults.keep(text.at, rules::follows(metre, "chord", before, at))?;
    Some(Chord { at, symbol: symbol? })
}

/// Whether a field holds a list rather than a single value.
fn is_list(leaf: Leaf<'_>) -> bool {
    leaf.spelt().starts_with('[')
}

pub(super) fn metres<'a>(
    reader: &mut Reader<'a>,
    leaf: Leaf<'a>,
    bars: i64,
) -> Option<Vec<MetreChange>> {
    if !is_list(leaf) {
        let metre = reader.faults.parsed(leaf, "metre", str::parse)?;
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

/// Checks that a metre comes after the one before it, and the first at bar 1. A bar that could not
/// be read is skipped, because it already has an error.
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
    let mut metre: Metre = reader.faults.parsed(text.metre, "metre", str::parse)?;
    if let Some(leaf) = text.groups {
        let groups = reader.faults.parsed(leaf, "groups", groups)?;
        metre = reader.faults.keep(leaf, metre.grouped(groups))?;
    }
    if let Some(leaf) = text.tempo_unit {
        metre = metre.with_tempo_unit(reader.faults.parsed(leaf, "tempo_unit", str::parse)?);
    }
    Some(metre)
}

/// Reads a grouping of beats: `2+2+3`.
fn groups(text: &str) -> Result<Vec<u8>, String> {
    let groups: Result<Vec<u8>, _> = text.split('+').map(str::parse).collect();
    groups.map_err(|_| format!("'{text}' is not a grouping: use numbers of beats, such as 2+2+3"))
}

/// Reads the tempi of a section: in a song with its metre, in an edit without.
pub(super) fn tempi<'a>(
    reader: &mut Reader<'a>,
    leaf: Leaf<'a>,
    metre: Option<&MetreMap>,
) -> Option<TempoMap> {
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

/// Checks that a tempo point comes after the end of the one before it, and the first at the start. A
/// point that could not be read is skipped, because it already has an error.
fn point_follows(
    metre: Option<&MetreMap>,
    before: Option<Option<&TempoPoint>>,
    point: Option<&TempoPoint>,
) -> Result<(), String> {
    let (Some(point), None | Some(Some(_))) = (point, before) else { return Ok(()) };
    let shown = |at: Tick| metre.map_or(at.0.to_string(), |metre| metre.place(at).to_string());
    let at = shown(point.at);
    let Some(before) = before.flatten() else {
        return match point.at {
            Tick::ZERO => Ok(()),
            _ => Err(format!("the first tempo is at {at}; it must be at {}", shown(Tick::ZERO))),
        };
    };
    let ended = before.at + pulse::tick_of(before.tempi.len() as i64 - 1);
    if point.at > ended {
        return Ok(());
    }
    let ended = shown(ended);
    Err(format!("the tempo at {at} must come after the end of the one before it, at {ended}"))
}

fn tempo<'a>(reader: &mut Reader<'a>, leaf: Leaf<'a>) -> Option<Tempo> {
    let (low, high) = (i64::from(Tempo::FASTEST.micros()), i64::from(Tempo::SLOWEST.micros()));
    let what = "tempo (microseconds per quarter note)";
    let micros = reader.faults.number(leaf, what, low, high)?;
    reader.faults.keep(leaf, Tempo::from_micros(micros as u32))
}

fn tempo_point<'a>(
    reader: &mut Reader<'a>,
    text: &TempoText<'a>,
    metre: Option<&MetreMap>,
) -> Option<TempoPoint> {
    let at = reader.tick(text.at, "at", metre);
    let tempi = match (text.tempo, text.ramp) {
        (Some(leaf), None) => tempo(reader, leaf).map(|tempo| vec![tempo]),
        (None, Some(leaf)) => ramp(reader, leaf),
        _ => {
            reader.faults.add(text.at, "a tempo has either the field 'tempo' or the field 'ramp'");
            None
        }
    };
    let point = TempoPoint { at: at?, tempi: tempi? };
    if let Some(metre) = metre {
        reader.faults.keep(text.at, rules::tempo_point(metre, &point))?;
    }
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
