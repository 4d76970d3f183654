//! The tracks by bars: the ruler, the playhead's mark, a head and a row of marks for each track,
//! and, where there is room below, the layers of the chosen one.

mod head;
mod rows;

use super::{Pen, Plan, Sight};
use crate::desk::View;
use crate::picture::Pictures;
use crate::ruler::{Ruler, SIXTEENTH};
use crate::screen::Zoom;
use chaconne_engine::{Transport, is_heard};
use chaconne_song::{Section, Track};
use chaconne_time::{MetreMap, Tick};
use ratatui::layout::Position;
use std::sync::Arc;

/// How a track's head and its marks lie to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Side by side, with everything in the head.
    Beside,
    /// The head above the marks.
    Above,
    /// Side by side, with a short name and letters in the head.
    Bare,
}

impl Shape {
    /// The column at which the ruler starts.
    fn left(self) -> u16 {
        match self {
            Shape::Beside => 34,
            Shape::Above => 0,
            Shape::Bare => 13,
        }
    }

    /// The rows a track takes.
    fn rows(self) -> u16 {
        match self {
            Shape::Above => 2,
            Shape::Beside | Shape::Bare => 1,
        }
    }
}

/// Everything that lies over the bars.
struct Stage<'a> {
    sight: &'a Sight<'a>,
    section: &'a Section,
    shape: Shape,
    ruler: Arc<Ruler>,
    /// The column of the first bar line.
    left: u16,
    /// How much wider than usual the names are.
    extra: u16,
    /// Whether the title has a row.
    titled: bool,
}

impl Stage<'_> {
    /// Whether a track is muted, or not among those soloed.
    fn is_silent(&self, track: &Track) -> bool {
        !is_heard(track.id, track.mute, &self.sight.view.status.solo_tracks)
    }
}

/// Draws, and says where the chosen track is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    plan: &Plan,
    pictures: &mut Pictures,
) -> Option<Position> {
    let status = &sight.view.status;
    let section = status.song.section(status.section)?;
    let (shape, ruler) = fit(&section.metre, pen.width(), plan, sight);
    // A column of air on the left, where the marks above leave one.
    let air = u16::from(shape == Shape::Above && ruler.columns() + 2 <= pen.width());
    // Room that the marks leave goes to the names.
    let spare = pen.width().saturating_sub(shape.left() + ruler.columns() + 1);
    let extra = if shape == Shape::Above { 0 } else { spare.min(16) };
    let left = shape.left() + air + extra;
    let titled = plan.title.is_some();
    let stage = Stage { sight, section, shape, ruler: Arc::new(ruler), left, extra, titled };
    rows::ruler(pen, &stage, plan.ruler);
    if let Some(row) = plan.playhead {
        rows::playhead(pen, &stage, row);
    }
    rows::tracks(pen, &stage, plan, pictures)
}

/// The finest marks with which the section fits, and the shape in which it does.
fn fit(metre: &MetreMap, width: u16, plan: &Plan, sight: &Sight) -> (Shape, Ruler) {
    let bare = width < 60 || plan.tracks.len() < 6;
    let shapes: &[Shape] = if bare { &[Shape::Bare] } else { &[Shape::Beside, Shape::Above] };
    let bar = shown_bar(sight.view);
    let cells = match sight.screen.zoom {
        Zoom::Fit => vec![SIXTEENTH, SIXTEENTH * 2, SIXTEENTH * 4],
        Zoom::Cell(cell) => vec![cell],
    };
    for &cell in &cells {
        for &shape in shapes {
            if let Some(ruler) = Ruler::whole(metre, cell, width - shape.left()) {
                return (shape, ruler);
            }
        }
    }
    let shape = shapes[shapes.len() - 1];
    let cell: Tick = cells[0];
    (shape, Ruler::page(metre, cell, width - shape.left(), bar))
}

/// The bar that must be in sight.
fn shown_bar(view: &View) -> i64 {
    match view.status.transport {
        Transport::Rolling | Transport::Stopped => view.status.place.bar,
        Transport::CountingIn => 1,
    }
}
