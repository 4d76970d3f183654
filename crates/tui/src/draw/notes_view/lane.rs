//! The lane under the notes: a bar for each mark. Left of it are its name, the value at the cursor, and the
//! unit.

use super::source;
use crate::action::Arrows;
use crate::draw::Pen;
use crate::draw::timeline::{self, Stage};
use crate::lane::{InLane, LaneBar};
use crate::picture::Pictures;
use crate::sheet::Sheet;
use crate::text;
use ratatui::layout::Position;
use std::ops::Range;
use std::sync::Arc;

/// The heights that one row shows.
const LEVELS: u32 = 8;

/// Draws it, and returns where its cursor is.
pub fn draw(
    pen: &mut Pen,
    stage: &Stage,
    sheet: &Arc<Sheet>,
    rows: Range<u16>,
    pictures: &mut Pictures,
) -> Option<Position> {
    if rows.is_empty() {
        return None;
    }
    let screen = stage.sight.screen;
    let shows = screen.notes.lane;
    let bars = pictures.bars.of(&source(stage, sheet, &[]), shows);
    lane_bars(pen, stage, sheet, (&rows, shows), bars);
    head(pen, stage, &rows, bars);
    let mark = screen.notes.mark(&stage.scale, sheet.base(stage.sight.state.status.round))?;
    let height = bars[mark].map_or(1, |bar| levels(&bar, shows, &rows).div_ceil(LEVELS).max(1));
    let x = stage.left + stage.scale.marks[mark].column;
    Some(Position::new(x, rows.end - height as u16))
}

/// The bars, and the bar lines behind them. A value that goes on is as wide as its mark.
pub fn lane_bars(
    pen: &mut Pen,
    stage: &Stage,
    sheet: &Sheet,
    (rows, shows): (&Range<u16>, InLane),
    bars: &[Option<LaneBar>],
) {
    for row in rows.clone() {
        timeline::bar_lines(pen, stage, row);
    }
    let style = timeline::track_style(pen, stage, sheet.place, &sheet.track);
    let wide = if shows == InLane::Velocity { 1 } else { stage.scale.wide };
    for (mark, bar) in std::iter::zip(&stage.scale.marks, bars) {
        let x = stage.left + mark.column;
        match bar {
            Some(bar) => {
                let style = if bar.silent { pen.palette.faint() } else { style };
                column(pen, x, rows, bar, shows, style);
                let after = LaneBar { point: false, ..*bar };
                (1..wide).for_each(|more| column(pen, x + more, rows, &after, shows, style));
            }
            None if mark.on_beat => {
                pen.sign(x, rows.end - 1, pen.palette.signs.beat, pen.palette.faint());
            }
            None => {}
        }
    }
}

/// How many levels of the rows a bar fills; none for the value 0.
fn levels(bar: &LaneBar, shows: InLane, rows: &Range<u16>) -> u32 {
    let all = LEVELS * rows.len() as u32;
    (u32::from(bar.value.get()) * all).div_ceil(u32::from(shows.highest()).max(1))
}

/// The bar of a mark, from the bottom up; a point is at its top.
fn column(
    pen: &mut Pen,
    x: u16,
    rows: &Range<u16>,
    bar: &LaneBar,
    shows: InLane,
    style: ratatui::style::Style,
) {
    let signs = pen.palette.signs;
    let mut left = levels(bar, shows, rows);
    let mut top = rows.end - 1;
    if left == 0 {
        pen.sign(x, top, signs.held, style);
    }
    for row in rows.clone().rev() {
        if left == 0 {
            break;
        }
        top = row;
        let full = left >= LEVELS;
        let sign = if full { signs.filled[7] } else { signs.height(left as u8 - 1) };
        pen.sign(x, row, sign, style);
        left = left.saturating_sub(LEVELS);
    }
    if bar.point {
        pen.sign(x, top, signs.point, style);
    }
}

/// The words left of the lane.
fn head(pen: &mut Pen, stage: &Stage, rows: &Range<u16>, bars: &[Option<LaneBar>]) {
    let (screen, palette) = (stage.sight.screen, pen.palette);
    let notes = &screen.notes;
    let room = usize::from(stage.left.saturating_sub(1));
    let value = screen.lane_value(bars, stage.sight.state);
    let value = value.map_or("-".to_string(), |value| notes.lane.value_words(value));
    let name = notes.lane.name();
    let on = notes.arrows == Arrows::Lane;
    let lines = match rows.len() {
        0 => vec![],
        1 => vec![(format!("{} {value}", text::clip(&name, 6, palette.signs.cut)), on)],
        2 => vec![(name, on), (value, false)],
        _ => vec![(name, on), (value, false), (notes.lane.unit(), false)],
    };
    for ((index, (line, on)), row) in lines.into_iter().enumerate().zip(rows.clone()) {
        let style = match (index, on) {
            (_, true) => palette.on(),
            (1, _) => palette.strong(),
            _ => palette.faint(),
        };
        pen.put_before(stage.left - 1, row, &text::clip(&line, room, palette.signs.cut), style);
    }
}
