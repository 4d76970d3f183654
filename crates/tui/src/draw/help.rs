//! The help, over the whole screen.

use super::{Pen, Sight, foot};
use crate::manual::{self, KEYS, Line};
use crate::screen::HelpPage;

pub fn draw(pen: &mut Pen, sight: &Sight, help: &HelpPage) {
    let palette = pen.palette;
    let lines = manual::help(pen.width(), help.keymap, help.about.as_ref());
    let page = manual::page(pen.height());
    let first = help.first.min(lines.len().saturating_sub(page));
    let last = (first + page).min(lines.len());
    pen.clear();
    pen.rule(0, &["help".to_string(), format!("lines {} to {last} of {}", first + 1, lines.len())]);
    for (row, line) in (1..).zip(&lines[first..last]) {
        match line {
            Line::Heading(text) => pen.put(1, row, text, palette.on()),
            Line::Key(keys, text) => {
                pen.put_in(1, row, KEYS - 1, keys, palette.strong());
                pen.put(1 + KEYS as u16, row, text, palette.text())
            }
            Line::More(text) => pen.put(1 + KEYS as u16, row, text, palette.text()),
            Line::Text(text) => pen.put(1, row, text, palette.text()),
            Line::Blank => 0,
        };
    }
    let foot = pen.height() - 1;
    pen.rule(foot - 1, std::slice::from_ref(&sight.screen.notice.text));
    foot::keys(pen, sight, foot..foot + 1, false);
}
