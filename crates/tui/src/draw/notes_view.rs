//! The notes of a layer, or of all layers of a track: pitch by time, a row a key, on the same axis as the
//! loop. The row below them tells the note under the cursor, and under that is the lane.

mod lane;
mod lane_boxes;
mod words;

use super::frame::Body;
use super::timeline::{self, Shape, Stage};
use super::{Frame, Pen, Sight, track_head};
use crate::action::Arrows;
use crate::cells::{Cell, Look, Source};
use crate::key_names::{Naming, key_name_in};
use crate::lane::InLane;
use crate::picture::Pictures;
use crate::screen::{NotesView, Screen};
use crate::sheet::Sheet;
use crate::view_rows::window;
use chaconne_song::U7;
use ratatui::layout::Position;
use ratatui::style::{Modifier, Style};
use std::ops::Range;
use std::sync::Arc;

pub(super) use lane::lane_bars;
pub use lane_boxes::{ROWS as LANE_LIST_ROWS, lane_list, ramp_box};
pub(super) use words::{key_facts, shown};

/// How many keys the screen shows in this view.
pub fn note_rows(screen: &Screen) -> usize {
    let frame = Frame::of(screen);
    Rows::of(&frame.body, &screen.notes).keys.len()
}

/// The rows of a lane in which each of 128 values has a height of its own.
const EXACT_LANE: u16 = 16;
/// The rows that stay free below the keys, so that the lane does not change for a few more of them.
const AIR: u16 = 6;

/// The rows of the view.
struct Rows {
    /// Those of the keys, at least one.
    keys: Range<u16>,
    /// The words, if there is room.
    words: Option<u16>,
    /// Those of the lane, if there is one.
    lane: Range<u16>,
}

impl Rows {
    /// The lane gets a quarter of the rows; if the keys leave many, so many that each value has a height of its
    /// own. If there are few, it has some only while it is worked on.
    fn of(body: &Body, notes: &NotesView) -> Rows {
        let Range { start, end } = body.rows;
        let room = end.saturating_sub(start);
        let lane = match room {
            _ if notes.lane == InLane::Nothing => 0,
            9.. => {
                let quarter = (room / 4).clamp(3, 8);
                let left = usize::from(room - quarter).saturating_sub(notes.least_rows().len());
                if left > usize::from(EXACT_LANE + AIR - quarter) { EXACT_LANE } else { quarter }
            }
            4.. if notes.arrows == Arrows::Lane => (room - 2).min(3),
            _ => 0,
        };
        let lane = end - lane..end;
        let words = lane.start.saturating_sub(1).max(start + 1);
        Rows { keys: start..words, words: (words < lane.start).then_some(words), lane }
    }
}

/// Draws the view, and returns where its cursor is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    pictures: &mut Pictures,
) -> Option<Position> {
    let stage = timeline::stage(pen, sight, frame)?;
    // Left of the ruler: where else a change is heard.
    let also = words::also(&stage, pen.palette.signs.cut);
    timeline::draw(pen, &stage, frame, &[(1, &also)]);
    if stage.shape == Shape::Key && frame.head.title.is_some() {
        pen.put(1, frame.body.ruler, &also, pen.palette.faint());
    }
    let sheet = sight.screen.notes.sheet.clone();
    captions(pen, &stage, frame, sheet.as_deref());
    let body = frame.body.rows.clone();
    let screen = sight.screen;
    let Some(sheet) = sheet else {
        track_head::none(pen, sight, body.start + 1);
        return None;
    };
    let rows = Rows::of(&frame.body, &screen.notes);
    let drawn = keys(pen, &stage, &sheet, rows.keys.clone(), pictures);
    if let Some(row) = rows.words {
        words::below(pen, &stage, &sheet, row);
    }
    if stage.shape == Shape::Beside {
        words::beside(pen, &stage, &sheet, rows.keys);
    }
    let in_lane = lane::draw(pen, &stage, &sheet, rows.lane, pictures);
    if screen.notes.arrows == Arrows::Lane { in_lane } else { drawn }
}

fn captions(pen: &mut Pen, stage: &Stage, frame: &Frame, sheet: Option<&Sheet>) {
    let Some(row) = frame.body.captions else { return };
    let cut = pen.palette.signs.cut;
    let titles = sheet.map_or(vec![String::new()], |sheet| {
        vec![words::shown(sheet, cut), words::whose(sheet, cut)]
    });
    let bars = Some(stage.scale.bars_words()).filter(|_| !stage.scale.is_whole());
    let captions =
        titles.into_iter().map(|title| Vec::from_iter([title].into_iter().chain(bars.clone())));
    let captions: Vec<Vec<String>> = captions.collect();
    let captions = super::with_mark(pen.width(), stage.sight.screen.view, &captions, &stage.scale);
    super::view_names(pen, stage.sight, row, &captions);
}

