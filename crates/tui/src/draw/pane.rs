//! The notes of the chosen track or layer below the rows of a view, on the same axis: what a tall screen
//! has room for. Nothing is edited here, so there is no cursor.
//!
//! In: the stage, which layers, and the rows there are. Out: a rule with a caption, a row a key, and under
//! them the velocities and the controllers; of drums, if there are rows enough, several rows each with their
//! velocities in them.

use super::timeline::{self, Shape, Stage};
use super::{Pen, contour, notes_view};
use crate::cells::Source;
use crate::key_names::key_name;
use crate::lane::{InLane, KeptBars};
use crate::picture::Pictures;
use crate::screen::Stack;
use crate::sheet::Sheet;
use crate::text;
use chaconne_song::{Control, U7};
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

/// The fewest rows that are worth it, with the rule.
const LEAST: usize = 6;
/// With so many rows there are velocities, too.
const WITH_VELOCITIES: usize = 14;

/// Higher lanes would show no more: each of 128 values has a height of its own.
pub(super) const HIGHEST: usize = 16;
/// The most rows of a drum whose strokes are as high as they are hard.
const DRUM: usize = HIGHEST;
/// The fewest rows of a controller's lane, without the one above it.
const LANE: usize = 4;

/// Draws the notes of a layer, or of all, in rows that other things left.
pub(super) fn notes(
    pen: &mut Pen,
    stage: &Stage,
    (stack, only): (&Stack, Option<usize>),
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    if rows.len() < LEAST || stage.shape != Shape::Beside || stack.layers.is_empty() {
        return;
    }
    let Some(section) = stage.sight.state.status.song.section(stage.section.letter) else { return };
    let sheet = pictures.sheet(stack, only, section);
    let (used, controls): (Vec<U7>, _) = (sheet.keys().collect(), controls(&sheet));
    if used.is_empty() && controls.is_empty() {
        return;
    }
    let plan = Plan::of(&used, sheet.track.pitched, controls.len(), &rows);
    let hidden = used.iter().filter(|key| !plan.keys.contains(key)).count();
    pen.rule(rows.start, &captions(&sheet, hidden, pen.palette.signs.cut));
    let (none, status) = (BTreeSet::new(), &stage.sight.state.status);
    let mut source = Source {
        sheet: &sheet,
        rows: &plan.keys,
        scale: &stage.scale,
        base: contour::base(stage),
        selected: (&none, 0),
        silent: sheet.silent(&status.solo_passes),
    };
    match plan.each {
        1 => one_row_each(pen, stage, &source, plan.top, pictures),
        _ => strokes(pen, stage, &source, &plan, pictures),
    }
    source.rows = &[];
    let velocity = (!plan.velocity.is_empty()).then_some((InLane::Velocity, plan.velocity));
    let controls = controls.into_iter().map(|control| InLane::Control(control, None));
    let controls = std::iter::zip(controls, plan.controls);
    for (index, (shows, rows)) in velocity.into_iter().chain(controls).enumerate() {
        let bars = pictures.pane.bars(index).of(&source, shows);
        lane_head(pen, stage, shows, &rows);
        notes_view::lane_bars(pen, stage, &sheet, (&rows, shows), bars);
    }
}

/// A row of marks for each key.
fn one_row_each(pen: &mut Pen, stage: &Stage, source: &Source, top: u16, pictures: &mut Pictures) {
    let (sheet, keys) = (source.sheet, source.rows);
    let cells = pictures.pane.cells.of(source);
    for ((&key, cells), y) in std::iter::zip(keys, cells).zip(top..) {
        head(pen, stage, sheet, key, y);
        notes_view::row(pen, stage, sheet, cells, false, y);
    }
    notes_view::unfinished(pen, stage, sheet, keys, Some(top));
}

