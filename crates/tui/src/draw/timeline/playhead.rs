//! The playhead's mark and, before the music begins, the count-in.

use super::Stage;
use crate::draw::Pen;
use crate::palette::Palette;
use crate::text;
use chaconne_engine::{Status, Transport};
use chaconne_time::Tick;
use ratatui::style::Style;
use std::ops::Range;

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

/// The columns that other words should leave free: those of the words of the count-in with an empty one on either
/// side, and that of a mark that waits.
pub fn taken(pen: &Pen, stage: &Stage) -> Range<u16> {
    let status = &stage.sight.state.status;
    if let Some(column) = column(stage, stage.playhead()).filter(|_| status.waits.is_some()) {
        return column..column + 1;
    }
    if status.transport != Transport::CountingIn || status.by_hand.is_some() {
        return 0..0;
    }
    let width = width(&count_in_words(status, pen.palette));
    let x = count_in_at(pen, stage, width);
    x.saturating_sub(1)..x + width + 1
}

/// Draws the mark at a tick of the axis, if the tick is on this page.
fn mark(pen: &mut Pen, stage: &Stage, at: Tick, row: u16) {
    let palette = pen.palette;
    let Some(column) = column(stage, at) else { return };
    let recording = stage.sight.state.status.recording;
    let style = if recording { palette.alarm() } else { palette.strong() };
    pen.sign(column, row, palette.signs.playhead, style);
}

/// The column of a tick of the axis; `None` if it is not on this page.
fn column(stage: &Stage, at: Tick) -> Option<u16> {
    let mark = stage.scale.mark_of(at)?;
    Some(stage.left + stage.scale.marks[mark].column)
}

/// The beats of the count-in's bar, the one that is on reversed. If it leads to another bar than the first, the
/// mark shows where the music will begin, and the words go beside it.
fn count_in(pen: &mut Pen, stage: &Stage, row: u16) {
    let status = &stage.sight.state.status;
    let words = count_in_words(status, pen.palette);
    if status.begins > Tick::ZERO {
        mark(pen, stage, stage.beginning(), row);
    }
    let mut x = count_in_at(pen, stage, width(&words));
    for (word, style) in words {
        x = pen.put(x, row, &word, style);
    }
}

/// The column where the words of the count-in begin: right of the mark if they do not fit before it and there is
/// room, else over it: the words name the bar, too.
fn count_in_at(pen: &Pen, stage: &Stage, width: u16) -> u16 {
    let x = stage.left + 1;
    let begins = stage.sight.state.status.begins;
    let mark = column(stage, stage.beginning()).filter(|_| begins > Tick::ZERO);
    match mark.filter(|&mark| x + width >= mark) {
        Some(mark) if mark + 2 + width <= pen.width() => mark + 2,
        _ => x,
    }
}

fn width(words: &[(String, Style)]) -> u16 {
    words.iter().map(|(word, _)| text::width(word) as u16).sum()
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
