//! The step of the tour, above the last message: what to do, what it waits for, and how to leave it.

use super::{Pen, Sight};
use crate::text;
use std::ops::Range;

pub fn draw(pen: &mut Pen, sight: &Sight, rows: &Range<u16>) {
    let Some(words) = sight.screen.tour_words(sight.state).filter(|_| !rows.is_empty()) else {
        return;
    };
    let (palette, last) = (pen.palette, rows.end - 1);
    pen.put(1, rows.start, &format!(" {} ", words.place), palette.on());
    // The text begins beside the place, and goes on below it.
    let indent = text::width(&words.place) + 3;
    let room = usize::from(pen.width()) - 2;
    let lines = text::wrap_after(indent, &words.text, room);
    let end = if words.waits.is_empty() { rows.end } else { last };
    for (row, line) in (rows.start..end).zip(&lines) {
        let x = if row == rows.start { 1 + indent as u16 } else { 1 };
        pen.put(x, row, line, palette.strong());
    }
    let leave = match rows.len() {
        ..=2 => format!("{} leaves the tour", words.leave),
        _ => format!("{} leaves", words.leave),
    };
    let x = pen.put_before(pen.width() - 1, last, &leave, palette.faint());
    if !words.waits.is_empty() {
        let waits = text::clip(&words.waits, usize::from(x).saturating_sub(3), palette.signs.cut);
        pen.put(1, last, &waits, palette.text());
    }
}
