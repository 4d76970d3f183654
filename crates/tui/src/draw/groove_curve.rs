//! The picture of a groove over a bar: how early or late, how loud, and where the beats are.
//!
//! In: a curve, and some rows. Out: from the top a plot of the timing, late above the grid and early below it; the
//! milliseconds as numbers; the loudness as bars; the beats. With few rows there is no plot, and with narrow
//! steps signs take the place of the numbers.

use super::Pen;
use crate::groove_curve::{CurveColumn, GrooveCurve};
use chaconne_engine::{Status, Transport, groove_bar};
use chaconne_song::{Groove, Section};
use ratatui::style::Style;

/// The fewest rows that say something, and the most that say more.
const LEAST: u16 = 3;
const MOST: u16 = 16;
/// The columns of what is written left of the curve, with the axis.
const LEFT: u16 = 12;
/// The columns that a number needs, with a gap.
const NUMBER: u16 = 4;
/// The fewest rows of a plot: one on either side of the grid.
const LEAST_PLOT: u16 = 3;
const MOST_PLOT: u16 = 11;
/// A plot never shows less than this from the grid to its edge, in milliseconds.
const LEAST_SCALE: i64 = 5;

/// How many of so many rows a curve fills; none if they are too few.
pub fn filled(rows: u16) -> u16 {
    if rows < LEAST { 0 } else { Rows::of(rows).all() }
}

/// The columns that a curve can have in so many.
pub fn columns(room: usize) -> u16 {
    (room as u16).saturating_sub(LEFT)
}

/// The bar of a groove that is given to the bar of a section which plays now; before the music, the first.
pub fn bar_now(status: &Status, groove: &Groove, section: &Section) -> u32 {
    match status.transport {
        Transport::Rolling => groove_bar(status.place.bar, groove.bars, &section.metre),
        _ => 1,
    }
}

/// How the rows are shared out.
struct Rows {
    plot: u16,
    loud: u16,
    /// Whether the loudness is told in numbers, too.
    percent: bool,
}

impl Rows {
    fn all(&self) -> u16 {
        // With the timing as numbers and the beats.
        self.plot + self.loud + u16::from(self.percent) + 2
    }

    fn of(rows: u16) -> Rows {
        let rows = rows.min(MOST);
        // The timing as numbers, one row of loudness, the beats.
        let left = rows.saturating_sub(LEAST);
        let percent = left > LEAST_PLOT;
        let left = left - u16::from(percent);
        if left < LEAST_PLOT {
            return Rows { plot: 0, loud: 1 + left.min(1), percent: false };
        }
        let loud = 1 + (left.saturating_sub(5) / 3).min(2);
        let plot = (left + 1 - loud).min(MOST_PLOT);
        Rows { plot: plot - (plot + 1) % 2, loud, percent }
    }
}

/// Draws a curve from a corner on, into so many rows.
pub fn draw(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16), rows: u16) {
    let shared = Rows::of(rows);
    let mut y = y;
    if shared.plot > 0 {
        plot(pen, curve, (x, y), shared.plot);
        y += shared.plot;
    }
    timing(pen, curve, (x, y), shared.plot == 0);
    y += 1;
    loudness(pen, curve, (x, y), shared.loud);
    y += shared.loud;
    if shared.percent && curve.wide >= NUMBER {
        percent(pen, curve, (x, y));
        y += 1;
    }
    beats(pen, curve, (x, y));
}

/// What a row shows, left of the axis.
fn label(pen: &mut Pen, (x, y): (u16, u16), words: &str) {
    pen.put_before(x + LEFT - 1, y, words, pen.palette.faint());
}

/// Each column with where it is.
fn placed(curve: &GrooveCurve, x: u16) -> impl Iterator<Item = (u16, &CurveColumn)> {
    (x + LEFT..).zip(&curve.columns)
}

