//! The levels: a row for each track with its volume and pan, and beside them feel and sound.

use super::{Frame, Pen, Sight, feel, moves_pane, track_head};
use crate::picture::Pictures;
use crate::sounds;
use crate::text;
use chaconne_engine::{Status, is_heard};
use chaconne_song::{Track, U7};
use ratatui::layout::Position;
use ratatui::style::Style;

/// Where the columns are, for any width.
pub struct Columns {
    letters: u16,
    /// The volume's number.
    pub volume: u16,
    /// How long a full bar is.
    bar: u16,
    /// The pan's word.
    pub pan: u16,
    /// The columns of the pan's line, an odd number; 0 if there is no room.
    line: u16,
    feel: u16,
    sound: u16,
}

impl Columns {
    /// Those of volume and pan only, in so many columns from one on.
    pub fn beside(from: u16, columns: u16) -> Columns {
        // A number, a gap, the bar, a gap, a word, a gap.
        let bar = columns.saturating_sub(13);
        let pan = from + if bar > 0 { bar + 7 } else { 5 };
        Columns { letters: 0, volume: from, bar, pan, line: 0, feel: 0, sound: 0 }
    }

    fn of(width: u16) -> Columns {
        let name = if width < 60 { 10 } else { 14 + (width.saturating_sub(80) / 8).min(10) };
        let letters = 4 + name + 1;
        let volume = letters + 5;
        // Number and bar of the volume, word and line of the pan, feel, sound.
        let bar = match width {
            ..60 => 0,
            60..80 => 8,
            _ => 12 + (width - 80) / 6,
        };
        let pan = volume + if bar > 0 { bar + 7 } else { 7 };
        let line = match width {
            ..72 => 0,
            72..100 => 7,
            _ => 15,
        };
        let feel = pan + 6 + if line > 0 { line + 2 } else { 0 };
        Columns { letters, volume, bar, pan, line, feel, sound: feel + 22 }
    }
}

/// Draws the view, and returns where the chosen track is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    pictures: &mut Pictures,
) -> Option<Position> {
    let song = &sight.state.status.song;
    let columns = Columns::of(pen.width());
    heads(pen, frame.body.ruler, &columns);
    let (rows, count) = (frame.body.rows.clone(), song.tracks.len());
    if count == 0 {
        track_head::none(pen, sight, rows.start + 1);
    }
    let at = song.tracks.iter().position(|track| Some(track.id) == sight.screen.chosen);
    let stride = if 2 * count <= rows.len() + 1 { 2 } else { 1 };
    let shown = rows.len().div_ceil(stride).min(count);
    let first = at.unwrap_or(0).saturating_sub(shown / 2).min(count - shown);
    if let Some(row) = frame.body.captions {
        let part = track_head::part(first, shown, count);
        super::view_names(pen, sight, row, &Vec::from_iter(part));
    }
    let below = rows.start + (shown * stride) as u16;
    let left = below.min(rows.end)..rows.end;
    let tracks = song.tracks.iter().enumerate().skip(first).take(shown);
    let mut focus = None;
    let ends = (rows.start, rows.start + (shown.saturating_sub(1) * stride) as u16);
    for ((place, track), y) in tracks.zip(rows.step_by(stride)) {
        row(pen, sight, &columns, (place, y), track);
        if at == Some(place) {
            focus = Some(Position::new(0, y));
        }
    }
    if frame.body.captions.is_none() {
        pen.goes_on(ends, first > 0, first + shown < count);
    }
    if count > 0 {
        moves_pane::draw(pen, sight, frame, left, pictures);
    }
    focus
}

fn heads(pen: &mut Pen, row: u16, columns: &Columns) {
    let heads = [
        (4, "track"),
        (columns.letters, "ams"),
        (columns.volume, "volume"),
        (columns.pan, "pan"),
        (columns.feel, "feel"),
        (columns.sound, "sound"),
    ];
    for (x, head) in heads {
        if x + head.len() as u16 <= pen.width() {
            pen.put(x, row, head, pen.palette.faint());
        }
    }
}

