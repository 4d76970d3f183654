//! The form: its sections along a time axis with where the song stands, the form as it was typed, and
//! the list of the song's sections with the facts about each.

mod axis;
mod list;

use super::loop_view::most_each;
use super::over_bars::{self, Over};
use super::timeline::{self, Shape, marks};
use super::{Frame, Pen, Sight, contour, pane, track_head};
use crate::picture::Pictures;
use crate::screen::{Stack, standing, unrolled};
use crate::text::{self, plural};
use crate::time_marks::{Ramp, TimeMark, time_marks};
use axis::{Axis, Cell};
use chaconne_engine::{Route, Status, Transport, Waits, Walk};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Ns, Tick};
use list::{Columns, list, round_ns, shares, shown};
use ratatui::layout::Position;
use std::ops::Range;

/// What the view shows, gathered once.
struct FormSight<'a> {
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
    let seen = FormSight { sight, status, song, letters: unrolled(song), chosen };
    let mut rows = frame.body.rows.clone();
    let room = rows.len();
    let has = |least: usize| room >= least;
    form_in_time(pen, &seen, frame);
    if has(7) {
        bar_numbers(pen, &seen, rows.start);
        rows.start += 1;
    }
    if has(6) {
        typed(pen, &seen, rows.start);
        rows.start += 1;
    }
    if has(10) {
        rows.start += 1;
    }
    let columns = Columns::of(pen.width());
    if has(5) {
        columns.heads(pen, rows.start, song);
        rows.start += 1;
    }
    if has(8) {
        rows.end -= 1;
        let words = words(&seen, &song.sections[chosen]);
        let room = usize::from(pen.width()) - 2;
        pen.put(1, rows.end, &text::clip(&words, room, pen.palette.signs.cut), pen.palette.text());
    }
    let below = rows.start + (song.sections.len() as u16).min(rows.end - rows.start);
    tracks(pen, &seen, frame, below..rows.end, pictures);
    let shown = shown(&seen, rows.len());
    if let Some(row) = frame.body.captions {
        super::view_names(pen, sight, row, &captions(&seen, &shown));
    }
    list(pen, &seen, &columns, shown, rows.start)
}

fn captions(seen: &FormSight, shown: &Range<usize>) -> Vec<String> {
    let count = seen.song.sections.len();
    let sections = match shown.len() < count {
        true => format!("sections {} to {} of {count}", shown.start + 1, shown.end),
        false => format!("{count} {}", plural(count, "section")),
    };
    let whole = Route::form(seen.song).filter(|_| !seen.letters.is_empty()).map(|route| {
        let walk = Walk::along(seen.song, &route);
        let bars = walk.counts().bars();
        let time = duration(walk.ns_at(route.span().to));
        format!("form: {bars} {}, {time}", plural(bars as usize, "bar"))
    });
    let span = seen.span().map(|(first, last)| match first == last {
        true => format!("span: entry {}", first + 1),
        false => format!("span: entries {} to {}", first + 1, last + 1),
    });
    std::iter::once(sections).chain(whole).chain(span).collect()
}