/// The timing: a point for each step that was played, and dots for what lies between, as it is performed.
fn plot(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16), rows: u16) {
    let (signs, faint) = (pen.palette.signs, pen.palette.faint());
    let side = i64::from(rows / 2);
    let scale = ((curve.furthest + 999) / 1000).max(LEAST_SCALE);
    let unit = if scale < 100 { " ms" } else { "ms" };
    let grid = y + rows / 2;
    label(pen, (x, y), &format!("late {scale}{unit}"));
    label(pen, (x, grid), "on the grid");
    label(pen, (x, y + rows - 1), &format!("early {scale}{unit}"));
    for row in y..y + rows {
        pen.sign(x + LEFT - 1, row, signs.bar, faint);
    }
    for (column, _) in placed(curve, x) {
        pen.sign(column, grid, signs.rule, faint);
    }
    // Half of a row away from the grid goes to the next row.
    let height = |late: i64| {
        let rows = (2 * late.abs() * side + 1000 * scale) / (2000 * scale);
        rows.min(side) * late.signum()
    };
    for (column, shown) in placed(curve, x) {
        let row = (i64::from(grid) - height(shown.late)) as u16;
        match shown.loudness {
            Some(_) => pen.sign(column, row, signs.point, pen.palette.strong()),
            None if row != grid => pen.sign(column, row, signs.beat, faint),
            None => {}
        }
    }
}

/// How early or late each step is, in milliseconds; where steps are too narrow for numbers, signs.
fn timing(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16), is_alone: bool) {
    let text = pen.palette.text();
    if curve.wide < NUMBER {
        label(pen, (x, y), "early<>late");
        for (column, shown) in placed(curve, x).filter(|(_, shown)| shown.loudness.is_some()) {
            let sign = match shown.late.signum() {
                -1 => '<',
                0 => '=',
                _ => '>',
            };
            pen.sign(column, y, sign, text);
        }
        return;
    }
    label(pen, (x, y), if is_alone { "ms late" } else { "ms" });
    for (column, shown) in placed(curve, x).filter(|(_, shown)| shown.loudness.is_some()) {
        let ms = (2 * shown.late + 1000).div_euclid(2000);
        let number = if ms == 0 { "0".to_string() } else { format!("{ms:+}") };
        pen.put(column, y, &number, text);
    }
}

/// The loudness of each step as a bar in some rows; the loudest step of the groove fills them.
fn loudness(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16), rows: u16) {
    let most = curve.loudest.max(100);
    label(pen, (x, y), &if rows > 1 { format!("loud {most} %") } else { "loud".to_string() });
    let wide = curve.wide.saturating_sub(1).clamp(1, 2);
    let all = i64::from(rows) * 8;
    for (column, loud, style) in bars(curve, x, pen.palette.text()) {
        let levels = (loud * all + most - 1) / most;
        for more in 0..wide {
            bar(pen, (column + more, y + rows - 1), levels.clamp(0, all), style);
        }
    }
}

fn bars(curve: &GrooveCurve, x: u16, style: Style) -> Vec<(u16, i64, Style)> {
    placed(curve, x).filter_map(|(column, shown)| Some((column, shown.loudness?, style))).collect()
}

/// A bar of so many eighths of a row, from a row up.
fn bar(pen: &mut Pen, (x, bottom): (u16, u16), levels: i64, style: Style) {
    let signs = pen.palette.signs;
    let mut left = levels;
    let mut row = bottom;
    while left > 0 {
        let sign = if left >= 8 { signs.filled[7] } else { signs.height(left as u8 - 1) };
        pen.sign(x, row, sign, style);
        left -= 8;
        row = row.saturating_sub(1);
    }
}

/// The loudness of each step in percent.
fn percent(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16)) {
    label(pen, (x, y), "%");
    for (column, loud, style) in bars(curve, x, pen.palette.text()) {
        pen.put(column, y, &loud.to_string(), style);
    }
}

/// The beats, by number, and a dot for each step.
fn beats(pen: &mut Pen, curve: &GrooveCurve, (x, y): (u16, u16)) {
    let (signs, faint) = (pen.palette.signs, pen.palette.faint());
    label(pen, (x, y), "beat");
    for (at, (column, shown)) in (0..).zip(placed(curve, x)) {
        match shown.beat {
            Some(beat) => drop(pen.put(column, y, &beat.to_string(), pen.palette.strong())),
            None if at % curve.wide == 0 => pen.sign(column, y, signs.beat, faint),
            None => {}
        }
    }
}