fn row(pen: &mut Pen, sight: &Sight, columns: &Columns, (place, y): (usize, u16), track: &Track) {
    let palette = pen.palette;
    let status = &sight.state.status;
    let silent = !is_heard(track.id, track.mute, &status.solo_tracks);
    let chosen = sight.screen.chosen == Some(track.id);
    let style = if silent { palette.faint() } else { palette.text() };
    if chosen {
        pen.sign(0, y, palette.signs.chosen, palette.strong());
    }
    let after = track_head::number(pen, y, place, chosen);
    let name = if chosen { palette.strong() } else { style };
    pen.put_in(after, y, usize::from(columns.letters - after) - 1, &track.name, name);
    track_head::letters(pen, status, columns.letters, y, track);
    levels(pen, status, columns, (place, y), track, silent);
    let room = columns.sound.min(pen.width()).saturating_sub(columns.feel + 1);
    let whole = feel::in_room(&track.feel, room.into());
    let fits = text::width(&whole) <= room.into();
    let words = if fits { whole } else { feel::shortest(&track.feel) };
    let feel = if track.feel.is_on() { style } else { palette.faint() };
    pen.put_in(columns.feel, y, room.into(), &words, feel);
    if columns.sound + 8 < pen.width() && track.program.is_some() {
        let name = sounds::name(track.program, !track.pitched, &sight.state.kits);
        let room = usize::from(pen.width() - columns.sound - 1);
        pen.put_in(columns.sound, y, room, &name, style);
    }
}

/// A track's volume and pan.
pub fn levels(
    pen: &mut Pen,
    status: &Status,
    columns: &Columns,
    (place, y): (usize, u16),
    track: &Track,
    silent: bool,
) {
    let style = if silent { pen.palette.faint() } else { pen.palette.text() };
    let moved = status.moved_levels.get(&track.id).copied().unwrap_or_default();
    volume(pen, columns, (place, y), (track.levels.volume, moved.volume), silent);
    pan(pen, columns, y, (track.levels.pan, moved.pan), style);
}

/// A number and a bar; nothing but a stroke if the instrument keeps its own volume. While a pass moves
/// the volume, the number is the one in force, with a sign before it.
fn volume(
    pen: &mut Pen,
    columns: &Columns,
    (place, y): (usize, u16),
    (set, moved): (Option<U7>, Option<U7>),
    silent: bool,
) {
    let palette = pen.palette;
    let style = if silent { palette.faint() } else { palette.text() };
    let volume = moved.or(set);
    if moved.is_some() {
        pen.sign(columns.volume - 1, y, palette.signs.arrow, palette.strong());
    }
    let word = volume.map_or("-".to_string(), |volume| volume.to_string());
    pen.put(
        columns.volume,
        y,
        &format!("{word:>3}"),
        if volume.is_some() { style } else { palette.faint() },
    );
    let eighths = volume.map_or(0, |volume| u16::from(volume.get()) * 8 * columns.bar / 127);
    let filled = if silent { palette.faint() } else { palette.track(place) };
    for cell in 0..columns.bar {
        let x = columns.volume + 5 + cell;
        match eighths.saturating_sub(8 * cell).min(8) {
            0 => pen.sign(x, y, palette.signs.rule, palette.faint()),
            part => pen.sign(x, y, palette.signs.filled[usize::from(part) - 1], filled),
        }
    }
}

/// How far to one side, and a stroke on a line from left to right.
fn pan(
    pen: &mut Pen,
    columns: &Columns,
    y: u16,
    (set, moved): (Option<U7>, Option<U7>),
    style: Style,
) {
    let palette = pen.palette;
    let pan = moved.or(set);
    if moved.is_some() {
        pen.sign(columns.pan - 1, y, palette.signs.arrow, palette.strong());
    }
    let off = pan.map(|pan| i16::from(pan.get()) - 64);
    let word = match off {
        None => "-".to_string(),
        Some(0) => "mid".to_string(),
        Some(off) if off < 0 => format!("L {}", -off),
        Some(off) => format!("R {off}"),
    };
    pen.put(columns.pan, y, &word, if pan.is_some() { style } else { palette.faint() });
    let half = i16::try_from(columns.line / 2).unwrap_or(0);
    // From 0 to 127 around 64, so that both ends are reached; the nearest cell.
    let stroke = off.map(|off| {
        let most = if off < 0 { 64 } else { 63 };
        half + (2 * off * half + off.signum() * most) / (2 * most)
    });
    for cell in 0..columns.line {
        let x = columns.pan + 6 + cell;
        let here = i16::try_from(cell).ok();
        if stroke.is_some() && here == stroke {
            pen.sign(x, y, palette.signs.bar, palette.strong());
        } else if here == Some(half) {
            pen.sign(x, y, palette.signs.beat, palette.faint());
        } else {
            pen.sign(x, y, palette.signs.rule, palette.faint());
        }
    }
}
