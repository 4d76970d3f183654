//! The list of the song's sections: a row for each, with the facts about it in columns.

use super::{FormSight, duration};
use crate::chords::key_heard;
use crate::draw::Pen;
use crate::numbers::tempo_text;
use crate::text;
use crate::time_marks::Ramp;
use chaconne_engine::{Route, Walk};
use chaconne_song::{Section, Song};
use chaconne_time::Ns;
use ratatui::layout::Position;
use std::ops::Range;
use std::sync::Arc;

/// The columns of the list. A column that does not fit is left out.
pub struct Columns {
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
    pub fn of(width: u16) -> Columns {
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
        let (wide, wider, widest) = (width >= 78, width >= 96, width >= 112);
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
            time: wider.then_some(x + 63),
            shares: widest.then_some(x + 70),
        }
    }

    /// The captions. A column that no section fills keeps its place, so that nothing jumps once one does, but
    /// has no caption.
    pub fn heads(&self, pen: &mut Pen, row: u16, song: &Song) {
        let faint = pen.palette.faint();
        let has_key = song.sections.iter().any(|section| section.key.or(song.key).is_some());
        let has_shares = song.sections.iter().any(|section| !shares(song, section).is_empty());
        let heads = [
            (Some(1), "section"),
            (Some(self.name), "name"),
            (Some(self.bars), "bars"),
            (Some(self.metre), "metre"),
            (Some(self.tempo), "tempo"),
            (self.key.filter(|_| has_key), "key"),
            (self.layers, "layers"),
            (self.times, "in form"),
            (self.time, "time"),
            (self.shares.filter(|_| has_shares), "shares with"),
        ];
        for (x, head) in heads {
            if let Some(x) = x {
                pen.put(x, row, head, faint);
            }
        }
    }
}

/// The sections that fit into so many rows, around the chosen one.
pub fn shown(seen: &FormSight, rows: usize) -> Range<usize> {
    let count = seen.song.sections.len();
    let shown = rows.min(count);
    let first = seen.chosen.saturating_sub(shown / 2).min(count - shown);
    first..first + shown
}

/// The rows of these sections; returns where the chosen one is.
pub fn list(
    pen: &mut Pen,
    seen: &FormSight,
    columns: &Columns,
    shown: Range<usize>,
    first_row: u16,
) -> Option<Position> {
    let sections = &seen.song.sections;
    let mut focus = None;
    let last_row = (first_row + shown.len() as u16).saturating_sub(1);
    let (above, below) = (shown.start > 0, shown.end < sections.len());
    for (index, y) in shown.zip(first_row..) {
        section(pen, seen, columns, &sections[index], y, index == seen.chosen);
        if index == seen.chosen {
            pen.sign(0, y, pen.palette.signs.chosen, pen.palette.strong());
            focus = Some(Position::new(0, y));
        }
    }
    pen.goes_on((first_row, last_row), above, below);
    focus
}

fn section(
    pen: &mut Pen,
    seen: &FormSight,
    columns: &Columns,
    section: &Section,
    y: u16,
    chosen: bool,
) {
    let palette = pen.palette;
    let (text, strong) = (palette.text(), palette.strong());
    let letter = section.letter;
    pen.put(1, y, letter.as_str(), if chosen { palette.on() } else { strong });
    let state = seen.state(letter);
    pen.put(columns.state, y, state, if state == "plays" { palette.on() } else { text });
    let name = text::clip(&section.name, columns.name_room, palette.signs.cut);
    pen.put(columns.name, y, &name, text);
    // A pickup belongs to the metre after it.
    let first = section.metre.counted_metre(1);
    let plain = if section.metre.pickup().is_some() { 3 } else { 1 };
    // A plus says that it changes on the way.
    let more = |changes: bool| if changes { "+" } else { "" };
    let metre = format!("{first}{}", more(section.metre.changes().len() > plain));
    let tempo = match Ramp::first_of(section) {
        Some(ramp) => ramp_text(&ramp, palette.signs.arrow),
        None => {
            let tempo = tempo_text(section.tempo.first(), first.tempo_unit());
            format!("{tempo:>5}{}", more(section.tempo.steps().nth(1).is_some()))
        }
    };
    pen.put(columns.bars, y, &format!("{:>4}", section.metre.bars()), text);
    pen.put(columns.metre, y, &metre, text);
    pen.put(columns.tempo, y, &tempo, text);
    let key = key_heard(seen.song, section).map_or(String::new(), |key| key.to_string());
    // The song's key is not the section's own.
    let style = if section.key.is_some() { text } else { palette.faint() };
    let mut put = |x: Option<u16>, words: &str, style| {
        if let Some(x) = x {
            pen.put(x, y, words, style);
        }
    };
    put(columns.key, &key, style);
    put(columns.layers, &format!("{:>6}", section.layers.len()), text);
    let times = match seen.times(letter) {
        0 => "-".to_string(),
        times => times.to_string(),
    };
    put(columns.times, &format!("{times:>7}"), text);
    put(columns.time, &format!("{:>4}", duration(round_ns(seen.song, section))), text);
    put(columns.shares, &shares(seen.song, section), text);
}

/// The widest column in which both tempi of a ramp are shown with their decimals.
const RAMP_ROOM: usize = 7;

/// The two tempi of a ramp with an arrow between them; in whole beats if the decimals do not fit.
fn ramp_text(ramp: &Ramp, arrow: char) -> String {
    let both = format!("{:>3}{arrow}{}", ramp.from, ramp.to);
    match text::width(&both) <= RAMP_ROOM {
        true => both,
        false => {
            let [from, to] = ramp.whole();
            format!("{from:>3}{arrow}{to}")
        }
    }
}

/// How long one round of a section lasts.
pub fn round_ns(song: &Song, section: &Section) -> Ns {
    let route = Route::rounds(song, section.letter, 1);
    route.map_or(0, |route| Walk::along(song, &route).ns_at(route.span().to))
}

/// The other sections that share passes with one.
pub fn shares(song: &Song, section: &Section) -> String {
    let others = |other: &&Arc<Section>| {
        other.letter != section.letter
            && other.layers.iter().any(|layer| section.layer(layer.pass).is_some())
    };
    let letters: Vec<&str> =
        song.sections.iter().filter(others).map(|other| other.letter.as_str()).collect();
    letters.join(" ")
}
