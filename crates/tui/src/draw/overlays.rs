//! Draws the overlay that is open over the view: a form, a question, a choice or the help.

use super::notes_view::{lane_list, ramp_box};
use super::{Pen, Sight, comparison, feel, files, finder, grooves, help, key_box, keys_box};
use crate::action::{Action, KeysAction, NoteList};
use crate::desk::DeskState;
use crate::form::{Form, Value};
use crate::keymap::{Binding, Scene};
use crate::numbers::tempo_text;
use crate::screen::{
    Next, NoteMenu, Overlay, Question, SectionMenu, SectionPick, SoundPick, Whither, when_word,
};
use crate::text;
use crate::view_rows::window;
use chaconne_engine::Transport;
use chaconne_song::Section;
use ratatui::layout::Position;
use ratatui::style::Style;

/// Draws an overlay, and returns the place of the cursor; `below` is its place without the overlay.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    open: &Overlay,
    below: Option<Position>,
) -> Option<Position> {
    pen.newest = None;
    let cursor = match open {
        // The foot draws the rows of the piano.
        Overlay::Piano => below,
        Overlay::Help(page) => help::draw(pen, sight, page),
        Overlay::Form(open) => form(pen, open),
        Overlay::Question(open) => question(pen, sight.state, open),
        Overlay::Feel(pick) => feel::draw(pen, sight, pick, below),
        Overlay::Grooves(pick) => grooves::draw(pen, sight, pick),
        Overlay::Sections(pick) => sections(pen, sight, pick),
        Overlay::Sounds(pick) => sound(pen, sight, pick),
        Overlay::SectionEdits(menu) => section_menu(pen, sight, *menu),
        Overlay::Key(open) => key_box::draw(pen, sight, open),
        Overlay::Keys(open) => keys_box::draw(pen, sight, open),
        Overlay::Notes(menu) => notes_menu(pen, sight, *menu),
        Overlay::Lanes(pick) => lane_list(pen, pick),
        Overlay::Ramp(pick) => ramp_box(pen, sight, pick),
        Overlay::Finder(open) => finder::draw(pen, sight, open),
        Overlay::Files(open) => files::draw(pen, sight, open),
        Overlay::Comparison(page) => comparison::draw(pen, page),
    };
    leave(pen, sight, open);
    cursor
}

/// What else is in the bottom edge of a box that lies over the foot, where its keys would be.
fn in_the_edge(open: &Overlay) -> &'static [Action] {
    match open {
        Overlay::Keys(_) => &[
            Action::Confirm,
            Action::Keys(KeysAction::PickUp),
            Action::Keys(KeysAction::Strike),
            Action::Keys(KeysAction::Reset),
        ],
        Overlay::Feel(_) => &[Action::Confirm],
        _ => &[],
    }
}

/// The key that leaves a box, in its bottom edge, and others if there is room.
fn leave(pen: &mut Pen, sight: &Sight, open: &Overlay) {
    // A question has it among its answers, a ramp in its sentence.
    if matches!(open, Overlay::Question(_) | Overlay::Ramp(_)) {
        return;
    }
    let keymap = sight.screen.keymap;
    let words = |action: Action| {
        let row = keymap.here(open.scene()).find(|row| row.action == action)?;
        Some((keymap.key_in(open.scene(), action)?.to_string(), row.label))
    };
    let Some(cancel) = words(Action::Cancel) else { return };
    let width = |(key, label): &(String, &str)| text::width(key) + text::width(label) + 3;
    let mut room = pen.edge_of_box().saturating_sub(width(&cancel));
    let mut all: Vec<(String, &str)> = Vec::new();
    for more in in_the_edge(open).iter().filter_map(|&action| words(action)) {
        let Some(left) = room.checked_sub(width(&more)) else { break };
        room = left;
        all.push(more);
    }
    all.push(cancel);
    let (strong, text) = (pen.palette.strong(), pen.palette.text());
    let mut line = Vec::new();
    for (nth, (key, label)) in all.iter().enumerate() {
        line.push((if nth > 0 { "  " } else { "" }, text));
        line.extend([(key.as_str(), strong), (" ", text), (*label, text)]);
    }
    pen.foot_of_box(&line);
}