/// Several rows for each drum, with its strokes as high as they are hard.
fn strokes(pen: &mut Pen, stage: &Stage, source: &Source, plan: &Plan, pictures: &mut Pictures) {
    let sheet = source.sheet;
    let mut bands = Vec::new();
    for ((index, &key), y) in
        plan.keys.iter().enumerate().zip((plan.top..).step_by(plan.each.into()))
    {
        // Strokes as hard as can be do not touch those of the drum above.
        let lane = y + u16::from(plan.each > 2)..y + plan.each;
        head(pen, stage, sheet, key, lane.end - 1);
        timeline::bar_lines(pen, stage, y);
        let bars = pictures.pane.drum(index).of_key(source, key);
        notes_view::lane_bars(pen, stage, sheet, (&lane, InLane::Velocity), bars);
        bands.resize(bands.len() + usize::from(plan.each) - 1, Vec::new());
        bands.push(vec![key]);
    }
    contour::unfinished(pen, stage, sheet, &bands, plan.top);
}

/// The name of a key, left of its row, with its notes.
fn head(pen: &mut Pen, stage: &Stage, sheet: &Sheet, key: U7, y: u16) {
    let naming = stage.naming(&sheet.track);
    let style = notes_view::key_style(pen, key, naming);
    pen.put_before(stage.left - 1, y, &key_name(key, naming), style);
    notes_view::key_facts(pen, stage, sheet, key, (2, y));
}

/// The name of a lane, and what its values mean, left of it.
pub(super) fn lane_head(pen: &mut Pen, stage: &Stage, shows: InLane, rows: &Range<u16>) {
    let name = text::clip(&shows.name(), usize::from(stage.left - 2), pen.palette.signs.cut);
    let (top, bottom) = match shows {
        InLane::Control(Control::PAN, _) => ("right".to_string(), "left".to_string()),
        _ => (shows.highest().to_string(), "0".to_string()),
    };
    let rows = rows.clone();
    let x = pen.put_before(stage.left - 1, rows.start, &top, pen.palette.faint());
    pen.put_before(x - 2, rows.start, &name, pen.palette.text());
    pen.put_before(stage.left - 1, rows.end - 1, &bottom, pen.palette.faint());
}

/// Which rows hold what.
#[derive(Debug, PartialEq, Eq)]
struct Plan {
    /// The row of the first key.
    top: u16,
    /// The keys, the highest first.
    keys: Vec<U7>,
    /// The rows of each of them.
    each: u16,
    /// The velocities of all keys, if they have rows of their own.
    velocity: Range<u16>,
    /// The controllers for which there are rows.
    controls: Vec<Range<u16>>,
}

impl Plan {
    /// Drums get several rows each if there are as many, with the velocities in them; for a pitched part
    /// the velocities of all keys are below.
    fn of(used: &[U7], pitched: bool, controls: usize, rows: &Range<u16>) -> Plan {
        let room = rows.len() - 1;
        let kept = (controls * (LANE + 1)).min(room / 2);
        let most = if pitched { 1 } else { DRUM };
        let each = (room - kept).checked_div(used.len()).map_or(1, |each| each.clamp(1, most));
        let velocities = each == 1 && !used.is_empty() && rows.len() >= WITH_VELOCITIES;
        let least = if velocities { (rows.len() / 5).clamp(3, 6) } else { 0 };
        let keys = rows_of(used, pitched, (room - least) / each);
        let spare = room.saturating_sub(keys.len() * each + kept);
        let velocity = if velocities { spare.clamp(least, HIGHEST.max(least)) } else { 0 };
        let top = rows.start + 1;
        let below = top + (keys.len() * each) as u16;
        let velocity = below..below + velocity as u16;
        let controls = lanes(controls, velocity.end..rows.end);
        Plan { top, keys, each: each as u16, velocity, controls }
    }
}

/// Lanes of the same height, each with an empty row above it, for as many of `count` as there are rows.
pub(super) fn lanes(count: usize, rows: Range<u16>) -> Vec<Range<u16>> {
    let room = rows.len();
    let fit = count.min(room / (LANE + 1));
    let height = room.checked_div(fit).map_or(0, |each| (each - 1).min(HIGHEST)) as u16;
    let tops = (rows.start + 1..).step_by(usize::from(height) + 1).take(fit);
    tops.map(|top| top..top + height).collect()
}

/// The controllers that the layers move.
fn controls(sheet: &Sheet) -> BTreeSet<Control> {
    let lanes = sheet.layers.iter().flat_map(|layer| layer.pass.lanes());
    lanes.map(|lane| lane.control).collect()
}

