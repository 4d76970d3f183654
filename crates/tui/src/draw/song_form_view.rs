//! The form: its sections along a time axis with where the song stands, the form as it was typed, and
//! the list of the song's sections with the facts about each.

mod axis;

use super::timeline::{self, Shape, marks};
use super::{Frame, Pen, Sight, track_head};
use crate::numbers::tempo_text;
use crate::picture::Pictures;
use crate::screen::unrolled;
use crate::text::{self, plural};
use axis::Axis;
use chaconne_engine::{Route, Status, Transport, Walk};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::Ns;
use ratatui::layout::Position;
use std::ops::Range;
use std::sync::Arc;

/// What the view shows, gathered once.
struct Order<'a> {
    sight: &'a Sight<'a>,
    status: &'a Status,
    song: &'a Song,
    /// The sections of the form, unrolled.
    letters: Vec<Letter>,
    /// The index of the section under the cursor.
    chosen: usize,
}

/// Draws the view, and returns where the chosen section is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    pictures: &mut Pictures,
) -> Option<Position> {
    let status = &sight.state.status;
    let song = &*status.song;
    let chosen = sight.screen.song_form.chosen(status);
    let order = Order { sight, status, song, letters: unrolled(song), chosen };
    if let Some(row) = frame.body.captions {
        super::view_names(pen, sight, row, &captions(&order));
    }
    let mut rows = frame.body.rows.clone();
    let room = rows.len();
    let has = |least: usize| room >= least;
    form_in_time(pen, &order, frame);
    if has(7) {
        bar_numbers(pen, &order, rows.start);
        rows.start += 1;
    }
    if has(6) {
        typed(pen, &order, rows.start);
        rows.start += 1;
    }
    if has(10) {
        rows.start += 1;
    }
    let columns = Columns::of(pen.width());
    if has(5) {
        columns.heads(pen, rows.start);
        rows.start += 1;
    }
    if has(8) {
        rows.end -= 1;
        let words = words(&order, &song.sections[chosen]);
        let room = usize::from(pen.width()) - 2;
        pen.put(1, rows.end, &text::clip(&words, room, pen.palette.signs.cut), pen.palette.text());
    }
    let below = rows.start + (song.sections.len() as u16).min(rows.end - rows.start);
    tracks(pen, &order, frame, below..rows.end, pictures);
    list(pen, &order, &columns, rows)
}

fn captions(order: &Order) -> Vec<String> {
    let count = order.song.sections.len();
    let sections = format!("{count} {}", plural(count, "section"));
    let whole = Route::form(order.song).filter(|_| !order.letters.is_empty()).map(|route| {
        let walk = Walk::along(order.song, &route);
        let bars = walk.counts().bars();
        let time = duration(walk.ns_at(route.span().to));
        format!("form: {bars} {}, {time}", plural(bars as usize, "bar"))
    });
    std::iter::once(sections).chain(whole).collect()
}

