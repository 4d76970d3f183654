//! A row of marks along the axis: what sounds, and what the unfinished round adds.

use super::{Stage, ruler};
use crate::draw::Pen;
use crate::picture::{Shows, Strip, fresh};
use chaconne_song::Track;
use ratatui::style::Style;

/// A row of marks.
pub fn marks(pen: &mut Pen, stage: &Stage, row: u16, strip: &Strip, style: Style) {
    let signs = pen.palette.signs;
    ruler::bar_lines(pen, stage, row);
    for (index, (mark, shown)) in stage.scale.marks.iter().zip(&strip.shows).enumerate() {
        let x = stage.left + mark.column;
        let covered = strip.covered.get(index) == Some(&true);
        let style = if covered { pen.palette.faint() } else { style };
        match shown {
            Shows::Struck(height) => pen.sign(x, row, signs.height(*height), style),
            Shows::Held => pen.sign(x, row, signs.held, style),
            Shows::Nothing if mark.on_beat => {
                pen.sign(x, row, signs.beat, pen.palette.faint());
            }
            Shows::Nothing => {}
        }
        let goes_on = strip.shows.get(index + 1) == Some(&Shows::Held);
        if *shown == Shows::Held || *shown != Shows::Nothing && goes_on {
            held_on(pen, stage, x, row, style);
        }
    }
}

/// What goes on to the end of a mark, after its first column.
pub fn held_on(pen: &mut Pen, stage: &Stage, x: u16, row: u16, style: Style) {
    for more in 1..stage.scale.wide {
        pen.sign(x + more, row, pen.palette.signs.held, style);
    }
}

/// The notes of the unfinished round, as rings over the other marks.
pub fn unfinished(pen: &mut Pen, stage: &Stage, row: u16) {
    let Some(pass) = &stage.sight.state.status.unfinished else { return };
    let style = pen.palette.alarm();
    let fresh = fresh(pass, &stage.scale);
    for (mark, _) in stage.scale.marks.iter().zip(fresh).filter(|(_, fresh)| *fresh) {
        pen.sign(stage.left + mark.column, row, pen.palette.signs.fresh, style);
    }
}

/// The style of a track's marks: faint if the track does not sound.
pub fn track_style(pen: &Pen, stage: &Stage, place: usize, track: &Track) -> Style {
    match stage.is_silent(track) {
        true => pen.palette.faint(),
        false => pen.palette.track(place),
    }
}
