//! The head of the screen: title and file, and one row for the state of transport and song.

use super::{Frame, Pen, Sight};
use crate::desk::{DeskState, Disk, OwnSave};
use crate::numbers::tempo_text;
use crate::palette::Palette;
use chaconne_engine::{Status, Transport};
use ratatui::style::Style;

/// The columns of the section.
const SECTION: usize = 9;
/// The column where everything starts.
const LEFT: u16 = 1;

pub fn draw(pen: &mut Pen, sight: &Sight, frame: &Frame) {
    let rows = &frame.head;
    if let Some(row) = rows.title {
        title(pen, sight, row);
    }
    let mut x = LEFT;
    for field in fields(pen, sight) {
        if let Some(row) = rows.labels {
            pen.put_in(x, row, usize::from(field.width) - 1, field.label, pen.palette.faint());
        }
        let columns = usize::from(field.width) - 1;
        let text = crate::text::clip(&field.value, columns, pen.palette.signs.cut);
        pen.put(x, rows.values, &text, field.style);
        x += field.width;
    }
}

/// What the transport does, and whether it records, in words.
pub fn transport_words(state: &DeskState) -> (&'static str, String) {
    let status = &state.status;
    let transport = match status.transport {
        Transport::Stopped => "STOPPED",
        Transport::CountingIn => "COUNT-IN",
        Transport::Rolling => "PLAYING",
    };
    let recording = match (status.recording, status.transport) {
        (false, _) => "not recording".into(),
        (true, Transport::CountingIn) => format!("at bar {}", status.bar_to_begin()),
        (true, Transport::Stopped) => "at the next start".into(),
        (true, _) => "RECORDING".into(),
    };
    (transport, recording)
}

/// A field of the head.
struct Field {
    label: &'static str,
    value: String,
    style: Style,
    width: u16,
    /// The lower, the longer it stays on a narrow screen.
    rank: u8,
}

/// The fields that fit, in their order on the screen; the form gets what it needs of the rest.
fn fields(pen: &Pen, sight: &Sight) -> Vec<Field> {
    let mut fields = all_fields(pen, sight);
    let room = pen.width() - LEFT;
    let total = |fields: &[Field]| fields.iter().map(|field| field.width).sum::<u16>();
    while total(&fields) > room {
        let Some(worst) = fields.iter().map(|field| field.rank).max().filter(|&rank| rank > 0)
        else {
            break;
        };
        fields.retain(|field| field.rank != worst);
    }
    // An empty column after the longest ones, if there is room.
    for label in ["recording", "bar.beat", "bar"] {
        if total(&fields) < room {
            let found = fields.iter_mut().find(|field| field.label == label);
            found.into_iter().for_each(|field| field.width += 1);
        }
    }
    let spare = room.saturating_sub(total(&fields));
    for field in fields.iter_mut().filter(|field| field.label == "form") {
        let wanted = crate::text::width(&field.value) as u16 + 3;
        field.width += spare.min(wanted.max(12).saturating_sub(field.width));
    }
    fields
}

fn all_fields(pen: &Pen, sight: &Sight) -> Vec<Field> {
    let (status, palette) = (&sight.state.status, pen.palette);
    let (transport, recording) = transport_words(sight.state);
    let field =
        |label, value: String, style, width, rank| Field { label, value, style, width, rank };
    let moving = status.transport != Transport::Stopped;
    let place = match sight.calm {
        true => status.place.bar.to_string(),
        false => format!("{}.{}", status.place.bar, status.place.beat),
    };
    // A section that follows itself is not shown.
    let next = status.next_section.filter(|&next| next != status.section);
    let section = match next {
        Some(next) => format!("{} {} {next}", status.section, palette.signs.arrow),
        None => section_words(status),
    };
    let in_form = status.in_form.is_some();
    let strong = palette.strong();
    let unit = status.metre.tempo_unit();
    vec![
        field("transport", transport.into(), if moving { palette.on() } else { strong }, 10, 0),
        field(
            "recording",
            if pen.width() < 60 { recording.replace("the ", "") } else { recording.clone() },
            if status.recording { palette.alarm_on() } else { palette.faint() },
            if pen.width() < 60 { 14 } else { 14.max(recording.len() as u16 + 1) },
            0,
        ),
        field(if sight.calm { "bar" } else { "bar.beat" }, place, strong, 9, 0),
        field("round", (status.round + 1).to_string(), strong, 7, if in_form { 4 } else { 3 }),
        field("section", section, strong, SECTION as u16, 1),
        form(status, palette),
        field("metre", status.metre.to_string(), strong, 7, 2),
        field("tempo", tempo_text(status.tempo, unit), strong, 6, 0),
    ]
}

/// The form; while it plays, first how far it is.
fn form(status: &Status, palette: &Palette) -> Field {
    let form: String = match status.song.form.is_empty() {
        true => "none".to_string(),
        false => status.song.form.to_string().chars().take(200).collect(),
    };
    let text = palette.text();
    match status.in_form {
        None => Field { label: "form", value: form, style: text, width: 7, rank: 4 },
        Some((round, rounds)) => {
            let place = format!("{round} of {rounds}");
            let width = 7.max(place.len() as u16 + 1);
            let value = format!("{place}  {form}");
            Field { label: "form", value, style: palette.strong(), width, rank: 3 }
        }
    }
}

/// The letter of the section and, if there is room for it, its name.
fn section_words(status: &Status) -> String {
    let letter = status.section.to_string();
    let name = status.song.section(status.section).map_or("", |section| section.name.as_str());
    match format!("{letter} {name}") {
        both if !name.is_empty() && crate::text::width(&both) < SECTION => both,
        _ => letter,
    }
}

/// Whether everything is saved, in words; `None` for an untouched song without a file.
pub fn saved_word(disk: &Disk, palette: &Palette) -> Option<(&'static str, Style)> {
    match (disk.own, disk.unsaved) {
        (OwnSave::Failed, _) => Some(("save failed", palette.alarm())),
        // A save that needs permission to replace a file has not failed: it waits for an answer.
        (OwnSave::Waits, _) | (_, true) => Some(("not saved", palette.strong())),
        (OwnSave::Fine, false) => disk.path.as_ref().map(|_| ("saved", palette.faint())),
    }
}

fn title(pen: &mut Pen, sight: &Sight, row: u16) {
    let palette = pen.palette;
    let disk = &sight.state.disk;
    let file = disk.path.as_deref().map(|path| path.rsplit('/').next().unwrap_or(path));
    let file = file.unwrap_or("no file yet");
    let most = usize::from(pen.width()) / 3;
    // With its folder, if there is room.
    let within = disk.folder.as_ref().filter(|_| disk.path.is_some());
    let whole = within.map(|folder| format!("{folder}/{file}"));
    let whole = whole.filter(|whole| crate::text::width(whole) <= most);
    let file = whole.unwrap_or_else(|| crate::text::clip(file, most, palette.signs.cut));
    let end = pen.width() - 1;
    let start = pen.put_before(end, row, &file, palette.faint());
    let start = match saved_word(disk, palette) {
        None => start,
        Some((word, style)) => pen.put_before(start - 2, row, word, style),
    };
    let room = usize::from(start.saturating_sub(LEFT + 2));
    let title = crate::text::clip(&sight.state.status.song.title, room, palette.signs.cut);
    pen.put(LEFT, row, &title, palette.strong());
}
