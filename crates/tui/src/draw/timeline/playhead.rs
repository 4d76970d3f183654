//! The playhead's mark and, before the first bar, the count-in.

use super::Stage;
use crate::draw::Pen;
use chaconne_engine::Transport;
use chaconne_time::Tick;

/// The playhead's mark, or the progress of the count-in.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.state.status, pen.palette);
    match status.transport {
        // At the top, where a start begins anyway, there is nothing to show.
        Transport::Stopped if status.at == Tick::ZERO => {}
        Transport::CountingIn => count_in(pen, stage, row),
        Transport::Rolling if stage.sight.calm => {}
        Transport::Stopped | Transport::Rolling => {
            if let Some(mark) = stage.scale.mark_of(stage.playhead()) {
                let column = stage.scale.marks[mark].column;
                let style = if status.recording { palette.alarm() } else { palette.strong() };
                pen.sign(stage.left + column, row, palette.signs.playhead, style);
            }
        }
    }
}

/// The beats of the count-in's bar; the one that is on is reversed.
fn count_in(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.state.status, pen.palette);
    let (beat, beats) = (status.place.beat, status.metre.count());
    let x = pen.put(stage.left + 1, row, "count-in", palette.strong()) + 2;
    let mut x = x;
    if beats <= 12 {
        for each in 1..=beats {
            let style = match each.cmp(&beat) {
                std::cmp::Ordering::Equal => palette.on(),
                std::cmp::Ordering::Less => palette.text(),
                std::cmp::Ordering::Greater => palette.faint(),
            };
            x = pen.put(x, row, &each.to_string(), style) + 1;
        }
    } else {
        x = pen.put(x, row, &format!("beat {beat} of {beats}"), palette.on()) + 1;
    }
    // The setting may have changed since the count-in began.
    let whole = i64::from(status.count_in).max(status.place.bar);
    let bars = format!("bar {} of {whole}", status.place.bar);
    pen.put(x + 1, row, &bars, palette.text());
}
