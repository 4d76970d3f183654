//! What lies over the sketch: forms, the question before leaving, the choices.

use super::{Pen, Sight};
use crate::desk::View;
use crate::form::{Form, Value};
use crate::keymap::Scene;
use crate::screen::{Ask, GridPick, JumpPick, Next, SoundPick};
use crate::sounds;
use crate::text;
use crate::told::tempo_text;
use chaconne_engine::Transport;
use chaconne_time::NoteValue;
use ratatui::layout::Position;

/// Draws what is open, and says where the cursor belongs in it.
pub fn draw(pen: &mut Pen, sight: &Sight) -> Option<Position> {
    let screen = sight.screen;
    match screen.scene() {
        Scene::Form => form(pen, screen.form.as_ref()?),
        Scene::Ask => ask(pen, sight.view, screen.ask?),
        Scene::Grids => grids(pen, sight.view, screen.grids?),
        Scene::Jump => jump(pen, sight.view, screen.jump.as_ref()?),
        Scene::Sounds => sound(pen, sight.view, screen.sounds.as_ref()?),
        Scene::Sketch | Scene::Piano | Scene::Help => None,
    }
}

/// An empty box over the lower tracks; gives the corner of its inside and its columns.
fn middle(pen: &mut Pen, width: u16, height: u16, title: &str) -> (u16, u16, usize) {
    let width = (width + 4).min(pen.width());
    let height = (height + 2).min(pen.height());
    // What tells how it stands, and the tracks' upper rows, stay in sight.
    let below = pen.height().saturating_sub(6).max(height);
    let (x, y) = ((pen.width() - width) / 2, below - height);
    pen.frame(x, y, width, height, title);
    (x + 2, y + 1, usize::from(width - 4))
}

fn form(pen: &mut Pen, form: &Form) -> Option<Position> {
    let palette = pen.palette;
    let label_room = form.fields.iter().map(|field| field.label.len()).max().unwrap_or(0) as u16;
    let rows = form.fields.len() as u16 + 3;
    let (x, y, room) = middle(pen, 60, rows, form.title);
    let at = x + label_room + 4;
    let mut cursor = None;
    for (index, field) in form.fields.iter().enumerate() {
        let row = y + 1 + index as u16;
        let focused = index == form.focus;
        let style = if focused { palette.strong() } else { palette.text() };
        if focused {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
        }
        pen.put(x + 2, row, field.label, palette.faint());
        let space = room - usize::from(at - x);
        let end = match &field.value {
            Value::Text(line) => {
                // The end of a long line is what is being written.
                let (shown, skipped) = tail(&line.text(), space.saturating_sub(1));
                if focused {
                    let column = line.column().saturating_sub(skipped) as u16;
                    cursor = Some(Position::new(at + column, row));
                }
                pen.put(at, row, &shown, style)
            }
            Value::Choice { words, at: chosen } => {
                let mut column = at;
                for (each, word) in words.iter().enumerate() {
                    if each == *chosen && focused {
                        cursor = Some(Position::new(column, row));
                    }
                    let style = if each == *chosen { palette.on() } else { palette.faint() };
                    column = pen.put(column, row, word, style) + 2;
                }
                column
            }
        };
        let hint_at = end.max(at + 14) + 2;
        let left = room.saturating_sub(usize::from(hint_at - x));
        let hint = form.hint(index);
        if text::width(&hint) <= left {
            pen.put(hint_at, row, &hint, palette.faint());
        }
    }
    if let Some(error) = &form.error {
        let lines = text::wrap(error, room);
        for (row, line) in (y + 1 + form.fields.len() as u16..).zip(lines.iter().take(2)) {
            pen.put(x, row, line, palette.alarm());
        }
    }
    cursor
}

/// The end of `text` in at most `columns`, and how many columns were left out before it.
fn tail(text: &str, columns: usize) -> (String, usize) {
    let mut rest = text;
    while text::width(rest) > columns {
        let mut chars = rest.chars();
        chars.next();
        rest = chars.as_str();
    }
    (rest.to_string(), text::width(text) - text::width(rest))
}

