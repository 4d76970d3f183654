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
/// The rows for what the chosen action does: enough for every explanation where the box is as wide as it gets.
const ABOUT: u16 = 3;
/// The rows inside the box beside those of the list: the typed line, two blank ones and those for the chosen
/// action.
const OTHER_ROWS: u16 = 3 + ABOUT;

/// Draws the finder, and returns where the next letter goes.
pub fn draw(pen: &mut Pen, sight: &Sight, finder: &Finder) -> Option<Position> {
    let palette = pen.palette;
    let found = &finder.found.entries;
    let rows = pen.height().saturating_sub(14 + ABOUT).clamp(3, 12);
    let (x, y, room) = middle(pen, ROOM, rows + OTHER_ROWS, "Find an action");
    let count = format!("{} {}", found.len(), text::plural(found.len(), "action"));
    pen.put_before(x + room as u16, y, &count, palette.faint());
    let end = room.saturating_sub(count.len() + 4);
    let (typed, skipped) = super::overlays::tail(&finder.line.text(), end);
    let after = pen.put(x + 2, y, &typed, palette.strong());
    if typed.is_empty() {
        let hints = ["Type what you want to do, e.g. louder.", "e.g. louder or copy"];
        let hint = hints.into_iter().find(|hint| hint.len() <= end).unwrap_or_default();
        pen.put(after, y, hint, palette.faint());
    }
    let read = text::clip(&read(finder), room.saturating_sub(2), palette.signs.cut);
    pen.put(x + 2, y + 1, &read, palette.faint());
    let (mut list, mut rows) = (y + 2, usize::from(rows));
    let more = list + rows as u16 + 1;
    if let Some(topic) = finder.found.topic {
        let lines = text::wrap(&sight.screen.with_keys(topic.says), room);
        let taken = if found.is_empty() { lines.len() } else { (lines.len() + 1).min(rows) };
        for (row, line) in (list..).zip(lines.iter().take(rows)) {
            pen.put(x, row, line, palette.text());
        }
        list += taken as u16;
        rows = rows.saturating_sub(taken);
    }
    let first = window(finder.at.saturating_sub(rows / 2), finder.at, found.len(), rows);
    for (row, (index, entry)) in (list..).zip(found.iter().enumerate().skip(first).take(rows)) {
        line(pen, sight, finder, entry, (x, row, room), index == finder.at);
    }
    match found.get(finder.at) {
        None if finder.found.topic.is_some() => {}
        None => {
            let words = "Nothing here does that. Try another word, e.g. louder, undo or copy.";
            pen.put_in(x, more, room, words, palette.text());
        }
        Some(entry) => about(pen, sight, finder, entry, (x, more, room)),
    }
    Some(Position::new(x + 2 + finder.line.column().saturating_sub(skipped) as u16, y))
}

/// How what is typed was read, where that is not plain: words put right, and words that nothing has.
fn read(finder: &Finder) -> String {
    let found = &finder.found;
    let right = found.typed.read_as.iter().map(|(_, right)| format!("read as {right}"));
    let unknown = found.unknown.iter().map(|word| format!("no match for {word}"));
    right.chain(unknown).collect::<Vec<_>>().join("; ")
}

/// An action, its key, and where it is if that is not here.
fn line(
    pen: &mut Pen,
    sight: &Sight,
    finder: &Finder,
    entry: &Entry,
    at: (u16, u16, usize),
    chosen: bool,
) {
    let palette = pen.palette;
    let (x, row, room) = at;
    if chosen {
        pen.sign(x, row, palette.signs.chosen, palette.strong());
    }
    let track = finder.aim(entry).map(|part| part.id);
    let can = sight.screen.hindrance(entry, track, sight.state).is_none();
    let style = match (chosen, can) {
        (true, _) => palette.on(),
        (false, true) => palette.text(),
        (false, false) => palette.faint(),
    };
    let phrase = (PHRASE as u16).min((room as u16).saturating_sub(KEY + 4));
    let words = text::clip(entry.binding.words().phrase, usize::from(phrase), palette.signs.cut);
    pen.put(x + 2, row, &words, style);
    let key = x + 2 + phrase + 2;
    let after = pen.put(key, row, &entry.key_words(sight.screen.keymap), palette.strong());
    let place = entry.place.words(sight.screen.keymap);
    let beside = (key + KEY).max(after + 2);
    if usize::from(beside - x) + text::width(&place) <= room {
        pen.put(beside, row, &place, palette.faint());
    }
}

/// What the chosen action does, or why it cannot be done now.
fn about(
    pen: &mut Pen,
    sight: &Sight,
    finder: &Finder,
    entry: &Entry,
    (x, y, room): (u16, u16, usize),
) {
    let palette = pen.palette;
    let aim = finder.aim(entry);
    let (words, style) = match sight.screen.hindrance(entry, aim.map(|part| part.id), sight.state) {
        Some(why) => (format!("Not now. {why}"), palette.strong()),
        None => (sight.screen.with_keys(entry.binding.sentence), palette.faint()),
    };
    // The name as it is written, not in the small letters that are searched.
    let name = aim.and_then(|part| sight.state.status.song.track(part.id)).map(|track| &track.name);
    let words = name.map_or(words.clone(), |name| format!("On {name}: {words}"));
    let mut lines = text::wrap(&words, room);
    let most = usize::from(ABOUT);
    if lines.len() > most {
        let rest = lines.split_off(most - 1).join(" ");
        lines.push(text::clip(&rest, room, palette.signs.cut));
    }
    for (row, line) in (y..).zip(&lines) {
        pen.put(x, row, line, style);
    }
}
