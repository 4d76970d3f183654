//! Draws the comparison of the song with its file.

use super::Pen;
use super::overlays::middle;
use crate::screen::Comparison;
use crate::text;
use ratatui::layout::Position;

/// The columns inside the box, if there are as many.
const ROOM: u16 = 70;

/// Draws the box, and returns where the first line is.
pub fn draw(pen: &mut Pen, page: &Comparison) -> Option<Position> {
    let palette = pen.palette;
    let rows = (page.lines.len() as u16).clamp(1, pen.height().saturating_sub(15).max(3));
    let (x, y, room) = middle(pen, ROOM, rows + 3, "The song here and in its file");
    let rows = usize::from(rows);
    let first = page.first.min(page.lines.len().saturating_sub(rows));
    for (row, line) in (y + 1..).zip(page.lines.iter().skip(first).take(rows)) {
        pen.put(x, row, &text::clip(line, room, palette.signs.cut), palette.text());
    }
    let left = page.lines.len().saturating_sub(first + rows);
    if left > 0 {
        pen.put(x, y + rows as u16 + 1, &format!("+{left} more"), palette.faint());
    }
    Some(Position::new(x, y + 1))
}