fn ask(pen: &mut Pen, view: &View, ask: Ask) -> Option<Position> {
    let palette = pen.palette;
    let (status, unsaved) = (&view.status, view.disk.unsaved);
    let mut lines = Vec::new();
    if status.recording {
        lines.push("It is recording; ending now keeps what was played so far.");
    } else if status.transport != Transport::Stopped {
        lines.push("It is still rolling.");
    }
    if unsaved {
        lines.push("The song holds something that is not saved.");
    }
    let savable = unsaved || status.recording;
    let discard = match (ask.next, savable) {
        (Next::Quit, true) => "leave without saving",
        (Next::Quit, false) => "leave",
        (Next::NewSong, _) => "give this song up",
    };
    let save = match (ask.next, status.transport) {
        (Next::Quit, Transport::Stopped) => "save and leave",
        (Next::Quit, _) => "stop, save and leave",
        (Next::NewSong, Transport::Stopped) => "save and begin a new song",
        (Next::NewSong, _) => "stop, save and begin a new song",
    };
    let mut choices = vec![("l", discard), ("Esc", "stay")];
    if savable {
        choices.insert(0, ("s", save));
    }
    let title = match ask.next {
        Next::Quit => "Leave?",
        Next::NewSong => "New song?",
    };
    let rows = (lines.len() + choices.len() + 3) as u16;
    let (x, y, room) = middle(pen, 58, rows, title);
    let mut row = y + 1;
    for line in &lines {
        pen.put_in(x, row, room, line, palette.text());
        row += 1;
    }
    row += 1;
    let focus = Position::new(x, row);
    for (key, does) in choices {
        pen.put(x, row, key, palette.strong());
        pen.put(x + 5, row, does, palette.text());
        row += 1;
    }
    Some(focus)
}

fn grids(pen: &mut Pen, view: &View, pick: GridPick) -> Option<Position> {
    let palette = pen.palette;
    let name = view.status.song.track(pick.track).map_or("", |track| track.name.as_str());
    let (x, y, _) = middle(pen, 36, 8, &format!("Grid of {name}"));
    for (column, kind) in ["straight", "triplet", "dotted"].into_iter().enumerate() {
        pen.put(x + 2 + 12 * column as u16, y + 1, kind, palette.faint());
    }
    let mut focus = None;
    for (index, grid) in NoteValue::grids().enumerate() {
        let column = x + 2 + 12 * (index % GridPick::ROW) as u16;
        let row = y + 2 + (index / GridPick::ROW) as u16;
        let word = format!("1/{}", grid.division());
        if index == pick.at {
            pen.sign(column - 2, row, palette.signs.chosen, palette.strong());
            pen.put(column, row, &word, palette.on());
            focus = Some(Position::new(column, row));
        } else {
            pen.put(column, row, &word, palette.text());
        }
    }
    focus
}

fn jump(pen: &mut Pen, view: &View, pick: &JumpPick) -> Option<Position> {
    let palette = pen.palette;
    let sections = &view.status.song.sections;
    let rows = sections.len().min(usize::from(pen.height()).saturating_sub(6)).max(1);
    let (x, y, _) = middle(pen, 44, rows as u16 + 3, "Go to a section at the next seam");
    let first = pick.at.saturating_sub(rows / 2).min(sections.len().saturating_sub(rows));
    let mut focus = None;
    for (index, section) in sections.iter().enumerate().skip(first).take(rows) {
        let row = y + 1 + (index - first) as u16;
        let style = if index == pick.at { palette.on() } else { palette.text() };
        if index == pick.at {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x + 2, row));
        }
        pen.put_in(x + 2, row, 3, section.letter.as_str(), style);
        let metre = section.metre.first();
        let tempo = tempo_text(section.tempo.first(), metre.tempo_unit());
        let bars = text::plural(section.metre.bars() as usize, "bar");
        let text = format!("{:>3} {bars:<4}  {metre}  tempo {tempo}", section.metre.bars());
        pen.put(x + 7, row, &text, palette.text());
    }
    let typed = match pick.typed.as_str() {
        "" => "Type its letter, or choose it.".to_string(),
        typed => format!("{typed}: type one more letter, or choose it."),
    };
    pen.put(x, y + rows as u16 + 2, &typed, palette.faint());
    focus
}

fn sound(pen: &mut Pen, view: &View, pick: &SoundPick) -> Option<Position> {
    let palette = pen.palette;
    let name = view.status.song.track(pick.track).map_or("", |track| track.name.as_str());
    let rows = SoundPick::PLACES.min(usize::from(pen.height()).saturating_sub(12).clamp(3, 9));
    let (x, y, room) = middle(pen, 44, rows as u16 + 3, &format!("Sound of {name}"));
    let first = pick.place().saturating_sub(rows / 2).min(SoundPick::PLACES - rows);
    let mut focus = None;
    for place in first..first + rows {
        let row = y + 1 + (place - first) as u16;
        let chosen = place == pick.place();
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x + 6, row));
        }
        if place > 0 {
            pen.put(x + 2, row, &format!("{place:>3}"), palette.faint());
        }
        let style = if chosen { palette.on() } else { palette.text() };
        let name = sounds::name(SoundPick::at_place(place), pick.drums);
        pen.put(x + 6, row, &text::clip(&name, room - 6, palette.signs.cut), style);
    }
    let (told, style) = match pick.typed.as_str() {
        "" => ("Type a name or a number, or choose it.".to_string(), palette.faint()),
        typed if pick.is_unknown() => (format!("{typed}: no such sound"), palette.alarm()),
        typed => (format!("{typed}: type on, or take it."), palette.faint()),
    };
    pen.put(x, y + rows as u16 + 2, &text::clip(&told, room, palette.signs.cut), style);
    focus
}
