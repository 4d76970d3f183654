//! The finder of actions: what is typed, the actions that fit, and more about the chosen one.

use super::overlays::middle;
use super::{Pen, Sight};
use crate::keymap::{Entry, PHRASE};
use crate::screen::Finder;
use crate::text;
use crate::view_rows::window;
use ratatui::layout::Position;

/// The columns inside the box, if there are as many.
const ROOM: u16 = 74;
/// The columns of a key.
const KEY: u16 = 10;
/// The rows inside the box beside those of the list: the typed line, two blank ones and two for the
/// chosen action.
const OTHER_ROWS: u16 = 5;

/// Draws the finder, and returns where the next letter goes.
pub fn draw(pen: &mut Pen, sight: &Sight, finder: &Finder) -> Option<Position> {
    let palette = pen.palette;
    let found = &finder.found;
    let rows = pen.height().saturating_sub(16).clamp(3, 12);
    let (x, y, room) = middle(pen, ROOM, rows + OTHER_ROWS, "Find an action");
    let count = format!("{} {}", found.len(), text::plural(found.len(), "action"));
    pen.put_before(x + room as u16, y, &count, palette.faint());
    let end = room.saturating_sub(count.len() + 4);
    let (typed, skipped) = super::overlays::tail(&finder.line.text(), end);
    let after = pen.put(x + 2, y, &typed, palette.strong());
    if typed.is_empty() {
        pen.put(after, y, "Type what you want to do, e.g. louder.", palette.faint());
    }
    let list = y + 2;
    let rows = usize::from(rows);
    let first = window(finder.at.saturating_sub(rows / 2), finder.at, found.len(), rows);
    for (row, (index, entry)) in (list..).zip(found.iter().enumerate().skip(first).take(rows)) {
        line(pen, sight, entry, (x, row, room), index == finder.at);
    }
    let more = list + rows as u16 + 1;
    match found.get(finder.at) {
        None => {
            let words = "No action fits. Try another word, e.g. louder, undo or copy.";
            pen.put_in(x, more, room, words, palette.text());
        }
        Some(entry) => about(pen, sight, entry, (x, more, room)),
    }
    Some(Position::new(x + 2 + finder.line.column().saturating_sub(skipped) as u16, y))
}

/// An action, its key, and where it is if that is not here.
fn line(pen: &mut Pen, sight: &Sight, entry: &Entry, at: (u16, u16, usize), chosen: bool) {
    let palette = pen.palette;
    let (x, row, room) = at;
    if chosen {
        pen.sign(x, row, palette.signs.chosen, palette.strong());
    }
    let can = sight.screen.hindrance(entry, sight.state).is_none();
    let style = match (chosen, can) {
        (true, _) => palette.on(),
        (false, true) => palette.text(),
        (false, false) => palette.faint(),
    };
    let phrase = (PHRASE as u16).min((room as u16).saturating_sub(KEY + 2));
    let words = text::clip(entry.binding.words().phrase, usize::from(phrase), palette.signs.cut);
    pen.put(x + 2, row, &words, style);
    let key = x + 2 + phrase + 1;
    let after = pen.put(key, row, &entry.key_words(sight.screen.keymap), palette.strong());
    let place = entry.place.words(sight.screen.keymap);
    if usize::from((key + KEY).max(after + 1) - x) + text::width(&place) <= room {
        pen.put((key + KEY).max(after + 1), row, &place, palette.faint());
    }
}

/// What the chosen action does, or why it cannot be done now.
fn about(pen: &mut Pen, sight: &Sight, entry: &Entry, (x, y, room): (u16, u16, usize)) {
    let palette = pen.palette;
    let (words, style) = match sight.screen.hindrance(entry, sight.state) {
        Some(why) => (format!("Not now. {why}"), palette.strong()),
        None => (sight.screen.with_keys(entry.binding.sentence), palette.faint()),
    };
    let mut lines = text::wrap(&words, room);
    if lines.len() > 2 {
        let rest = lines.split_off(1).join(" ");
        lines.push(text::clip(&rest, room, palette.signs.cut));
    }
    for (row, line) in (y..).zip(&lines) {
        pen.put(x, row, line, style);
    }
}
