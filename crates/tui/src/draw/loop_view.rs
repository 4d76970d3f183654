//! The loop: a head and a row of marks for each track of the section and, if there is room below, the
//! layers of the chosen one.

use super::frame::Body;
use super::timeline::{self, Shape, Stage, marks, unfinished};
use super::{Frame, Pen, Sight, layers_view, pane, track_head};
use crate::picture::Pictures;
use crate::sounds;
use crate::text;
use ratatui::layout::Position;
use std::ops::Range;

/// Draws, and returns where the chosen track is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    pictures: &mut Pictures,
) -> Option<Position> {
    let stage = timeline::stage(pen, sight, frame)?;
    timeline::draw(pen, &stage, frame, &track_head::captions(&stage));
    tracks(pen, &stage, &frame.body, pictures)
}

/// With more rows than this, there is an empty one above the notes.
const SPACED: usize = 12;

/// The rows that layers get before tracks that fit closely are spaced out.
const LAYERS: usize = 8;

/// The tracks on the screen, what is below them, and the captions above them. Returns where the
/// chosen track is.
fn tracks(pen: &mut Pen, stage: &Stage, body: &Body, pictures: &mut Pictures) -> Option<Position> {
    let song = &stage.sight.state.status.song;
    let screen = stage.sight.screen;
    let count = song.tracks.len();
    let room = body.rows.len();
    let rows = usize::from(stage.shape.rows());
    let at = song.tracks.iter().position(|track| Some(track.id) == screen.chosen).unwrap_or(0);
    // An empty row between the tracks, if all of them still fit.
    let air_fits = match stage.shape {
        Shape::Above => count * (rows + 1) <= room + 1,
        Shape::Beside => count * (rows + 1) + LAYERS <= room,
        Shape::Bare | Shape::Key => false,
    };
    let stride = rows + usize::from(air_fits);
    // The last one needs no empty row below it.
    let shown = ((room + stride - rows) / stride).max(1).min(count.max(1));
    let first = at.saturating_sub(shown / 2).min(count.saturating_sub(shown));
    captions(pen, stage, body, first, shown);
    if count == 0 {
        empty(pen, stage, body);
        return None;
    }
    let mut focus = None;
    let mut y = body.rows.start;
    for (place, track) in song.tracks.iter().enumerate().skip(first).take(shown) {
        let strip = pictures.strip(
            song,
            stage.section,
            track,
            &stage.sight.state.status.solo_passes,
            stage.sight.state.status.round,
            &stage.scale,
        );
        track_head::draw(pen, stage, y, place, track, &strip);
        let row = y + stage.shape.rows() - 1;
        marks(pen, stage, row, &strip, timeline::track_style(pen, stage, place, track));
        if stage.sight.state.status.armed == Some(track.id) {
            unfinished(pen, stage, row);
        }
        if place == at {
            // Beside the reversed number: a cursor on it would reverse it again.
            focus = Some(Position::new(0, y));
        }
        y += stride as u16;
    }
    below(pen, stage, y..body.rows.end, pictures);
    focus
}

/// The chosen track in the rows below the tracks: its layers and, if there is room, its notes.
fn below(pen: &mut Pen, stage: &Stage, rows: Range<u16>, pictures: &mut Pictures) {
    let Some(stack) = stage.sight.screen.stack(stage.sight.state) else { return };
    let mut rows = rows;
    rows.start = layers_view::below(pen, stage, &stack, rows.clone(), pictures);
    rows.start += u16::from(rows.len() > SPACED);
    pane::notes(pen, stage, (&stack, None), rows, pictures);
}

/// What the screen shows, in the rule above the tracks.
fn captions(pen: &mut Pen, stage: &Stage, body: &Body, first: usize, shown: usize) {
    let Some(row) = body.captions else { return };
    let count = stage.sight.state.status.song.tracks.len();
    let tracks = track_head::part(first, shown, count);
    let bars = Some(stage.scale.bars_words()).filter(|_| !stage.scale.is_whole());
    let grain = format!("1 mark = {}", stage.scale.grain.words());
    let mut captions: Vec<String> = tracks.into_iter().chain(bars).chain([grain]).collect();
    let room = pen.width() - super::after_view_names(pen.width(), stage.sight.screen.view);
    captions.extend(sound(stage, usize::from(room), &captions));
    super::view_names(pen, stage.sight, row, &captions);
}

/// What the chosen track sounds like, if it fits after the other captions.
fn sound(stage: &Stage, width: usize, before: &[String]) -> Option<String> {
    let track = stage.sight.state.status.song.track(stage.sight.screen.chosen?)?;
    let name = sounds::name(Some(track.program?), !track.pitched, &stage.sight.state.kits);
    // Each caption has a stroke before it and a space on either side.
    let taken: usize = before.iter().map(|caption| text::width(caption) + 3).sum();
    let whole = format!("{}: {name}", track.name);
    [whole, name].into_iter().find(|caption| taken + text::width(caption) + 3 <= width)
}

/// What to do next, if there are no tracks.
fn empty(pen: &mut Pen, stage: &Stage, body: &Body) {
    let lines = [
        "This song has no tracks yet.",
        "Press {add-track} to add one: drums, bass, whatever comes first.",
        "{tour} takes you from here to a first part in a minute.",
    ];
    for (row, line) in (body.rows.start + 1..body.rows.end).zip(lines) {
        pen.put(2, row, &stage.sight.screen.with_keys(line), pen.palette.text());
    }
}
