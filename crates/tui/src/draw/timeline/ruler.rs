//! The ruler: the numbers of the bars, their beats, and the lines between them.

use super::{Shape, Stage};
use crate::axis::{BarLine, Grain};
use crate::draw::Pen;
use crate::draw::head::saved_word;

/// The bars' numbers and their beats.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16, heads: &[(u16, &str)]) {
    let palette = pen.palette;
    match stage.shape {
        Shape::Beside => {
            for &(x, head) in heads {
                pen.put(x, row, head, palette.faint());
            }
        }
        // If the title has no row, whether the song is saved is shown above the names.
        Shape::Bare | Shape::Key if !stage.titled => saved(pen, stage, row),
        Shape::Bare | Shape::Above | Shape::Key => {}
    }
    bar_lines(pen, stage, row);
    for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
        pen.sign(stage.left + mark.column, row, palette.signs.beat, palette.faint());
    }
    beat_numbers(pen, stage, row);
    for line in &stage.scale.lines {
        let number = line_words(stage, line);
        let bars = line.number..line.number + line.bars;
        let plays = stage.sight.state.is_playing()
            && stage.section.letter == stage.sight.state.status.section;
        let here = plays && bars.contains(&stage.bar_now());
        let style = if here { palette.on() } else { palette.text() };
        if number.len() <= line.marks * usize::from(stage.scale.wide) {
            pen.put(stage.left + line.column + 1, row, &number, style);
        }
    }
}

/// The beats by number, if the marks are so fine that few bar lines are on the screen.
fn beat_numbers(pen: &mut Pen, stage: &Stage, row: u16) {
    const ROOM: i64 = 8;
    let Grain::Ticks(ticks) = stage.scale.grain else { return };
    for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
        let place = stage.section.metre.place(mark.start);
        let beat = stage.section.metre.metre_at(mark.start).beat();
        if place.tick == 0 && place.beat > 1 && beat.0 / ticks >= ROOM {
            let number = format!("{}.{}", place.bar, place.beat);
            pen.put(stage.left + mark.column, row, &number, pen.palette.faint());
        }
    }
}

/// The number of a line's bar; if the page begins inside the bar, the place where it begins.
fn line_words(stage: &Stage, line: &BarLine) -> String {
    if !line.inside {
        return line.number.to_string();
    }
    let place = stage.section.metre.place(stage.scale.start());
    match place.tick {
        0 => format!("{}.{}", place.bar, place.beat),
        tick => format!("{}.{}.{tick}", place.bar, place.beat),
    }
}

/// Whether everything is saved, in the room left of the bars.
fn saved(pen: &mut Pen, stage: &Stage, row: u16) {
    if let Some((word, style)) = saved_word(&stage.sight.state.disk, pen.palette) {
        pen.put(1, row, word, style);
    }
}

/// The lines before each bar, and after the last one if there is room.
pub fn bar_lines(pen: &mut Pen, stage: &Stage, row: u16) {
    let (sign, faint) = (pen.palette.signs.bar, pen.palette.faint());
    for line in stage.scale.lines.iter().filter(|line| !line.inside) {
        pen.sign(stage.left + line.column, row, sign, faint);
    }
    if stage.scale.lines.last().is_some_and(|line| !line.cut) {
        pen.sign(stage.left + stage.scale.columns(), row, sign, faint);
    }
}
