//! The box with the keys that the notes suggest and the parts that have a compass.

use super::overlays::middle;
use super::{Pen, Sight};
use crate::keymap::Scene;
use crate::screen::{KeyBox, KeyRow, hundredths};
use crate::text;
use crate::view_rows::window;
use ratatui::layout::Position;

/// The rows for what the chosen row says.
const WORDS: usize = 3;
/// The column of what is said about a key or a track.
const FACTS: u16 = 16;

/// Draws the box, and returns where the chosen row is.
pub fn draw(pen: &mut Pen, sight: &Sight, open: &KeyBox) -> Option<Position> {
    let palette = pen.palette;
    let inside = usize::from(pen.height()).saturating_sub(2);
    let shown = open.rows.len().min(inside.saturating_sub(WORDS + 1).clamp(1, 9));
    let first = window(open.at.saturating_sub(shown / 2), open.at, open.rows.len(), shown);
    let title = format!("Keys that the notes of {} suggest", open.section);
    let (x, y, room) = middle(pen, 60, (shown + WORDS + 1) as u16, &title);
    pen.left_out(first, open.rows.len() - first - shown);
    let mut focus = None;
    for (index, row) in open.rows.iter().enumerate().skip(first).take(shown) {
        let at = y + (index - first) as u16;
        let chosen = index == open.at;
        if chosen {
            pen.sign(x, at, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, at));
        }
        let (name, facts) = words(row);
        let style = if chosen { palette.on() } else { palette.text() };
        let name = text::clip(&name, usize::from(FACTS) - 3, palette.signs.cut);
        pen.put(x + 2, at, &name, style);
        let facts = text::clip(&facts, room.saturating_sub(FACTS.into()), palette.signs.cut);
        pen.put(x + FACTS, at, &facts, palette.text());
    }
    let said = sight.screen.keymap.fill_in(Scene::KeyBox, &open.sentence());
    let lines = text::wrap(&said, room);
    for (at, line) in (y + shown as u16 + 1..).zip(lines.iter().take(WORDS)) {
        pen.put(x, at, line, palette.text());
    }
    focus
}

/// A row: its name, and the facts about it.
fn words(row: &KeyRow) -> (String, String) {
    match row {
        KeyRow::Key { sounds, fits, is_set, .. } => {
            let set = if *is_set { "  is set" } else { "" };
            (sounds.to_string(), format!("correlation {}{set}", hundredths(*fits)))
        }
        KeyRow::Step(step) => (step.name(), step.facts()),
        KeyRow::Compass { name, range, compass, beyond, fit: (by, _) } => {
            let letters: Vec<String> =
                beyond.iter().map(|(letter, ..)| letter.to_string()).collect();
            let facts = match (range.is_empty(), beyond.is_empty(), by.semitones()) {
                (true, ..) => format!("no notes; reach {compass}"),
                (_, true, _) => format!("within {compass}"),
                (_, _, 0) => format!("beyond {compass} in {}", letters.join(", ")),
                (_, _, by) => format!("{by:+}: beyond {compass} in {}", letters.join(", ")),
            };
            (name.clone(), facts)
        }
    }
}