/// A duration in minutes and seconds, rounded.
fn duration(ns: Ns) -> String {
    let seconds = (ns + 500_000_000) / 1_000_000_000;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

/// The sections of the form along a time axis, with where the song stands above it.
fn form_in_time(pen: &mut Pen, seen: &FormSight, frame: &Frame) {
    let row = frame.body.ruler;
    if seen.letters.is_empty() {
        let line =
            "No form yet: {append} adds the section under the cursor, {write-form} writes a form.";
        let line = seen.sight.screen.with_keys(line);
        let line = text::clip(&line, usize::from(pen.width()) - 2, pen.palette.signs.cut);
        pen.put(1, row, &line, pen.palette.text());
        return;
    }
    let axis = seen.axis(pen.width());
    let (palette, signs) = (pen.palette, pen.palette.signs);
    let chosen = seen.sight.screen.song_form.entry(seen.letters.len());
    for cell in &axis.cells {
        let is_cut = cell.column == axis.start() && cell.entry > 0;
        pen.sign(cell.column, row, if is_cut { signs.cut } else { signs.bar }, palette.faint());
        if cell.entry == chosen && signs.chosen != ' ' {
            pen.sign(cell.column, row, signs.chosen, palette.strong());
        }
        for column in axis.bar_columns(cell) {
            pen.sign(column, row, signs.beat, palette.faint());
        }
        let style = if cell.entry == chosen { palette.on() } else { palette.text() };
        pen.put(cell.column + 1, row, cell.letter.as_str(), style);
    }
    pen.sign(axis.end, row, if axis.is_cut { signs.cut } else { signs.bar }, palette.faint());
    span_ends(pen, seen, &axis, row);
    let Some(above) = frame.body.playhead else { return };
    over_form(pen, seen, &axis, above);
    let drawn = seen.status.transport == Transport::Stopped || !seen.sight.calm;
    if let Some(column) = seen.standing().filter(|_| drawn).and_then(|at| playhead(seen, &axis, at))
    {
        let style = if seen.status.recording { palette.alarm() } else { palette.strong() };
        pen.sign(column, above, signs.playhead, style);
    }
}

/// Brackets around the entries of the span that is marked.
fn span_ends(pen: &mut Pen, seen: &FormSight, axis: &Axis, row: u16) {
    let Some((first, last)) = seen.span() else { return };
    let style = pen.palette.strong();
    let column = |entry: usize| axis.cells.iter().find(|cell| cell.entry == entry);
    if let Some(cell) = column(first) {
        pen.sign(cell.column, row, '[', style);
    }
    let end = column(last + 1).map(|cell| cell.column);
    let is_last = axis.cells.last().is_some_and(|cell| cell.entry == last) && !axis.is_cut;
    if let Some(end) = end.or(is_last.then_some(axis.end)) {
        pen.sign(end, row, ']', style);
    }
}

/// What the sections have over their bars about time.
fn over_form(pen: &mut Pen, seen: &FormSight, axis: &Axis, row: u16) {
    let marks = |cell: &Cell| seen.song.section(cell.letter).map(|section| time_marks(section));
    let marks: Vec<Vec<TimeMark>> =
        axis.cells.iter().map(|cell| marks(cell).unwrap_or_default()).collect();
    let mut placed: Vec<Over> = Vec::new();
    for (cell, marks) in std::iter::zip(&axis.cells, &marks) {
        let Some(section) = seen.song.section(cell.letter) else { continue };
        let column = |at: Tick| {
            let (place, bar) = (section.metre.place(at), section.metre.metre_at(at).bar());
            let into = (at - section.metre.bar_start(place.bar)).0;
            axis.column(cell.entry, u32::try_from(place.bar - 1).ok()?, into, bar.0)
        };
        for mark in marks {
            let last = match mark {
                TimeMark::Ramp(ramp) => ramp.span.to - Tick(1),
                TimeMark::Fermata(at) | TimeMark::Tempo(at, _) => *at,
            };
            if let (Some(from), Some(last)) = (column(mark.at()), column(last)) {
                let waits = seen.waits_at(cell.entry, section, mark);
                placed.push(Over { mark, columns: from..last + 1, cut: [false; 2], waits });
            }
        }
    }
    over_bars::draw(pen, row, 0..0, &placed);
}

/// The column where the song stands in an entry of the form.
fn playhead(seen: &FormSight, axis: &Axis, entry: usize) -> Option<u16> {
    let (place, metre) = (seen.status.place, &seen.status.metre);
    let into_bar = metre.beat().0 * (i64::from(place.beat) - 1) + i64::from(place.tick);
    let bar = u32::try_from(place.bar - 1).ok()?;
    axis.column(entry, bar, into_bar, metre.bar().0)
}

/// The number of the bar at which each entry begins, along the form.
fn bar_numbers(pen: &mut Pen, seen: &FormSight, row: u16) {
    let axis = seen.axis(pen.width());
    for cell in &axis.cells {
        let number = cell.first_bar.to_string();
        if number.len() <= usize::from(cell.width) {
            pen.put(cell.column + 1, row, &number, pen.palette.faint());
        }
    }
}

/// The form as it was typed.
fn typed(pen: &mut Pen, seen: &FormSight, row: u16) {
    if seen.letters.is_empty() {
        return;
    }
    let x = pen.put(1, row, "form", pen.palette.faint()) + 2;
    let room = usize::from(pen.width().saturating_sub(x + 1));
    let form = text::clip(&seen.song.form.to_string(), room, pen.palette.signs.cut);
    let x = pen.put(x, row, &form, pen.palette.strong()) + 3;
    let words = coming(seen);
    if usize::from(x) + text::width(&words) < usize::from(pen.width()) {
        pen.put(x, row, &words, pen.palette.text());
    }
}

/// What comes after the section that plays, and when, in words.
fn coming(seen: &FormSight) -> String {
    let status = seen.status;
    if status.transport == Transport::Stopped {
        return String::new();
    }
    let (Some(left), next) = (status.leaves_in, status.next_section) else {
        let stays = format!("stays in {}", status.section);
        return if status.form_left { stays } else { String::new() };
    };
    // Rounded up: the last beat is `in 1 beat`.
    let count = |unit: Tick| left.round_up(unit).cycle(unit).0;
    let (bar, beat) = (status.metre.bar(), status.metre.click());
    let when = match (count(bar), count(beat)) {
        (1, beats) => format!("in {beats} {}", plural(beats as usize, "beat")),
        (bars, _) => format!("in {bars} bars"),
    };
    match next.filter(|&next| next != status.section) {
        Some(next) => format!("{next} {when}"),
        None if next.is_none() => format!("end {when}"),
        None => String::new(),
    }
}

impl FormSight<'_> {
    fn axis(&self, width: u16) -> Axis {
        let bars = |&letter: &Letter| {
            let section = self.song.section(letter);
            (letter, section.map_or(1, |section| section.metre.bars()))
        };
        let entries: Vec<(Letter, u32)> = self.letters.iter().map(bars).collect();
        let chosen = self.sight.screen.song_form.entry(self.letters.len());
        Axis::new(&entries, width - 2, self.standing().unwrap_or(chosen))
    }

    /// The first and the last entry of the span that is marked.
    fn span(&self) -> Option<(usize, usize)> {
        self.sight.screen.song_form.span(self.letters.len())
    }

    /// The entry of the form in which the song stands, if it plays the form or stopped in it.
    fn standing(&self) -> Option<usize> {
        standing(self.status, &self.letters, self.span())
    }

    /// Whether the song waits at a fermata in an entry of the form.
    fn waits_at(&self, entry: usize, section: &Section, mark: &TimeMark) -> bool {
        let now = self.status.in_section;
        let last = section.fermatas.iter().rfind(|&&at| at <= now);
        self.status.waits == Some(Waits::Fermata)
            && self.standing() == Some(entry)
            && last.is_some_and(|&last| *mark == TimeMark::Fermata(last))
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

/// What the tracks play in the chosen section, in the rows below the list, if there are enough.
fn tracks(
    pen: &mut Pen,
    seen: &FormSight,
    frame: &Frame,
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    const LEAST: usize = 5;
    let section = &seen.song.sections[seen.chosen];
    let stage = timeline::stage_of(pen, seen.sight, frame, section);
    let fits = stage.shape == Shape::Beside && stage.scale.is_whole();
    if rows.len() < LEAST || !fits || seen.song.tracks.is_empty() {
        return;
    }
    let name = text::clip(&section.name, 20, pen.palette.signs.cut);
    let title = format!("tracks of {} {name}", section.letter).trim().to_string();
    // A row over the bars, if there is something about time to show there.
    let ruler = rows.start + 2 + u16::from(!time_marks(section).is_empty());
    let (count, room) = (seen.song.tracks.len(), usize::from(rows.end - ruler - 1));
    let each = contour::rows_each(stage.shape, room, count, most_each(&stage));
    let height = 1 + each.unwrap_or(0);
    let shown = count.min(room / usize::from(height));
    let at = seen.song.tracks.iter().position(|track| Some(track.id) == seen.sight.screen.chosen);
    let first = at.unwrap_or(0).saturating_sub(shown / 2).min(count - shown);
    let part = track_head::part(first, shown, count);
    pen.rule(rows.start + 1, &Vec::from_iter([title].into_iter().chain(part)));
    timeline::over(pen, &stage, ruler - 1);
    timeline::ruler(pen, &stage, ruler, &track_head::captions(&stage));
    // Only the section that plays is in one of its rounds.
    let here = section.letter == seen.status.section;
    let round = if here { seen.status.round } else { 0 };
    let tracks = seen.song.tracks.iter().enumerate().skip(first).take(shown);
    let below = (ruler + 2 + shown as u16 * height).min(rows.end);
    let tops = (ruler + 1..rows.end).step_by(height.into());
    for (y, (place, track)) in tops.zip(tracks) {
        let solo = &seen.status.solo_passes;
        let strip = pictures.strip(seen.song, section, track, solo, round, &stage.scale);
        track_head::draw(pen, &stage, y, place, track, &strip);
        if each.is_some() {
            let (lane, stack) = (y + 1..y + height, Stack::of(seen.song, section, place));
            track_head::more(pen, &stage, lane.clone(), track);
            contour::draw(pen, &stage, (&stack, None), lane, pictures);
            continue;
        }
        marks(pen, &stage, y, &strip, timeline::track_style(pen, &stage, place, track));
    }
    if let Some(stack) = seen.sight.screen.stack_in(seen.sight.state, section) {
        pane::notes(pen, &stage, (&stack, None), below..rows.end, pictures);
    }
}

/// The chosen section in words.
fn words(seen: &FormSight, section: &Section) -> String {
    let bars = section.metre.bars();
    let time = duration(round_ns(seen.song, section));
    let bars = format!("{bars} {}, {time}", plural(bars as usize, "bar"));
    let layers = match section.layers.len() {
        0 => "no layers yet".to_string(),
        count => format!("{count} {}", plural(count, "layer")),
    };
    let shared = section.layers.iter().filter(|layer| seen.song.is_shared(layer.pass)).count();
    let shares = match (shared, shares(seen.song, section)) {
        (0, _) => String::new(),
        (count, letters) => format!(", {count} shared with {letters}"),
    };
    let times = match seen.times(section.letter) {
        _ if seen.letters.is_empty() => String::new(),
        0 => "; not in the form".to_string(),
        1 => "; once in the form".to_string(),
        2 => "; twice in the form".to_string(),
        times => format!("; {times} times in the form"),
    };
    let ramp = Ramp::first_of(section).map_or(String::new(), |ramp| format!(", {}", ramp.words()));
    format!("Section {}: {bars}{ramp}, {layers}{shares}{times}.", section.letter)
}
