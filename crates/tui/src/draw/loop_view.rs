//! The loop: a head and a row of marks for each track of the section and, if there is room below, the
//! layers of the chosen one.

use super::frame::Body;
use super::timeline::{self, Shape, Stage, marks, unfinished};
use super::{Frame, Pen, Sight, contour, layers_view, pane, track_head};
use crate::numbers::tempo_text;
use crate::picture::Pictures;
use crate::screen::Stack;
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

/// The fewest rows that the chosen track keeps below tracks that have several rows each.
const LEAST_BELOW: usize = 14;

/// More rows for each track would show no more: as many as the widest part has keys, within bounds, so that
/// the tracks keep their places while parts grow.
pub(super) fn most_each(stage: &Stage) -> usize {
    const BOUNDS: (usize, usize) = (6, 12);
    let song = &stage.sight.state.status.song;
    let stack = |place| Stack::of(song, stage.section, place);
    // Where there are more tracks than this, they have a row each.
    let stacks = (0..song.tracks.len().min(16)).map(stack);
    let wanted = stacks.map(|stack| contour::wanted(&stack.layers, stack.track.pitched)).max();
    wanted.unwrap_or(0).clamp(BOUNDS.0, BOUNDS.1)
}

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
    // The lower part of a tall screen is for the chosen track, whichever that is.
    let kept = LEAST_BELOW.max(room * 2 / 5);
    let tall = contour::rows_each(stage.shape, room.saturating_sub(kept), count, most_each(stage));
    // An empty row between the tracks, if all of them still fit.
    let air_fits = match stage.shape {
        Shape::Above => count * (rows + 1) <= room + 1,
        Shape::Beside => count * (rows + 1) + LAYERS <= room,
        Shape::Bare | Shape::Key => false,
    };
    let stride = tall.map_or(rows + usize::from(air_fits), |each| rows + usize::from(each));
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
    let last = y + (shown.saturating_sub(1) * stride) as u16;
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
        if let Some(each) = tall {
            let lane = y + 1..y + 1 + each;
            track_head::more(pen, stage, lane.clone(), track);
            let stack = Stack::of(song, stage.section, place);
            contour::draw(pen, stage, (&stack, None), lane, pictures);
        } else {
            marks(pen, stage, row, &strip, timeline::track_style(pen, stage, place, track));
            if stage.sight.state.status.armed == Some(track.id) {
                unfinished(pen, stage, row);
            }
        }
        if place == at {
            // Beside the reversed number: a cursor on it would reverse it again.
            focus = Some(Position::new(0, y));
        }
        y += stride as u16;
    }
    if body.captions.is_none() {
        pen.goes_on((body.rows.start, last), first > 0, first + shown < count);
    }
    below(pen, stage, y..body.rows.end, pictures);
    focus
}

/// The chosen track in the rows below the tracks: its layers and, if there is room, its notes.
fn below(pen: &mut Pen, stage: &Stage, rows: Range<u16>, pictures: &mut Pictures) {
    let Some(stack) = stage.sight.screen.stack(stage.sight.state) else { return };
    let mut rows = rows;
    if stack.layers.is_empty() && stage.shape == Shape::Beside && rows.len() > 3 {
        layers_view::none(pen, stage, &stack, rows.start + 1);
    }
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
    let shown = stage.sight.screen.view;
    let all: Vec<String> = tracks.clone().into_iter().chain(bars).collect();
    let sets = [all, Vec::from_iter(tracks)];
    let mut captions = super::with_mark(pen.width(), shown, &sets, &stage.scale);
    let room = pen.width() - super::after_view_names(pen.width(), shown);
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
    let tour = "{tour} takes you from here to a first part in a minute.";
    let lines = [
        "This song has no tracks yet.",
        "Press {add-track} to add one: drums, bass, whatever comes first.",
        if stage.sight.screen.tour.is_some() { "" } else { tour },
    ];
    for (row, line) in (body.rows.start + 1..body.rows.end).zip(lines) {
        pen.put(2, row, &stage.sight.screen.with_keys(line), pen.palette.text());
    }
    // What can be set before the first part is there, if there is room.
    let rows = body.rows.start + 5..body.rows.end;
    if rows.len() < FIRST_SETTINGS.len() + 1 || pen.width() < 72 {
        return;
    }
    let section = stage.section;
    let (bars, metre) = (section.metre.bars(), section.metre.first());
    let tempo = tempo_text(section.tempo.first(), metre.tempo_unit());
    let bars = format!("{bars} {}", text::plural(bars as usize, "bar"));
    let first = format!(
        "A round is {bars} of {metre} at tempo {tempo}. To change that, or to begin otherwise:"
    );
    pen.put(2, rows.start, &first, pen.palette.text());
    for (row, (key, does)) in (rows.start + 1..).zip(FIRST_SETTINGS) {
        let key = stage.sight.screen.with_keys(key);
        pen.put(2, row, &key, pen.palette.strong());
        pen.put(11, row, does, pen.palette.text());
    }
}

/// What can be set before there is a track: the key, and what it does.
const FIRST_SETTINGS: [(&str, &str); 5] = [
    ("{edit-song}", "set the title, the metre and the number of bars"),
    ("{tap}", "tap the tempo"),
    ("{open}", "open a song"),
    ("{form}", "show the form, where sections are added"),
    ("{help}", "show all keys"),
];