/// An empty box over the lower rows; returns the inner corner and the columns inside.
pub fn middle(pen: &mut Pen, width: u16, height: u16, title: &str) -> (u16, u16, usize) {
    let width = (width + 4).min(pen.width());
    let height = (height + 2).min(pen.height());
    // The head and the upper rows of the view stay visible.
    let below = pen.height().saturating_sub(6).max(height);
    let (x, y) = ((pen.width() - width) / 2, below - height);
    pen.frame(x, y, width, height, title);
    (x + 2, y + 1, usize::from(width - 4))
}

/// The rows of the head that a box over the upper rows leaves in sight.
pub const TOP: u16 = 2;

/// The same over the upper rows of the view, under the head.
pub fn top(pen: &mut Pen, width: u16, height: u16, title: &str) -> (u16, u16, usize) {
    over_rows(pen, width, height, TOP, title)
}

/// An empty box over the foot of the screen, so that the rows of the view stay visible; returns the inner
/// corner and the columns inside.
pub fn bottom(pen: &mut Pen, width: u16, height: u16, title: &str) -> (u16, u16, usize) {
    let y = pen.height().saturating_sub(height + 2);
    over_rows(pen, width, height, y, title)
}

/// An empty box from a row on, with nothing beside it.
fn over_rows(pen: &mut Pen, width: u16, height: u16, y: u16, title: &str) -> (u16, u16, usize) {
    let width = (width + 4).min(pen.width());
    let height = (height + 2).min(pen.height());
    let x = (pen.width() - width) / 2;
    // Parts of the foot beside it would say nothing.
    (y..y + height).for_each(|row| pen.clear_row(row));
    // The row above it is the view's.
    let airy = std::mem::replace(&mut pen.airy, y..y);
    pen.frame(x, y, width, height, title);
    pen.airy.start = airy.start;
    (x + 2, y + 1, usize::from(width - 4))
}

/// The columns of a list in a box over the foot: how many, and how wide each is.
pub fn columns(pen: &Pen) -> (u16, u16) {
    let room = pen.width().saturating_sub(4);
    if room >= 76 { (3, 25) } else { (2, room / 2) }
}

/// The columns of such a box.
pub fn columns_in_all(pen: &Pen) -> u16 {
    let (count, width) = columns(pen);
    (count * width).next_multiple_of(4)
}

/// The rows under the fields of a form for what is wrong with them.
const ERROR_ROWS: usize = 2;
/// The rows for what would come of it, if the form says that.
const PREVIEW_ROWS: usize = 3;

fn form(pen: &mut Pen, form: &Form) -> Option<Position> {
    let palette = pen.palette;
    let label_room = form.fields.iter().map(|field| field.label.len()).max().unwrap_or(0) as u16;
    let preview = form.preview();
    let words = if preview.is_some() { PREVIEW_ROWS } else { ERROR_ROWS };
    let (count, inside) = (form.fields.len(), usize::from(pen.height()) - 2);
    let shown = count.min(inside.saturating_sub(words).max(1));
    // On a low screen the fields begin right under the edge, and those around the cursor are shown.
    let blank = u16::from(inside > shown + words);
    let first = window(form.focus.saturating_sub(shown / 2), form.focus, count, shown);
    let (x, y, room) = middle(pen, 60, blank + (shown + words) as u16, &form.title);
    pen.left_out(first, count - first - shown);
    let at = x + label_room + 4;
    let mut cursor = None;
    for (index, field) in form.fields.iter().enumerate().skip(first).take(shown) {
        let row = y + blank + (index - first) as u16;
        let focused = index == form.focus;
        if focused {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
        }
        let label = if focused { palette.strong() } else { palette.faint() };
        pen.put(x + 2, row, field.label, label);
        let (end, column) =
            self::value(pen, (at, row), room - usize::from(at - x), &field.value, focused);
        if focused {
            cursor = Some(Position::new(column, row));
        }
        let hint_at = end.max(at + 14) + 2;
        let left = room.saturating_sub(usize::from(hint_at - x));
        let hint = form.hint(index);
        if text::width(&hint) <= left {
            pen.put(hint_at, row, &hint, palette.faint());
        }
    }
    let said = form.error.as_deref().map(|error| (error, palette.alarm()));
    let said = said.or(preview.map(|preview| (preview, palette.text())));
    if let Some((said, style)) = said {
        let lines = text::wrap(said, room);
        for (row, line) in (y + blank + shown as u16..).zip(lines.iter().take(words)) {
            pen.put(x, row, line, style);
        }
    }
    cursor
}

