//! The notes of the chosen track or layer below the rows of a view, on the same axis: what a tall screen
//! has room for. Nothing is edited here, so there is no cursor.
//!
//! In: the stage, which layers, and the rows there are. Out: a rule with a caption, a row a key, and under
//! them the velocities and the controllers.

use super::timeline::{Shape, Stage};
use super::{Pen, notes_view};
use crate::cells::Source;
use crate::key_names::key_name;
use crate::lane::{InLane, KeptBars};
use crate::picture::Pictures;
use crate::screen::Stack;
use crate::sheet::Sheet;
use crate::text;
use chaconne_song::{Control, U7};
use chaconne_time::Tick;
use std::collections::BTreeSet;
use std::ops::Range;
use std::sync::Arc;

/// The fewest rows that are worth it, with the rule.
const LEAST: usize = 6;
/// With so many rows there are velocities, too.
const WITH_VELOCITIES: usize = 14;

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
    let used: Vec<U7> = sheet.keys().collect();
    if used.is_empty() {
        return;
    }
    let velocities = rows.len() >= WITH_VELOCITIES;
    let lane = if velocities { (rows.len() as u16 / 5).clamp(3, 6) } else { 0 };
    let room = rows.len() - 1 - usize::from(lane);
    let keys = rows_of(&used, sheet.track.pitched, room);
    let hidden = used.iter().filter(|key| !keys.contains(key)).count();
    pen.rule(rows.start, &captions(&sheet, hidden, pen.palette.signs.cut));
    let (none, status) = (BTreeSet::new(), &stage.sight.state.status);
    let mut source = Source {
        sheet: &sheet,
        rows: &keys,
        scale: &stage.scale,
        // The axis shows one round of the section: the one that plays, if this section does.
        base: match stage.section.letter == status.section {
            true => stage.section.length() * status.round as i64,
            false => Tick::ZERO,
        },
        selected: (&none, 0),
        silent: sheet.silent(&status.solo_passes),
    };
    let top = rows.start + 1;
    let cells = pictures.pane.cells.of(&source);
    for ((&key, cells), y) in std::iter::zip(&keys, cells).zip(top..) {
        let style = notes_view::key_style(pen, key, sheet.track.pitched);
        let name = key_name(key, sheet.track.pitched);
        pen.put_before(stage.left - 1, y, &name, style);
        notes_view::row(pen, stage, &sheet, cells, false, y);
    }
    notes_view::unfinished(pen, stage, &sheet, &keys, Some(top));
    if !velocities {
        return;
    }
    source.rows = &[];
    let from = top + keys.len() as u16;
    let velocity = (InLane::Velocity, from..from + lane);
    let others = controls(&sheet, from + lane..rows.end);
    for (index, (shows, rows)) in std::iter::once(velocity).chain(others).enumerate() {
        let bars = pictures.pane.bars(index).of(&source, shows);
        let name = text::clip(&shows.name(), usize::from(stage.left - 2), pen.palette.signs.cut);
        pen.put_before(stage.left - 1, rows.start, &name, pen.palette.faint());
        notes_view::lane_bars(pen, stage, &sheet, (&rows, shows), bars);
    }
}

/// The rows of a controller's lane, and the one above it.
const LANE: u16 = 4;

/// A lane for each controller that the layers move, as many as there are rows for: what it shows, and
/// its rows.
fn controls(sheet: &Sheet, rows: Range<u16>) -> Vec<(InLane, Range<u16>)> {
    let lanes = sheet.layers.iter().flat_map(|layer| layer.pass.lanes());
    let all: BTreeSet<Control> = lanes.map(|lane| lane.control).collect();
    let tops = (rows.start + 1..rows.end).step_by(usize::from(LANE) + 1);
    let lanes = std::iter::zip(all, tops)
        .map(|(control, top)| (InLane::Control(control, None), top..top + LANE));
    lanes.filter(|(_, lane)| lane.end <= rows.end).collect()
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
    /// The moves of volume and pan.
    pub moves: [KeptBars; 2],
}

impl Pane {
    /// The bars of a lane, by its place from the top.
    fn bars(&mut self, index: usize) -> &mut KeptBars {
        if self.lanes.len() <= index {
            self.lanes.resize_with(index + 1, KeptBars::default);
        }
        &mut self.lanes[index]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

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