/// A duration in minutes and seconds, rounded.
fn duration(ns: Ns) -> String {
    let seconds = (ns + 500_000_000) / 1_000_000_000;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The sections of the form along a time axis, with where the song stands above it.
fn form_in_time(pen: &mut Pen, order: &Order, frame: &Frame) {
    let row = frame.body.ruler;
    if order.letters.is_empty() {
        let line = "No form yet: b appends the section under the cursor, F writes a form.";
        let line = text::clip(line, usize::from(pen.width()) - 2, pen.palette.signs.cut);
        pen.put(1, row, &line, pen.palette.text());
        return;
    }
    let axis = order.axis(pen.width());
    let (palette, signs) = (pen.palette, pen.palette.signs);
    let chosen = order.sight.screen.song_form.entry(order.letters.len());
    for cell in &axis.cells {
        pen.sign(cell.column, row, signs.bar, palette.faint());
        for column in axis.bar_columns(cell) {
            pen.sign(column, row, signs.beat, palette.faint());
        }
        let style = if cell.entry == chosen { palette.on() } else { palette.text() };
        pen.put(cell.column + 1, row, cell.letter.as_str(), style);
    }
    pen.sign(axis.end, row, if axis.is_cut { signs.cut } else { signs.bar }, palette.faint());
    let Some(above) = frame.body.playhead else { return };
    let drawn = order.status.transport == Transport::Stopped || !order.sight.calm;
    if let Some(column) =
        order.standing().filter(|_| drawn).and_then(|at| playhead(order, &axis, at))
    {
        let style = if order.status.recording { palette.alarm() } else { palette.strong() };
        pen.sign(column, above, signs.playhead, style);
    }
}

/// The column where the song stands in an entry of the form.
fn playhead(order: &Order, axis: &Axis, entry: usize) -> Option<u16> {
    let (place, metre) = (order.status.place, &order.status.metre);
    let into_bar = metre.beat().0 * (i64::from(place.beat) - 1) + i64::from(place.tick);
    let bar = u32::try_from(place.bar - 1).ok()?;
    axis.column(entry, bar, into_bar, metre.bar().0)
}

/// The number of the bar at which each entry begins, along the form.
fn bar_numbers(pen: &mut Pen, order: &Order, row: u16) {
    let axis = order.axis(pen.width());
    for cell in &axis.cells {
        let number = cell.first_bar.to_string();
        if number.len() <= usize::from(cell.width) {
            pen.put(cell.column + 1, row, &number, pen.palette.faint());
        }
    }
}

/// The form as it was typed.
fn typed(pen: &mut Pen, order: &Order, row: u16) {
    if order.letters.is_empty() {
        return;
    }
    let x = pen.put(1, row, "form", pen.palette.faint()) + 2;
    let room = usize::from(pen.width().saturating_sub(x + 1));
    let form = text::clip(&order.song.form.to_string(), room, pen.palette.signs.cut);
    pen.put(x, row, &form, pen.palette.strong());
}

impl Order<'_> {
    fn axis(&self, width: u16) -> Axis {
        let bars = |&letter: &Letter| {
            let section = self.song.section(letter);
            (letter, section.map_or(1, |section| section.metre.bars()))
        };
        let entries: Vec<(Letter, u32)> = self.letters.iter().map(bars).collect();
        let chosen = self.sight.screen.song_form.entry(self.letters.len());
        Axis::new(&entries, width - 2, self.standing().unwrap_or(chosen))
    }

    /// The entry of the form in which the song stands, if it plays the form or stopped in it.
    fn standing(&self) -> Option<usize> {
        let (round, rounds) = self.status.in_form?;
        let round = usize::try_from(round - 1).ok()?;
        // A form that was changed while it plays goes on as it was.
        let same = usize::try_from(rounds) == Ok(self.letters.len());
        Some(round).filter(|&round| same && self.letters.get(round) == Some(&self.status.section))
    }

    /// How often a section comes in the form.
    fn times(&self, letter: Letter) -> usize {
        self.letters.iter().filter(|&&other| other == letter).count()
    }

    /// What a section does now, in a word.
    fn state(&self, letter: Letter) -> &'static str {
        let moves = self.status.transport != Transport::Stopped;
        match letter {
            here if here == self.status.section && moves => "plays",
            here if here == self.status.section => "shown",
            next if Some(next) == self.status.next_section => "next",
            _ => "",
        }
    }
}

/// The columns of the list. A column that does not fit is left out.
struct Columns {
    state: u16,
    name: u16,
    name_room: usize,
    bars: u16,
    metre: u16,
    tempo: u16,
    key: Option<u16>,
    layers: Option<u16>,
    times: Option<u16>,
    time: Option<u16>,
    shares: Option<u16>,
}

impl Columns {
    fn of(width: u16) -> Columns {
        if width < 60 {
            return Columns {
                state: 5,
                name: 11,
                name_room: 9,
                bars: 21,
                metre: 26,
                tempo: 32,
                key: None,
                layers: None,
                times: None,
                time: None,
                shares: None,
            };
        }
        // The name gets a part of what is left over.
        let more = width.saturating_sub(80).min(36) / 2;
        let x = 14 + more;
        let (wide, widest) = (width >= 78, width >= 100);
        Columns {
            state: 5,
            name: 11,
            name_room: usize::from(15 + more),
            bars: x + 13,
            metre: x + 19,
            tempo: x + 26,
            key: wide.then_some(x + 34),
            layers: Some(if wide { x + 44 } else { x + 33 }),
            times: wide.then_some(x + 53),
            time: widest.then_some(x + 63),
            shares: widest.then_some(x + 70),
        }
    }

    fn heads(&self, pen: &mut Pen, row: u16) {
        let faint = pen.palette.faint();
        let heads = [
            (Some(1), "section"),
            (Some(self.name), "name"),
            (Some(self.bars), "bars"),
            (Some(self.metre), "metre"),
            (Some(self.tempo), "tempo"),
            (self.key, "key"),
            (self.layers, "layers"),
            (self.times, "in form"),
            (self.time, "time"),
            (self.shares, "shares with"),
        ];
        for (x, head) in heads {
            if let Some(x) = x {
                pen.put(x, row, head, faint);
            }
        }
    }
}

/// The rows of the sections that fit, around the chosen one; returns where that is.
fn list(pen: &mut Pen, order: &Order, columns: &Columns, rows: Range<u16>) -> Option<Position> {
    let sections = &order.song.sections;
    let shown = rows.len().min(sections.len());
    let first = order.chosen.saturating_sub(shown / 2).min(sections.len() - shown);
    let mut focus = None;
    for (index, y) in (first..first + shown).zip(rows) {
        section(pen, order, columns, &sections[index], y, index == order.chosen);
        if index == order.chosen {
            pen.sign(0, y, pen.palette.signs.chosen, pen.palette.strong());
            focus = Some(Position::new(0, y));
        }
    }
    focus
}