/// Draws the value of a field in at most `space` columns. Returns the column after it and that of
/// the cursor.
fn value(
    pen: &mut Pen,
    (at, row): (u16, u16),
    space: usize,
    value: &Value,
    focused: bool,
) -> (u16, u16) {
    let palette = pen.palette;
    match value {
        Value::Text(line) => {
            let room = space.saturating_sub(1);
            let (shown, column) = around(&line.text(), line.column(), room, palette.signs.cut);
            let style = match focused {
                // Shown as selected, because typing replaces it.
                true if line.is_proposal() => palette.on(),
                true => palette.strong(),
                false => palette.text(),
            };
            (pen.put(at, row, &shown, style), at + column as u16)
        }
        Value::Choice { words, at: chosen } => {
            let (mut column, mut cursor) = (at, at);
            let first = first_word(words, *chosen, space);
            if first > 0 {
                pen.sign(at, row, palette.signs.cut, palette.faint());
                column += 2;
            }
            for (each, word) in words.iter().enumerate().skip(first) {
                if each == *chosen {
                    // The cursor goes beside the reversed word: on it, it would reverse it again.
                    cursor = column.saturating_sub(1);
                    if palette.signs.chosen != ' ' {
                        pen.sign(cursor, row, palette.signs.chosen, palette.strong());
                    }
                }
                let style = if each == *chosen { palette.on() } else { palette.faint() };
                column = pen.put(column, row, word, style) + 2;
            }
            (column, cursor)
        }
    }
}

/// The first word of a choice to show in so many columns, so that the chosen one is whole.
fn first_word(words: &[&str], chosen: usize, columns: usize) -> usize {
    let width = |from: usize| -> usize {
        let shown = words[from..=chosen].iter().map(|word| text::width(word) + 2).sum::<usize>();
        // The sign that words before it are left out has its columns, too.
        shown.saturating_sub(2) + if from > 0 { 2 } else { 0 }
    };
    (0..chosen).find(|&from| width(from) <= columns).unwrap_or(chosen)
}

/// The part of `text` around a column, in at most `columns`, with signs where something is left out; and where
/// the column is in it.
fn around(text: &str, column: usize, columns: usize, cut: char) -> (String, usize) {
    let whole = text::width(text);
    if whole <= columns {
        return (text.to_string(), column);
    }
    // The end, where the user is typing, as long as the column is in it.
    let from = (whole + 1 - columns).min(column.saturating_sub(columns / 2));
    let (rest, skipped) = tail(text, whole - from);
    match skipped {
        0 => (text::clip(&rest, columns, cut), column),
        _ => {
            let rest = text::clip(&rest, columns.saturating_sub(1), cut);
            (format!("{cut}{rest}"), column.saturating_sub(skipped) + 1)
        }
    }
}

/// The end of `text` in at most `columns`, and how many columns were left out before it.
pub fn tail(text: &str, columns: usize) -> (String, usize) {
    let mut rest = text;
    while text::width(rest) > columns {
        let mut chars = rest.chars();
        chars.next();
        rest = chars.as_str();
    }
    (rest.to_string(), text::width(text) - text::width(rest))
}

