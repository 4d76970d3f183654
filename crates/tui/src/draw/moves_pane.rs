//! The moves of the chosen track's volume and pan along the axis of the section, below the levels: what a
//! large screen has room for.
//!
//! In: the frame and the rows there are. Out: a ruler, and a lane each for volume and pan.

use super::timeline::{self, Shape};
use super::{Frame, Pen, Sight, notes_view, pane};
use crate::cells::Source;
use crate::lane::InLane;
use crate::picture::Pictures;
use crate::screen::Stack;
use crate::text;
use chaconne_song::Control;
use std::collections::BTreeSet;
use std::ops::Range;

/// The fewest rows that are worth it: a rule, the ruler, two lanes and a gap.
const LEAST: usize = 10;
/// Lanes this high leave no rows to the notes before those have enough.
const ENOUGH: usize = 5;

/// Draws the lanes in rows that the levels left, and the track's notes below them.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    let Some(stage) = timeline::stage(pen, sight, frame) else { return };
    let Some(stack) = sight.screen.stack(sight.state) else { return };
    if rows.len() < LEAST || stage.shape != Shape::Beside || !stage.scale.is_whole() {
        return;
    }
    let name = text::clip(&stack.track.name, 20, pen.palette.signs.cut);
    pen.rule(rows.start, &[format!("moves of {name}")]);
    timeline::ruler(pen, &stage, rows.start + 1, &[]);
    let lanes = [Control::VOLUME, Control::PAN];
    if !lanes.iter().any(|control| moves(&stack, *control)) {
        let line = "No moves yet: change volume or pan while recording.";
        pen.put(1, rows.start + 2, line, pen.palette.faint());
        return pane::notes(pen, &stage, (&stack, None), rows.start + 4..rows.end, pictures);
    }
    let Some(section) = sight.state.status.song.section(stage.section.letter) else { return };
    let sheet = pictures.sheet(&stack, None, section);
    let (none, status) = (BTreeSet::new(), &sight.state.status);
    let source = Source {
        sheet: &sheet,
        rows: &[],
        scale: &stage.scale,
        base: stage.section.length() * status.round as i64,
        selected: (&none, 0),
        silent: sheet.silent(&status.solo_passes),
    };
    let height = height(rows.len());
    let tops = [rows.start + 2, rows.start + 3 + height];
    for ((control, top), kept) in
        std::iter::zip(std::iter::zip(lanes, tops), &mut pictures.pane.moves)
    {
        let shows = InLane::Control(control, None);
        let bars = kept.of(&source, shows);
        let lane = top..top + height;
        pane::lane_head(pen, &stage, shows, &lane);
        notes_view::lane_bars(pen, &stage, &sheet, (&lane, shows), bars);
    }
    let below = tops[1] + height + 1;
    pane::notes(pen, &stage, (&stack, None), below..rows.end, pictures);
}

/// The rows of each lane in so many: half of them are for the notes, if the lanes have enough.
fn height(rows: usize) -> u16 {
    let all = (rows - 3) / 2;
    let half = (rows / 2).saturating_sub(3) / 2;
    all.min(half.clamp(ENOUGH, pane::HIGHEST)) as u16
}

/// Whether a layer moves a controller.
fn moves(stack: &Stack, control: Control) -> bool {
    let lanes = stack.layers.iter().flat_map(|(pass, _)| pass.lanes());
    lanes.into_iter().any(|lane| lane.control == control)
}