/// What the tracks play in the chosen section, in the rows below the list, if there are enough.
fn tracks(pen: &mut Pen, order: &Order, frame: &Frame, rows: Range<u16>, pictures: &mut Pictures) {
    const LEAST: usize = 5;
    let section = &order.song.sections[order.chosen];
    let stage = timeline::stage_of(pen, order.sight, frame, section);
    let fits = stage.shape == Shape::Beside && stage.scale.is_whole();
    if rows.len() < LEAST || !fits || order.song.tracks.is_empty() {
        return;
    }
    let name = text::clip(&section.name, 20, pen.palette.signs.cut);
    pen.rule(rows.start + 1, &[format!("tracks of {} {name}", section.letter).trim().to_string()]);
    timeline::ruler(pen, &stage, rows.start + 2, &track_head::captions(&stage));
    // Only the section that plays is in one of its rounds.
    let here = section.letter == order.status.section;
    let round = if here { order.status.round } else { 0 };
    let tracks = order.song.tracks.iter().enumerate();
    for (y, (place, track)) in (rows.start + 3..rows.end).zip(tracks) {
        let solo = &order.status.solo_passes;
        let strip = pictures.strip(order.song, section, track, solo, round, &stage.scale);
        track_head::draw(pen, &stage, y, place, track, &strip);
        marks(pen, &stage, y, &strip, timeline::track_style(pen, &stage, place, track));
    }
}

fn section(
    pen: &mut Pen,
    order: &Order,
    columns: &Columns,
    section: &Section,
    y: u16,
    chosen: bool,
) {
    let palette = pen.palette;
    let (text, strong) = (palette.text(), palette.strong());
    let letter = section.letter;
    pen.put(1, y, letter.as_str(), if chosen { palette.on() } else { strong });
    let state = order.state(letter);
    pen.put(columns.state, y, state, if state == "plays" { palette.on() } else { text });
    let name = text::clip(&section.name, columns.name_room, palette.signs.cut);
    pen.put(columns.name, y, &name, text);
    let first = section.metre.first();
    // A plus says that it changes on the way.
    let more = |changes: bool| if changes { "+" } else { "" };
    let metre = format!("{first}{}", more(section.metre.changes().len() > 1));
    let tempo = tempo_text(section.tempo.first(), first.tempo_unit());
    let tempo = format!("{tempo:>5}{}", more(section.tempo.steps().nth(1).is_some()));
    pen.put(columns.bars, y, &format!("{:>4}", section.metre.bars()), text);
    pen.put(columns.metre, y, &metre, text);
    pen.put(columns.tempo, y, &tempo, text);
    let key = section.key.or(order.song.key).map_or(String::new(), |key| key.to_string());
    // The song's key is not the section's own.
    let style = if section.key.is_some() { text } else { palette.faint() };
    let mut put = |x: Option<u16>, words: &str, style| {
        if let Some(x) = x {
            pen.put(x, y, words, style);
        }
    };
    put(columns.key, &key, style);
    put(columns.layers, &format!("{:>6}", section.layers.len()), text);
    let times = match order.times(letter) {
        0 => "-".to_string(),
        times => times.to_string(),
    };
    put(columns.times, &format!("{times:>7}"), text);
    put(columns.time, &format!("{:>4}", duration(round_ns(order.song, section))), text);
    put(columns.shares, &shares(order.song, section), text);
}

/// How long one round of a section lasts.
fn round_ns(song: &Song, section: &Section) -> Ns {
    let route = Route::rounds(song, section.letter, 1);
    route.map_or(0, |route| Walk::along(song, &route).ns_at(route.span().to))
}

/// The other sections that share passes with one.
fn shares(song: &Song, section: &Section) -> String {
    let others = |other: &&Arc<Section>| {
        other.letter != section.letter
            && other.layers.iter().any(|layer| section.layer(layer.pass).is_some())
    };
    let letters: Vec<&str> =
        song.sections.iter().filter(others).map(|other| other.letter.as_str()).collect();
    letters.join(" ")
}

/// The chosen section in words.
fn words(order: &Order, section: &Section) -> String {
    let bars = section.metre.bars();
    let time = duration(round_ns(order.song, section));
    let bars = format!("{bars} {}, {time}", plural(bars as usize, "bar"));
    let layers = match section.layers.len() {
        0 => "no layers yet".to_string(),
        count => format!("{count} {}", plural(count, "layer")),
    };
    let shared = section.layers.iter().filter(|layer| order.song.is_shared(layer.pass)).count();
    let shares = match (shared, shares(order.song, section)) {
        (0, _) => String::new(),
        (count, letters) => format!(", {count} shared with {letters}"),
    };
    let times = match order.times(section.letter) {
        _ if order.letters.is_empty() => String::new(),
        0 => "; not in the form".to_string(),
        1 => "; once in the form".to_string(),
        2 => "; twice in the form".to_string(),
        times => format!("; {times} times in the form"),
    };
    format!("Section {}: {bars}, {layers}{shares}{times}.", section.letter)
}