/// A question: the facts first, then the answers with their keys.
fn question(pen: &mut Pen, state: &DeskState, question: &Question) -> Option<Position> {
    let palette = pen.palette;
    let columns = 58.min(usize::from(pen.width()) - 4);
    let (title, known, answers) = match question {
        Question::Leave(next) => leave_words(state, next),
        Question::Replace { own: true, why, .. } => {
            let answers = vec![
                ("c", "compare the song here with the file"),
                ("r", "replace the file with the song here"),
                ("l", "load the file; changes and undo here are lost"),
                ("w", "save the song here under another name"),
                ("Esc", "save nothing for now"),
            ];
            ("The file has changed", text::wrap(why, columns), answers)
        }
        Question::Replace { why, form, .. } => {
            let back = if form.is_some() { "use another name" } else { "leave the file as it is" };
            let answers = vec![("r", "replace it"), ("Esc", back)];
            ("Replace the file?", text::wrap(why, columns), answers)
        }
        Question::ReplaceExport { spec, why } => {
            let replace =
                if spec.tracks { "replace all files of this export" } else { "replace it" };
            let answers = vec![("r", replace), ("Esc", "leave it as it is")];
            ("Replace the file?", text::wrap(why, columns), answers)
        }
        Question::Export(file) => {
            let known = format!("The export to {file} is still running.");
            let answers = vec![("x", "cancel it"), ("Esc", "let it go on")];
            ("Cancel the export?", text::wrap(&known, columns), answers)
        }
        Question::Rescue(copy) => {
            let known = format!(
                "The program ended before this song was saved. Its unsaved changes are in {copy}."
            );
            let answers = vec![
                ("r", restore_words(state)),
                ("x", delete_words(state)),
                ("Esc", "decide later, before you save the song again"),
            ];
            ("Unsaved changes found", text::wrap(&known, columns), answers)
        }
    };
    let answers: Vec<(&str, String)> = answers
        .into_iter()
        .flat_map(|(key, does)| {
            let keys = std::iter::once(key).chain(std::iter::repeat(""));
            keys.zip(text::wrap(does, columns - ANSWER))
        })
        .collect();
    // On a low screen the blank rows go, and then what the facts end with.
    let inside = usize::from(pen.height()) - 2;
    let known = shortened(known, inside.saturating_sub(answers.len()), columns, palette.signs.cut);
    let blank = inside.saturating_sub(known.len() + answers.len()).min(3) as u16;
    let (between, above) = (u16::from(blank > 0), u16::from(blank > 1));
    let rows = (known.len() + answers.len()) as u16 + blank;
    let (x, y, room) = middle(pen, columns as u16, rows, title);
    for (row, line) in (y + above..).zip(&known) {
        pen.put_in(x, row, room, line, palette.text());
    }
    let first = y + above + known.len() as u16 + between;
    for (row, (key, does)) in (first..).zip(answers) {
        pen.put(x, row, key, palette.strong());
        pen.put(x + ANSWER as u16, row, &does, palette.text());
    }
    Some(Position::new(x, first))
}

/// The columns before the words of an answer.
const ANSWER: usize = 5;

/// Lines in at most so many rows, with a sign if something is left out.
fn shortened(mut lines: Vec<String>, rows: usize, columns: usize, cut: char) -> Vec<String> {
    if lines.len() > rows && rows > 0 {
        let rest = lines.split_off(rows - 1).join(" ");
        lines.push(text::clip(&rest, columns, cut));
    }
    lines
}

/// What the rescue copy takes the place of.
fn restore_words(state: &DeskState) -> &'static str {
    match state.disk.unsaved {
        true => "restore them; what you did since opening is lost",
        false => "restore them",
    }
}

/// What is left if the rescue copy is deleted.
fn delete_words(state: &DeskState) -> &'static str {
    match (state.disk.exists && !state.disk.unsaved, state.status.song.tracks.is_empty()) {
        (true, _) => "delete the copy and keep the song as it was saved",
        (false, true) => "delete the copy and start empty",
        (false, false) => "delete the copy and keep the song as it is now",
    }
}

