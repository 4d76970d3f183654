//! The choice of a song: the folder, what is typed, and the lines that fit.

use super::overlays::{middle, tail};
use super::{Pen, Sight};
use crate::desk::{EntryKind, FileEntry};
use crate::keymap::Scene;
use crate::screen::FilePick;
use crate::text;
use crate::view_rows::window;
use ratatui::layout::Position;
use std::time::Duration;

/// The columns inside the box, if there are as many.
const ROOM: u16 = 74;
/// The columns of an age or a kind at the right end.
const RIGHT: usize = 14;
/// The rows inside the box beside those of the list: the folder, the typed line, two blank ones, and
/// one on how to go on.
const OTHER_ROWS: u16 = 5;

/// Draws the box, and returns where the next letter goes.
pub fn draw(pen: &mut Pen, sight: &Sight, pick: &FilePick) -> Option<Position> {
    let (palette, cut) = (pen.palette, pen.palette.signs.cut);
    let found = pick.found();
    let rows = pen.height().saturating_sub(16).clamp(3, 16);
    let (x, y, room) = middle(pen, ROOM, rows + OTHER_ROWS, "Open a song");
    pen.put(x, y, &end_of(pick.path(), room, cut), palette.faint());
    let (typed, skipped) = tail(&pick.line.text(), room - 3);
    let after = pen.put(x + 2, y + 1, &typed, palette.strong());
    if typed.is_empty() {
        pen.put(after, y + 1, "Type part of a name.", palette.faint());
    }
    let list = y + 3;
    let rows = usize::from(rows);
    let first = window(pick.at.saturating_sub(rows / 2), pick.at, found.len(), rows);
    pen.left_out(first, found.len().saturating_sub(first + rows));
    for (row, (index, entry)) in (list..).zip(found.iter().enumerate().skip(first).take(rows)) {
        line(pen, entry, (x, row, room), index == pick.at);
    }
    if pick.is_reading() {
        let dots = if palette.signs.cut.is_ascii() { "..." } else { "…" };
        pen.put(x + 2, list, &format!("reading{dots}"), palette.faint());
    }
    let hint = match (found.is_empty(), pick.is_empty()) {
        _ if pick.is_reading() => "",
        (true, false) => "No name fits: change or clear what is typed.",
        (true, true) => "There is nothing here.",
        (false, _) => "{confirm} opens it. Backspace goes up a folder.",
    };
    let below = list + rows as u16 + 1;
    let hint = sight.screen.keymap.fill_in(Scene::Files, hint);
    pen.put_in(x, below, room, &hint, palette.faint());
    Some(Position::new(x + 2 + pick.line.column().saturating_sub(skipped) as u16, y + 1))
}

/// A line: a song and its age, a recent song and its folder, or a folder.
fn line(pen: &mut Pen, entry: &FileEntry, (x, row, room): (u16, u16, usize), chosen: bool) {
    let (palette, cut) = (pen.palette, pen.palette.signs.cut);
    if chosen {
        pen.sign(x, row, palette.signs.chosen, palette.strong());
    }
    let is_folder = matches!(entry.kind, EntryKind::Folder | EntryKind::Parent);
    let style = match (chosen, is_folder) {
        (true, _) => palette.on(),
        (false, true) => palette.faint(),
        (false, false) => palette.text(),
    };
    let name = if is_folder { format!("{}/", entry.name) } else { entry.name.clone() };
    let most = room.saturating_sub(RIGHT + 3);
    let after = pen.put(x + 2, row, &text::clip(&name, most, cut), style);
    let (right, columns) = match entry.kind {
        EntryKind::Song => (entry.age.map(age_words).unwrap_or_default(), RIGHT),
        EntryKind::Recent => {
            let columns = room.saturating_sub(usize::from(after - x) + 2);
            let folder = entry.path.strip_suffix(&entry.name).unwrap_or(&entry.path);
            (format!("recent: {}", end_of(folder, columns.saturating_sub(8), cut)), columns)
        }
        EntryKind::Folder => ("folder".to_string(), RIGHT),
        EntryKind::Parent => ("up".to_string(), RIGHT),
    };
    let right = text::clip(&right, columns, cut);
    pen.put_before(x + room as u16, row, &right, palette.faint());
}

/// The end of a path, which says most, with a sign if something is left out before it.
fn end_of(path: &str, columns: usize, cut: char) -> String {
    let (end, skipped) = tail(path, columns);
    if skipped == 0 { end } else { format!("{cut}{}", tail(path, columns.saturating_sub(1)).0) }
}

/// How long ago, in one unit.
fn age_words(age: Duration) -> String {
    let minutes = age.as_secs() / 60;
    match minutes {
        0 => "just now".to_string(),
        1..60 => format!("{minutes} min ago"),
        60..1440 => format!("{} h ago", minutes / 60),
        _ => {
            let days = (minutes / 1440) as usize;
            format!("{days} {} ago", text::plural(days, "day"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ages_have_one_unit() {
        let minutes = [0, 1, 59, 60, 1439, 1440, 3000];
        let words = minutes.map(|minutes| age_words(Duration::from_secs(minutes * 60)));
        let expected = [
            "just now",
            "1 min ago",
            "59 min ago",
            "1 h ago",
            "23 h ago",
            "1 day ago",
            "2 days ago",
        ];
        assert_eq!(words, expected);
    }

    #[test]
    fn of_a_long_path_the_end_is_shown() {
        assert_eq!(end_of("/songs/ebb", 10, '~'), "/songs/ebb");
        assert_eq!(end_of("/home/songs/ebb", 10, '~'), "~songs/ebb");
    }
}
