//! The ports and the timing: what is connected and how it is, and how late messages are.
//!
//! A wide and high screen has a table of the ports above the histograms; others have the ports on
//! the left and one histogram on the right; a narrow one has the ports and a line of figures.

mod late;
mod list;

use super::foot::tenths;
use super::{Frame, Pen, Sight};
use crate::text;
use chaconne_engine::LeaderClock;
use ratatui::layout::Position;
use std::ops::Range;
use std::time::Duration;

/// From so many columns and rows on, the table of the ports lies above the histograms.
const TABLE: (u16, usize) = (100, 20);
/// From so many columns on, a histogram fits beside the ports.
const BESIDE: u16 = 68;
/// The columns of a histogram beside the ports.
const CHART: u16 = 36;

/// A part of the screen: columns and rows.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Area {
    x: u16,
    width: u16,
    rows: Range<u16>,
}

/// Draws the view, and returns where the port of the chosen track is.
pub fn draw(pen: &mut Pen, sight: &Sight, frame: &Frame) -> Option<Position> {
    if let Some(row) = frame.body.captions {
        super::view_names(pen, sight, row, &[clock_words(sight), priority(sight)]);
    }
    let body = &frame.body;
    // No axis and no playhead: their rows are free.
    let first = body.playhead.unwrap_or(body.ruler).min(body.ruler);
    let rows = first..body.rows.end;
    let width = pen.width();
    if width >= TABLE.0 && rows.len() >= TABLE.1 {
        let (focus, end) = list::table(pen, sight, rows.clone());
        let area = Area { x: 1, width: width - 2, rows: end + 1..rows.end };
        late::charts(pen, sight, &area);
        return focus;
    }
    if width >= BESIDE {
        let wide = CHART + (width - BESIDE) / 3;
        let left = Area { x: 1, width: width - wide - 4, rows: rows.clone() };
        late::chart(pen, sight, &Area { x: width - wide - 1, width: wide, rows });
        return list::rows(pen, sight, &left);
    }
    let last = rows.end - 1;
    let room = usize::from(width) - 2;
    let figures = text::clip(&figures(sight, room), room, pen.palette.signs.cut);
    pen.put(1, last, &figures, pen.palette.text());
    list::rows(pen, sight, &Area { x: 1, width: width - 2, rows: rows.start..last })
}

/// Where the tempo comes from.
fn clock_words(sight: &Sight) -> String {
    let Some(followed) = &sight.state.status.followed else { return "clock: internal".to_string() };
    let name = &followed.name;
    match followed.clock {
        LeaderClock::Absent => format!("clock: internal, none from {name} yet"),
        LeaderClock::Locking => format!("clock: locking to {name}"),
        LeaderClock::Locked => format!("clock: from {name}"),
        LeaderClock::Lost => format!("clock: {name} lost it"),
    }
}

fn priority(sight: &Sight) -> String {
    sight.state.health.priority.clone()
}

/// The figures of the notes in one line of so many columns.
fn figures(sight: &Sight, room: usize) -> String {
    if !sight.state.has_output() {
        return NO_OUTPUT.to_string();
    }
    let notes = &sight.state.health.notes;
    if notes.count == 0 {
        return NO_NOTES.to_string();
    }
    let [p50, p99, worst] = [notes.p50_ns, notes.p99_ns, notes.worst_ns].map(tenths);
    let short = format!("notes: p50 {p50}, p99 {p99}, worst {worst} ms");
    if text::width(&short) + 5 <= room { short + " late" } else { short }
}

const NO_OUTPUT: &str = "No output is connected.";
const NO_NOTES: &str = "No note has been sent yet.";

/// A duration in one unit: `12 s`, `3 min`, `2 h`.
fn span_words(span: Duration) -> String {
    match span.as_secs() {
        seconds @ 0..60 => format!("{seconds} s"),
        seconds @ 60..3600 => format!("{} min", seconds / 60),
        seconds => format!("{} h", seconds / 3600),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn durations_have_one_unit() {
        let words = [0, 59, 60, 3599, 3600, 90_000].map(|s| span_words(Duration::from_secs(s)));
        assert_eq!(words, ["0 s", "59 s", "1 min", "59 min", "1 h", "25 h"]);
    }
}
