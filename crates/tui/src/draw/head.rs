//! The head of the screen: title and file, and one row for the state of transport and song.

use super::{Frame, Pen, Sight};
use crate::desk::{DeskState, Disk, OwnSave};
use crate::numbers::tempo_text;
use crate::palette::Palette;
use crate::screen::{standing, unrolled};
use chaconne_engine::{KeyOf, Status, Transport, Waits};
use chaconne_song::Letter;
use ratatui::style::Style;

/// The columns of the section.
const SECTION: usize = 9;
/// The column where everything starts.
const LEFT: u16 = 1;
/// Screens as wide as this have room for everything.
const WIDE: u16 = 100;
/// Screens narrower than this have the shortest words.
pub const NARROW: u16 = 60;

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
        let columns = usize::from(field.width - field.gap());
        let (text, cut) = (&field.value, pen.palette.signs.cut);
        let end = pen.put(x, rows.values, &crate::text::clip(text, columns, cut), field.style);
        if let Some(around) = &field.around {
            let at = pen.put(end, rows.values, &around.before, field.style);
            let after = pen.put(at, rows.values, &around.here, pen.palette.on());
            pen.put(after, rows.values, &around.after, field.style);
        }
        x += field.width;
    }
}

/// What the transport does, and whether it records, in words.
pub fn transport_words(state: &DeskState) -> (&'static str, String) {
    let status = &state.status;
    let transport = match status.transport {
        _ if status.waits == Some(Waits::Fermata) => "FERMATA",
        _ if status.waits.is_some() => "WAITING",
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

/// What the tempo is called: who leads is said where it is not the song.
fn tempo_label(status: &Status) -> &'static str {
    if status.by_hand.is_some() { "by hand" } else { "tempo" }
}

/// A field of the head.
struct Field {
    label: &'static str,
    value: String,
    /// What follows the value.
    around: Option<Around>,
    style: Style,
    width: u16,
    /// The lower, the longer it stays on a narrow screen; with 0 it always stays.
    rank: u8,
}

impl Field {
    /// The columns between the field and the next. Letters of a form close before a metre would read on.
    fn gap(&self) -> u16 {
        if self.label == "form" { 2 } else { 1 }
    }
}

/// The fields that fit, in their order on the screen; the form gets what it needs of the rest.
fn fields(pen: &Pen, sight: &Sight) -> Vec<Field> {
    let mut fields = all_fields(pen, sight);
    // On a narrow screen the last field goes to the edge.
    let room = pen.width() - LEFT + u16::from(pen.width() < NARROW);
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
    let names_chords = fields.iter().any(|field| field.label == CHORD);
    if names_chords && !sight.state.status.song.form.is_empty() && pen.width() < WIDE {
        fields.retain(|field| field.label != "round");
    }
    // While the form plays, where it stands says more than the round of the section.
    if sight.state.status.in_form.is_some() && pen.width() < WIDE {
        fields.retain(|field| field.label != "round");
    }
    let spare = room.saturating_sub(total(&fields));
    if let Some(field) = fields.iter_mut().find(|field| field.label == "form") {
        fit_form(field, spare, sight, pen.palette.signs.cut);
    }
    fields
}

fn all_fields(pen: &Pen, sight: &Sight) -> Vec<Field> {
    let (status, palette) = (&sight.state.status, pen.palette);
    let (transport, recording) = transport_words(sight.state);
    let narrow = pen.width() < NARROW;
    let recording = match (narrow, status.recording) {
        (true, false) => "-".to_string(),
        (true, true) => recording.replace("the next ", ""),
        (false, _) => recording,
    };
    let field = |label, value: String, style, width, rank| Field {
        label,
        value,
        around: None,
        style,
        width,
        rank,
    };
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
    let (unit, chord) = (status.metre.tempo_unit(), chord(sight));
    let columns = |wide: usize, short: u16| if narrow { short } else { wide as u16 };
    let mut fields = vec![
        field("transport", transport.into(), if moving { palette.on() } else { strong }, 10, 0),
        field(
            "recording",
            recording.clone(),
            if status.recording { palette.alarm_on() } else { palette.faint() },
            columns(14.max(recording.len() + 1), 10),
            0,
        ),
        field(
            if sight.calm || narrow { "bar" } else { "bar.beat" },
            place,
            strong,
            columns(9, 6),
            0,
        ),
        field("round", (status.round + 1).to_string(), strong, 7, if in_form { 4 } else { 3 }),
        field("section", section, strong, columns(SECTION, 8), 0),
        form(status, palette),
    ];
    fields.extend(key_change(status).map(|text| field("key", text, palette.on(), 9, 1)));
    fields.extend([
        field("metre", status.metre.to_string(), strong, 7, if in_form { 3 } else { 2 }),
        field(
            tempo_label(status),
            tempo_text(status.tempo, unit),
            strong,
            if status.by_hand.is_some() { 8 } else { 6 },
            0,
        ),
    ]);
    if !narrow && let Some((name, style)) = chord {
        fields.push(field(CHORD, name, style, CHORD_ROOM as u16 + 1, 1));
    }
    fields
}

/// What the chord that is played is called in the head.
const CHORD: &str = "chord";
/// The columns of its name.
const CHORD_ROOM: usize = 9;

/// The chord that is held on the armed track; in brackets the last one, until the next press. `None` as long as no
/// chord with a name was played there.
pub fn chord(sight: &Sight) -> Option<(String, Style)> {
    let (status, palette) = (&sight.state.status, sight.palette);
    if !sight.screen.played.any() {
        return None;
    }
    Some(match sight.screen.played.name() {
        None => ("-".to_string(), palette.faint()),
        Some(chord) if status.holds => (chord.to_string(), palette.on()),
        Some(chord) => {
            let (plain, bracketed) = (chord.to_string(), format!("({chord})"));
            let fits = bracketed.len() <= CHORD_ROOM;
            (if fits { bracketed } else { plain }, palette.faint())
        }
    })
}

/// The change of key to come: by how many semitones, of which section, and when.
fn key_change(status: &Status) -> Option<String> {
    let coming = status.key_change.as_ref()?;
    let (of, to) = coming.to.first_key_value()?;
    let (is, whose) = match of {
        KeyOf::Song => (status.song.transpose, String::new()),
        KeyOf::Section(letter) => (status.song.section(*letter)?.transpose, letter.to_string()),
    };
    let by = i32::from(to.semitones()) - i32::from(is.semitones());
    Some(format!("{whose}{by:+} {}", coming.when.name()))
}

/// The form; while it plays, only how far it is, until its width is known.
fn form(status: &Status, palette: &Palette) -> Field {
    let form: String = match status.song.form.is_empty() {
        true => "none".to_string(),
        false => status.song.form.to_string().chars().take(200).collect(),
    };
    let text = palette.text();
    let field = |value, style, width, rank| Field {
        label: "form",
        value,
        around: None,
        style,
        width,
        rank,
    };
    match status.in_form {
        None => field(form, text, 7, 4),
        Some((round, rounds)) => {
            let place = format!("{round} of {rounds}");
            let width = 7.max(place.len() as u16 + 2);
            field(place, palette.strong(), width, 2)
        }
    }
}

/// Gives the form so many more columns, as far as it needs them; while it plays, it shows the entry in
/// which the song stands, and those around it.
fn fit_form(field: &mut Field, spare: u16, sight: &Sight, cut: char) {
    const GAP: usize = 2;
    let status = &sight.state.status;
    let letters = if status.in_form.is_some() { unrolled(&status.song) } else { Vec::new() };
    let at = standing(status, &letters, sight.screen.song_form.span(letters.len()));
    let mut wanted = crate::text::width(&field.value) + 3;
    if at.is_some() {
        let letters = letters.iter().map(|letter| letter.as_str().len() + 1);
        wanted += GAP + letters.sum::<usize>();
    }
    let wanted = u16::try_from(wanted).unwrap_or(u16::MAX).max(12);
    field.width += spare.min(wanted.saturating_sub(field.width));
    if let Some(at) = at {
        let room = usize::from(field.width - field.gap());
        let room = room.saturating_sub(crate::text::width(&field.value) + GAP);
        field.around = Around::new(&letters, at, room, cut);
        if field.around.is_some() {
            field.value += &" ".repeat(GAP);
        }
    }
}

/// An entry of the form, with those before and after it.
#[derive(Debug, PartialEq, Eq)]
struct Around {
    before: String,
    here: String,
    after: String,
}

impl Around {
    /// As many entries around that at an index as fit into so many columns, as many on either side if
    /// there are; a sign stands for those left out. `None` if there is no room for one.
    fn new(letters: &[Letter], at: usize, columns: usize, cut: char) -> Option<Around> {
        let here = letters.get(at)?.as_str().to_string();
        let each = |letters: &[Letter], gap: &dyn Fn(&str) -> String| -> String {
            letters.iter().map(|letter| gap(letter.as_str())).collect()
        };
        let cut_at = |is_cut: bool| if is_cut { cut.to_string() } else { String::new() };
        let new = |from: usize, to: usize| Around {
            before: cut_at(from > 0) + &each(&letters[from..at], &|letter| format!("{letter} ")),
            here: here.clone(),
            after: each(&letters[at + 1..to], &|letter| format!(" {letter}"))
                + &cut_at(to < letters.len()),
        };
        let fits = |from, to| new(from, to).width() <= columns;
        let (mut from, mut to) = (at, at + 1);
        if !fits(from, to) {
            return None;
        }
        loop {
            let before = (from, to);
            to += usize::from(to < letters.len() && fits(from, to + 1));
            from -= usize::from(from > 0 && fits(from - 1, to));
            if (from, to) == before {
                return Some(new(from, to));
            }
        }
    }

    fn width(&self) -> usize {
        [&self.before, &self.here, &self.after].map(|part| crate::text::width(part)).iter().sum()
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

#[cfg(test)]
mod tests {
    use super::*;

    fn letters(form: &str) -> Vec<Letter> {
        form.split(' ').map(|letter| letter.parse().unwrap()).collect()
    }

    #[test]
    fn the_entry_in_which_the_song_stands_is_shown_with_those_around_it() {
        let shown = |at: usize, columns: usize| {
            let around = Around::new(&letters("A A B A C AA B"), at, columns, '~')?;
            assert!(around.width() <= columns);
            Some(format!("{}<{}>{}", around.before, around.here, around.after))
        };
        assert_eq!(shown(2, 80).as_deref(), Some("A A <B> A C AA B"));
        assert_eq!(shown(0, 7).as_deref(), Some("<A> A B~"));
        assert_eq!(shown(3, 7).as_deref(), Some("~B <A> C~"));
        assert_eq!(shown(6, 7).as_deref(), Some("~C AA <B>"));
        assert_eq!(shown(5, 4).as_deref(), Some("~<AA>~"));
        assert_eq!(shown(5, 3), None);
        assert_eq!(shown(7, 80), None);
    }
}