type Words = (&'static str, Vec<String>, Vec<(&'static str, &'static str)>);

fn leave_words(state: &DeskState, next: &Next) -> Words {
    let (status, unsaved) = (&state.status, state.disk.unsaved);
    let savable = unsaved || status.recording;
    let mut known = Vec::new();
    if status.recording {
        known.push("You are recording: saving keeps what you played so far.".to_string());
    } else if status.transport != Transport::Stopped {
        known.push("The song is still playing.".to_string());
    }
    if unsaved {
        known.push("There are unsaved changes.".to_string());
    }
    if state.export.running.is_some() {
        known.push("An export is still running: going on cancels it.".to_string());
    }
    let discard = match (next, savable) {
        (Next::Quit, true) => "don't save, quit",
        (Next::Quit, false) => "quit",
        (Next::NewSong, _) => "don't save, start a new song",
        (Next::Open(_), _) => "don't save, open it",
    };
    let save = match (next, status.transport) {
        (Next::Quit, Transport::Stopped) => "save and quit",
        (Next::Quit, _) => "stop, save and quit",
        (Next::NewSong, Transport::Stopped) => "save and start a new song",
        (Next::NewSong, _) => "stop, save and start a new song",
        (Next::Open(_), Transport::Stopped) => "save and open it",
        (Next::Open(_), _) => "stop, save and open it",
    };
    let key = if savable { "l" } else { "q" };
    let mut answers = vec![(key, discard), ("Esc", "stay")];
    if savable {
        answers.insert(0, ("s", save));
    }
    let title = match next {
        Next::Quit => "Quit?",
        Next::NewSong => "New song?",
        Next::Open(_) => "Open another song?",
    };
    (title, known, answers)
}

fn sections(pen: &mut Pen, sight: &Sight, pick: &SectionPick) -> Option<Position> {
    let palette = pen.palette;
    let status = &sight.state.status;
    let places = Whither::all(status);
    // The head stays visible, if the screen is not too low.
    let height = usize::from(pen.height());
    let most = height.saturating_sub(14).max(height.saturating_sub(6).min(6));
    let rows = places.len().min(most).max(1);
    let title = format!("Jump at the next {}", when_word(sight.screen.when));
    let (x, y, room) = middle(pen, 52, rows as u16 + 3, &title);
    let first = pick.at.saturating_sub(rows / 2).min(places.len().saturating_sub(rows));
    pen.left_out(first, places.len().saturating_sub(first + rows));
    let mut focus = None;
    for (index, &place) in places.iter().enumerate().skip(first).take(rows) {
        let row = y + 1 + (index - first) as u16;
        let style = if index == pick.at { palette.on() } else { palette.text() };
        if index == pick.at {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let (here, letter) = (status.section, |letter| status.song.section(letter));
        let (name, facts) = match place {
            Whither::Section(of) => {
                if let Some(section) = letter(of) {
                    section_row(pen, section, (x, row, room), style);
                }
                continue;
            }
            Whither::Stay => ("stay", format!("in {here} until the next jump")),
            Whither::Back => ("form", "back to where you left it".to_string()),
            Whither::LastTime => ("end", format!("last time through {here}, then end")),
        };
        pen.put(x + 2, row, name, style);
        let facts = text::clip(&facts, room.saturating_sub(7), palette.signs.cut);
        pen.put(x + 7, row, &facts, palette.text());
    }
    let typed = match pick.typed.as_str() {
        "" if room < 40 => "A letter goes at once.".to_string(),
        "" => "A letter goes at once; or use the arrows.".to_string(),
        typed => {
            let jump = sight.screen.keymap.fill_in(Scene::Sections, "{confirm}");
            format!("{typed}: type one more letter, or {jump}.")
        }
    };
    pen.put(x, y + rows as u16 + 2, &typed, palette.faint());
    focus
}

/// A section in the choice of where to go: its letter, the facts about it, and its name.
fn section_row(pen: &mut Pen, section: &Section, (x, row, room): (u16, u16, usize), style: Style) {
    let palette = pen.palette;
    pen.put_in(x + 2, row, 3, section.letter.as_str(), style);
    let metre = section.metre.first();
    let tempo = tempo_text(section.tempo.first(), metre.tempo_unit());
    let bars = text::plural(section.metre.bars() as usize, "bar");
    let facts = format!("{:>3} {bars:<4}  {metre}  tempo {tempo}", section.metre.bars());
    let after = pen.put(x + 7, row, &facts, palette.text()).max(x + 34);
    let room = (x + room as u16).saturating_sub(after + 2);
    let name = text::clip(&section.name, usize::from(room), palette.signs.cut);
    pen.put(after + 2, row, &name, palette.faint());
}

fn sound(pen: &mut Pen, sight: &Sight, pick: &SoundPick) -> Option<Position> {
    let palette = pen.palette;
    let name = sight.state.status.song.track(pick.track).map_or("", |track| track.name.as_str());
    let rows = pick.sounds.len().min(usize::from(pen.height()).saturating_sub(12).clamp(3, 9));
    let (x, y, room) = middle(pen, 44, rows as u16 + 3, &format!("Sound of {name}"));
    let first = pick.at.saturating_sub(rows / 2).min(pick.sounds.len() - rows);
    pen.left_out(first, pick.sounds.len() - first - rows);
    let mut focus = None;
    for place in first..first + rows {
        let row = y + 1 + (place - first) as u16;
        let chosen = place == pick.at;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        if let Some(program) = pick.sounds.program(place) {
            pen.put(x + 2, row, &format!("{:>3}", program.get() + 1), palette.faint());
        }
        let style = if chosen { palette.on() } else { palette.text() };
        let name = text::clip(pick.sounds.name(place), room - 6, palette.signs.cut);
        pen.put(x + 6, row, &name, style);
    }
    let (said, style) = match pick.typed.as_str() {
        "" if room < 40 => ("Type a name or use the arrows.".to_string(), palette.faint()),
        "" => ("Type a name, or pick with the arrows.".to_string(), palette.faint()),
        typed if pick.is_unknown() => (format!("{typed}: no such sound"), palette.alarm()),
        typed => {
            let take = sight.screen.keymap.fill_in(Scene::Sounds, "{confirm}");
            (format!("{typed}: keep typing, or press {take}."), palette.faint())
        }
    };
    pen.put(x, y + rows as u16 + 2, &text::clip(&said, room, palette.signs.cut), style);
    focus
}

/// What can be done with notes, in columns.
fn notes_menu(pen: &mut Pen, sight: &Sight, menu: NoteMenu) -> Option<Position> {
    let title = match menu.list {
        NoteList::Edit => "Edit notes",
        NoteList::Select => "Select notes",
    };
    let number = |action| sight.screen.notes.numbers.words(action);
    list(pen, sight, (menu.scene(), title), (&menu.rows(), menu.at), number)
}

/// What can be done to a section, in columns.
fn section_menu(pen: &mut Pen, sight: &Sight, menu: SectionMenu) -> Option<Position> {
    let title = format!("Arrange section {}", menu.section);
    let of = (Scene::SectionEdits, title.as_str());
    list(pen, sight, of, (&SectionMenu::rows(), menu.at), |_| String::new())
}

/// Rows of the table in columns over the foot, each with what is to be said after its label.
fn list(
    pen: &mut Pen,
    sight: &Sight,
    (scene, title): (Scene, &str),
    (rows, at): (&[&Binding], usize),
    after_label: impl Fn(Action) -> String,
) -> Option<Position> {
    let palette = pen.palette;
    let (count, width) = columns(pen);
    // Where room is short, the keys are beside the sign of the chosen row, and the first column is narrower:
    // the numbers are in the last one.
    let (gap, width) = if width < 25 { (1, width - 2) } else { (2, width) };
    let each = rows.len().div_ceil(usize::from(count));
    let (x, y, _) = bottom(pen, columns_in_all(pen), each as u16, title);
    let mut focus = None;
    for (index, binding) in rows.iter().enumerate() {
        let (left, row) = (x + width * (index / each) as u16, y + (index % each) as u16);
        let chosen = index == at;
        if chosen {
            pen.sign(left, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(left, row));
        }
        let key = sight.screen.keymap.key_in(scene, binding.action);
        let key = key.map_or(String::new(), ToString::to_string);
        pen.put(left + gap, row, &key, palette.strong());
        let style = if chosen { palette.on() } else { palette.text() };
        let after = pen.put(left + gap + 2, row, binding.label, style);
        pen.put(after + 1, row, &after_label(binding.action), palette.faint());
    }
    focus
}