/// The rows of keys; returns where the cursor is.
fn keys(
    pen: &mut Pen,
    stage: &Stage,
    sheet: &Arc<Sheet>,
    rows: Range<u16>,
    pictures: &mut Pictures,
) -> Option<Position> {
    let notes = &stage.sight.screen.notes;
    let all = notes.rows(rows.len());
    let at = all.iter().position(|key| *key == notes.key).unwrap_or(0);
    let first = window(notes.top, at, all.len(), rows.len());
    let shown: Vec<U7> = all.into_iter().skip(first).take(rows.len()).collect();
    let cells = pictures.cells.of(&source(stage, sheet, &shown));
    let mark = notes.mark(&stage.scale, sheet.base(stage.sight.state.status.round));
    let mut focus = None;
    for ((&key, cells), y) in std::iter::zip(&shown, cells).zip(rows) {
        let here = key == notes.key;
        head(pen, stage, sheet, key, here, y);
        row(pen, stage, sheet, cells, here, y);
        if let Some(mark) = mark.filter(|_| here) {
            focus = Some(Position::new(stage.left + stage.scale.marks[mark].column, y));
        }
    }
    unfinished(pen, stage, sheet, &shown, first_row(&focus, &shown, notes.key));
    focus
}

/// What the cells of rows of keys are made from.
fn source<'a>(stage: &'a Stage, sheet: &'a Arc<Sheet>, rows: &'a [U7]) -> Source<'a> {
    let notes = &stage.sight.screen.notes;
    Source {
        sheet,
        rows,
        scale: &stage.scale,
        base: sheet.base(stage.sight.state.status.round),
        selected: (&notes.selected, notes.marked),
        silent: sheet.silent(&stage.sight.state.status.solo_passes),
    }
}

/// The row of the screen that has the first key shown.
fn first_row(focus: &Option<Position>, shown: &[U7], key: U7) -> Option<u16> {
    let at = shown.iter().position(|other| *other == key)? as u16;
    focus.map(|focus| focus.y - at)
}

/// The columns for the words about the layers.
const BESIDE: u16 = 36;

/// The name of a key, left of its row, with its notes.
fn head(pen: &mut Pen, stage: &Stage, sheet: &Sheet, key: U7, here: bool, y: u16) {
    let palette = pen.palette;
    let pitched = sheet.track.pitched;
    // With a column for the sign of the cursor, and one before the axis.
    let naming = stage.naming(&sheet.track);
    let name = key_name_in(usize::from(stage.left).saturating_sub(2), key, naming);
    let style = match here {
        true => palette.on(),
        // Drums that are not played stand back.
        false if !pitched && !sheet.is_used(key) => palette.faint(),
        false => key_style(pen, key, naming),
    };
    let x = pen.put_before(stage.left - 1, y, &name, style);
    words::key_facts(pen, stage, sheet, key, (BESIDE, y));
    if here {
        pen.sign(x.saturating_sub(1), y, palette.signs.chosen, palette.strong());
    }
}

/// The style of a key's name: every C that sounds stands out, and black keys stand back.
pub(super) fn key_style(pen: &Pen, key: U7, naming: Naming) -> Style {
    match naming.in_octave(key) {
        Some(0) => pen.palette.strong(),
        Some(1 | 3 | 6 | 8 | 10) => pen.palette.faint(),
        _ => pen.palette.text(),
    }
}

/// A row of marks.
pub(super) fn row(pen: &mut Pen, stage: &Stage, sheet: &Sheet, cells: &[Cell], here: bool, y: u16) {
    let (palette, signs) = (pen.palette, pen.palette.signs);
    timeline::bar_lines(pen, stage, y);
    let track = timeline::track_style(pen, stage, sheet.place, &sheet.track);
    let style = |look: Look| -> Style {
        match look {
            Look::Silent => palette.faint(),
            Look::Plain => track,
            Look::Selected => track.add_modifier(Modifier::REVERSED),
        }
    };
    for (index, (mark, cell)) in std::iter::zip(&stage.scale.marks, cells).enumerate() {
        let x = stage.left + mark.column;
        let goes_on = match (cell, cells.get(index + 1)) {
            (Cell::Held(look), _) | (Cell::Struck(..), Some(Cell::Held(look))) => Some(*look),
            _ => None,
        };
        if let Some(look) = goes_on {
            timeline::held_on(pen, stage, x, y, style(look));
        }
        match *cell {
            // A block in reverse would look like another height.
            Cell::Struck(Look::Selected, height) => {
                let digit = char::from(b'1' + height.min(7));
                pen.sign(x, y, digit, style(Look::Selected));
            }
            Cell::Struck(look, height) => pen.sign(x, y, signs.height(height), style(look)),
            Cell::Held(look) => pen.sign(x, y, signs.held, style(look)),
            Cell::Played => pen.sign(x, y, signs.played, palette.faint()),
            Cell::Empty if mark.on_beat && here => pen.sign(x, y, signs.beat, palette.faint()),
            Cell::Empty => {}
        }
    }
}

/// The notes of the unfinished round, as rings.
pub(super) fn unfinished(
    pen: &mut Pen,
    stage: &Stage,
    sheet: &Sheet,
    shown: &[U7],
    top: Option<u16>,
) {
    let status = &stage.sight.state.status;
    let armed = status.armed == Some(sheet.track.id);
    let (Some(pass), Some(top)) = (status.unfinished.as_ref().filter(|_| armed), top) else {
        return;
    };
    let style = pen.palette.alarm();
    let before = stage.playhead() - status.in_section;
    for note in pass.notes() {
        let stroke = note.stroke();
        let (_, at) = (stroke.start + stage.scale.early()).cycle(stage.section.length());
        let row = shown.iter().position(|key| *key == stroke.key);
        if let (Some(mark), Some(row)) = (stage.scale.mark_of(before + at), row) {
            let x = stage.left + stage.scale.marks[mark].column;
            pen.sign(x, top + row as u16, pen.palette.signs.fresh, style);
        }
    }
}