/// What the rule says.
fn captions(sheet: &Sheet, hidden: usize, cut: char) -> Vec<String> {
    let more = match hidden {
        0 => String::new(),
        1 => "1 more key".to_string(),
        hidden => format!("{hidden} more keys"),
    };
    vec![notes_view::shown(sheet, cut), more]
}

/// The keys that get a row, the highest first. A pitched part has every key between its lowest and its
/// highest if they fit, so that an interval looks as wide as it is.
fn rows_of(used: &[U7], pitched: bool, room: usize) -> Vec<U7> {
    let (Some(low), Some(high)) = (used.first(), used.last()) else { return Vec::new() };
    let between = usize::from(high.get() - low.get()) + 1;
    let keys: Vec<U7> = match pitched && between <= room {
        true => (low.get()..=high.get()).filter_map(U7::new).collect(),
        false => used.to_vec(),
    };
    // If not even those fit, the ones in the middle.
    let first = keys.len().saturating_sub(room) / 2;
    keys.into_iter().skip(first).take(room).rev().collect()
}

/// What is kept from frame to frame.
#[derive(Debug, Default)]
pub struct Pane {
    /// The notes.
    pub sheet: Option<Arc<Sheet>>,
    /// The cells of the rows.
    pub cells: crate::cells::KeptCells,
    /// The lanes under them.
    lanes: Vec<KeptBars>,
    /// The strokes of drums that have several rows.
    drums: Vec<KeptBars>,
    /// The moves of volume and pan.
    pub moves: [KeptBars; 2],
}

impl Pane {
    /// The bars of a lane, by its place from the top.
    fn bars(&mut self, index: usize) -> &mut KeptBars {
        at(&mut self.lanes, index)
    }

    /// The strokes of a drum, by its place from the top.
    fn drum(&mut self, index: usize) -> &mut KeptBars {
        at(&mut self.drums, index)
    }
}

fn at(kept: &mut Vec<KeptBars>, index: usize) -> &mut KeptBars {
    if kept.len() <= index {
        kept.resize_with(index + 1, KeptBars::default);
    }
    &mut kept[index]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drums_get_as_many_rows_as_there_are_and_pitches_the_velocities_below() {
        let drums = Plan::of(&keys(&[36, 38, 42]), false, 0, &(10..29));
        assert_eq!((drums.each, drums.velocity.len(), drums.keys.len()), (6, 0, 3));
        let low = Plan::of(&keys(&[36, 38, 42]), false, 0, &(10..16));
        assert_eq!((low.each, low.velocity.len()), (1, 0));
        let pitched = Plan::of(&keys(&[40, 47]), true, 1, &(0..40));
        assert_eq!((pitched.each, pitched.keys.len()), (1, 8));
        assert_eq!(
            (pitched.velocity, &pitched.controls[..]),
            (9..25, &[Range { start: 26, end: 40 }][..])
        );
        // Only a controller: it has all rows, up to a height for each value.
        let moves = Plan::of(&[], true, 1, &(0..40));
        assert_eq!(moves.controls, [Range { start: 2, end: 18 }]);
    }

    #[test]
    fn lanes_have_one_height_and_lie_inside_their_rows() {
        for (count, room) in (0..6).flat_map(|count| (0..60u16).map(move |room| (count, room))) {
            let lanes = lanes(count, 5..5 + room);
            assert!(lanes.iter().all(|lane| lane.len() >= LANE && lane.end <= 5 + room));
            assert!(lanes.windows(2).all(|pair| pair[0].end < pair[1].start));
            assert!(lanes.windows(2).all(|pair| pair[0].len() == pair[1].len()));
        }
    }

    fn keys(list: &[u8]) -> Vec<U7> {
        list.iter().map(|&key| U7::low_bits(key)).collect()
    }

    #[test]
    fn a_pitched_part_has_every_key_between_if_they_fit() {
        assert_eq!(rows_of(&keys(&[36, 40]), true, 5), keys(&[40, 39, 38, 37, 36]));
        assert_eq!(rows_of(&keys(&[36, 40]), true, 4), keys(&[40, 36]));
        assert_eq!(rows_of(&keys(&[36, 40]), false, 9), keys(&[40, 36]));
        assert_eq!(rows_of(&keys(&[1, 20, 40, 60, 80]), true, 3), keys(&[60, 40, 20]));
        assert_eq!(rows_of(&[], true, 3), []);
    }
}
