//! The playhead's mark and, before the music begins, the count-in.

use super::Stage;
use crate::draw::Pen;
use crate::palette::Palette;
use crate::text;
use chaconne_engine::{Status, Transport};
use chaconne_time::Tick;
use ratatui::style::Style;

/// The playhead's mark, or the progress of the count-in.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16) {
    let status = &stage.sight.state.status;
    match status.transport {
        // At the top, where a start begins anyway, there is nothing to show.
        Transport::Stopped if status.at == Tick::ZERO => {}
        // A hand that leads gives its own beats before the music.
        Transport::CountingIn if status.by_hand.is_some() => {}
        Transport::CountingIn => count_in(pen, stage, row),
        Transport::Rolling if stage.sight.calm => {}
        Transport::Stopped | Transport::Rolling => {
            mark(pen, stage, stage.playhead(), row);
        }
    }
}

/// Draws the mark at a tick of the axis, and returns its column; `None` if the tick is not on this page.
fn mark(pen: &mut Pen, stage: &Stage, at: Tick, row: u16) -> Option<u16> {
    let palette = pen.palette;
    let mark = stage.scale.mark_of(at)?;
    let column = stage.left + stage.scale.marks[mark].column;
    let recording = stage.sight.state.status.recording;
    let style = if recording { palette.alarm() } else { palette.strong() };
    pen.sign(column, row, palette.signs.playhead, style);
    Some(column)
}

/// The beats of the count-in's bar, the one that is on reversed. If it leads to another bar than the first, the
/// mark shows where the music will begin, and the words go beside it.
fn count_in(pen: &mut Pen, stage: &Stage, row: u16) {
    let status = &stage.sight.state.status;
    let words = count_in_words(status, pen.palette);
    let width: u16 = words.iter().map(|(word, _)| text::width(word) as u16).sum();
    let mut x = stage.left + 1;
    if status.begins > Tick::ZERO
        && let Some(column) = mark(pen, stage, stage.beginning(), row)
        && x + width >= column
    {
        // Right of the mark if there is room, else over it: the words name the bar, too.
        let beside = column + 2;
        x = if beside + width <= pen.width() { beside } else { x };
    }
    for (word, style) in words {
        x = pen.put(x, row, &word, style);
    }
}

/// The words of the count-in, with the spaces between them.
fn count_in_words(status: &Status, palette: &Palette) -> Vec<(String, Style)> {
    let (beat, beats) = (status.place.beat, status.metre.count());
    let mut words = vec![("count-in".to_string(), palette.strong()), ("  ".into(), palette.text())];
    if beats <= 12 {
        for each in 1..=beats {
            let style = match each.cmp(&beat) {
                std::cmp::Ordering::Equal => palette.on(),
                std::cmp::Ordering::Less => palette.text(),
                std::cmp::Ordering::Greater => palette.faint(),
            };
            words.extend([(each.to_string(), style), (" ".into(), palette.text())]);
        }
    } else {
        let of = format!("beat {beat} of {beats}");
        words.extend([(of, palette.on()), (" ".into(), palette.text())]);
    }
    // The setting may have changed since the count-in began.
    let whole = i64::from(status.count_in).max(status.place.bar);
    let then = match status.begins {
        Tick::ZERO => String::new(),
        _ => format!(", then bar {}", status.bar_to_begin()),
    };
    words.push((format!(" bar {} of {whole}{then}", status.place.bar), palette.text()));
    words
}
