//! The marks about time over the bars of the section, round after round.

use super::Stage;
use crate::draw::Pen;
use crate::draw::over_bars::{self, Over};
use crate::time_marks::{TimeMark, time_marks};
use chaconne_engine::Waits;
use chaconne_time::Tick;
use std::ops::Range;

/// Draws them into a row, but not into the columns that are taken already.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16, taken: Range<u16>) {
    let marks = time_marks(stage.section);
    over_bars::draw(pen, row, taken, &placed(stage, &marks));
}

/// The marks on the page, with their columns.
fn placed<'a>(stage: &Stage, marks: &'a [TimeMark]) -> Vec<Over<'a>> {
    let length = stage.section.length();
    let tops = (0..).map(|round| length * round).take_while(|&top| top < stage.scale.end());
    let all = tops.flat_map(|top| marks.iter().map(move |mark| (top, mark)));
    let mut placed = Vec::new();
    let mut waits = None;
    for (top, mark) in all {
        let Some((columns, cut)) = columns(stage, top, mark) else { continue };
        let is_reached = top + mark.at() <= stage.playhead();
        if is_reached && matches!(mark, TimeMark::Fermata(_)) {
            waits = Some(placed.len());
        }
        placed.push(Over { mark, columns, cut, waits: false });
    }
    if let Some(last) = waits.filter(|_| at_fermata(stage)) {
        placed[last].waits = true;
    }
    placed
}

/// Whether the song waits at a fermata of the section.
fn at_fermata(stage: &Stage) -> bool {
    let status = &stage.sight.state.status;
    status.waits == Some(Waits::Fermata) && status.section == stage.section.letter
}

/// The columns of a mark in the round that begins at a tick, and whether the page cuts it at its beginning and at its
/// end; `None` if it is not on the page.
fn columns(stage: &Stage, top: Tick, mark: &TimeMark) -> Option<(Range<u16>, [bool; 2])> {
    let scale = &stage.scale;
    let (from, to) = match mark {
        TimeMark::Ramp(ramp) => (top + ramp.span.from, top + ramp.span.to),
        TimeMark::Fermata(at) | TimeMark::Tempo(at, _) => (top + *at, top + *at + Tick(1)),
    };
    let seen = from.max(scale.start())..to.min(scale.end());
    let last = Tick(seen.end.0 - 1);
    let column = |at: Tick| Some(stage.left + scale.marks[scale.mark_of(at)?].column);
    let columns = column(seen.start)?..column(last)? + scale.wide;
    (seen.start < seen.end).then_some((columns, [seen.start > from, seen.end < to]))
}
