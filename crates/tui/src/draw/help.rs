//! The help, over the whole screen.

use super::{Pen, Sight, foot};
use crate::manual::{self, KEYS, Line};
use crate::screen::HelpPage;
use ratatui::layout::Position;

/// Draws the help, and returns the place of the cursor: in the search, or on what was found.
pub fn draw(pen: &mut Pen, sight: &Sight, help: &HelpPage) -> Option<Position> {
    let palette = pen.palette;
    let lines = manual::help(pen.width(), help.keymap, help.about.as_ref());
    let page = manual::page(pen.height());
    let first = help.first.min(lines.len().saturating_sub(page));
    let last = (first + page).min(lines.len());
    pen.clear();
    pen.rule(0, &["help".to_string(), format!("lines {} to {last} of {}", first + 1, lines.len())]);
    let found = help.search.as_ref().and_then(|search| search.at);
    for (row, (at, line)) in (1..).zip(lines.iter().enumerate().skip(first).take(page)) {
        let is_found = found == Some(at);
        let (keys_style, style) = match is_found {
            true => (palette.on(), palette.on()),
            false => (palette.strong(), palette.text()),
        };
        match line {
            Line::Heading(text) => pen.put(1, row, text, palette.on()),
            Line::Key(keys, text) => {
                pen.put_in(1, row, KEYS - 1, keys, keys_style);
                pen.put(1 + KEYS as u16, row, text, style)
            }
            Line::More(text) => pen.put(1 + KEYS as u16, row, text, palette.text()),
            Line::Text(text) => pen.put(1, row, text, style),
            Line::Blank => 0,
        };
    }
    let foot = pen.height() - 1;
    let (caption, column) = caption(sight, help);
    pen.rule(foot - 1, std::slice::from_ref(&caption));
    foot::keys(pen, sight, foot..foot + 1, false);
    let row = found.and_then(|at| at.checked_sub(first)).filter(|row| *row < page);
    match column {
        Some(column) => Some(Position::new(column.min(pen.width() - 1), foot - 1)),
        None => row.map(|row| Position::new(1, row as u16 + 1)),
    }
}

/// What the lower rule says: the search and how many places have it, or the last message. With the column
/// of the cursor while the search is typed.
fn caption(sight: &Sight, help: &HelpPage) -> (String, Option<u16>) {
    let Some(search) = &help.search else { return (sight.screen.notice.text.clone(), None) };
    let typed = search.typed.text();
    let count = match search.count {
        _ if typed.trim().is_empty() => "type words, or a key".to_string(),
        (_, 0) => "not found".to_string(),
        (at, of) => format!("{at} of {of}"),
    };
    // A blank and the caption's own blank come before it.
    let column = "  search: ".len() + search.typed.column();
    let column = search.is_typing.then_some(u16::try_from(column).unwrap_or(u16::MAX));
    (format!("search: {typed}   {count}"), column)
}
