//! Draws the whole screen: the state of everything, as cells of a terminal.
//!
//! In: the state of the desk, the screen's own state, the palette, and a buffer of some size. Out:
//! the filled buffer, and where the cursor belongs. The same arguments give the same picture.
//!
//! The frame is drawn first, with the view in its body; then what is open over it, the one on top
//! last.

mod comparison;
mod contour;
mod feel;
mod files;
mod finder;
mod foot;
mod frame;
mod groove_curve;
mod grooves;
mod head;
mod help;
mod key_box;
mod keys_box;
mod layers_view;
mod levels_view;
mod loop_view;
pub mod meters;
mod moves_pane;
mod notes_view;
mod over_bars;
mod overlays;
pub mod pane;
mod pen;
mod piano;
mod ports_view;
mod song_form_view;
mod timeline;
mod tour;
mod track_head;

use crate::axis::Scale;
use crate::desk::DeskState;
use crate::keymap::{Need, Scene};
use crate::keys_play::fingered;
use crate::palette::Palette;
use crate::picture::Pictures;
use crate::screen::{Screen, View};
use crate::text;
use chaconne_engine::Transport;
use frame::Frame;
pub use notes_view::{LANE_LIST_ROWS, note_rows};
use pen::Pen;
use ratatui::buffer::Buffer;
use ratatui::layout::Position;
pub use timeline::{loop_fit, playhead_step};

/// The smallest screen that is drawn.
pub const SMALLEST: (u16, u16) = (40, 10);

/// Everything that a picture is made from.
pub struct Sight<'a> {
    /// The state of everything.
    pub state: &'a DeskState,
    /// The screen's own state.
    pub screen: &'a Screen,
    /// Colours and signs.
    pub palette: &'a Palette,
    /// Whether nothing but words may move.
    pub calm: bool,
}

/// Draws, and returns where the cursor belongs; `None` if nothing has the focus.
pub fn draw(buffer: &mut Buffer, sight: &Sight, pictures: &mut Pictures) -> Option<Position> {
    buffer.reset();
    let size = (buffer.area.width, buffer.area.height);
    let mut pen = Pen::new(buffer, sight.palette);
    if size.0 < SMALLEST.0 || size.1 < SMALLEST.1 {
        too_small(&mut pen, size, sight);
        return None;
    }
    let frame = Frame::of(sight.screen);
    pen.airy = frame.body.captions.unwrap_or(frame.head.values) + 1..frame.body.rows.end;
    head::draw(&mut pen, sight, &frame);
    let chosen = match sight.screen.view {
        View::Loop => loop_view::draw(&mut pen, sight, &frame, pictures),
        View::Levels => levels_view::draw(&mut pen, sight, &frame, pictures),
        View::Layers => layers_view::draw(&mut pen, sight, &frame, pictures),
        View::Notes => notes_view::draw(&mut pen, sight, &frame, pictures),
        View::Form => song_form_view::draw(&mut pen, sight, &frame, pictures),
        View::Ports => ports_view::draw(&mut pen, sight, &frame),
    };
    foot::draw(&mut pen, sight, &frame);
    sight
        .screen
        .overlays
        .iter()
        .fold(chosen, |focus, open| overlays::draw(&mut pen, sight, open, focus))
}

/// The column from which on the rule above the body has captions: those before it have the names of the
/// views, or on a narrow screen only that of the one shown.
fn after_view_names(width: u16, shown: View) -> u16 {
    let views = View::ALL.iter().filter(|&&view| width >= ALL_VIEWS || view == shown);
    3 + views.map(|view| view.name().len() as u16 + 1).sum::<u16>()
}

/// The first of several sets of captions that has room together with what a mark stands for, which is the last
/// caption; else the last set, with that as the first caption.
fn with_mark(width: u16, shown: View, sets: &[Vec<String>], scale: &Scale) -> Vec<String> {
    let mark = format!("1 mark = {}", scale.grain.words());
    let room = usize::from(width - after_view_names(width, shown));
    let with_mark = |captions: &Vec<String>| [captions.clone(), vec![mark.clone()]].concat();
    // Each caption has a stroke before it and a space on either side.
    let fits = |captions: &Vec<String>| {
        captions.iter().map(|caption| text::width(caption) + 3).sum::<usize>() <= room
    };
    sets.iter().map(with_mark).find(fits).unwrap_or_else(|| {
        let rest = sets.last().cloned().unwrap_or_default();
        [vec![mark], rest].concat()
    })
}

/// The columns from which on the names of all views are shown.
const ALL_VIEWS: u16 = 72;

/// The rule above the body: the names of the views, with the one shown in reverse, and captions.
fn view_names(pen: &mut Pen, sight: &Sight, row: u16, captions: &[String]) {
    pen.rule(row, &[]);
    let (palette, shown) = (pen.palette, sight.screen.view);
    let all = pen.width() >= ALL_VIEWS;
    let mut x = 1;
    for view in View::ALL.into_iter().filter(|&view| all || view == shown) {
        let style = if view == shown { palette.on() } else { palette.faint() };
        pen.put(x, row, " ", palette.faint());
        x = pen.put(x + 1, row, view.name(), style);
    }
    pen.put(x, row, " ", palette.faint());
    let x = after_view_names(pen.width(), shown);
    let end = keys_play(pen, sight, row, (x, captions));
    pen.captions(x..end, row, captions);
}

/// What the keys of the armed track play, if it is not their notes, at the right end of the rule above the body;
/// returns the column that captions from another one on may reach. Those after the first make room.
fn keys_play(pen: &mut Pen, sight: &Sight, row: u16, (x, captions): (u16, &[String])) -> u16 {
    let width = pen.width();
    let Some(plays) = fingered(&sight.state.status) else { return width };
    let of =
        |captions: &[String]| captions.iter().map(|words| text::width(words) + 3).sum::<usize>();
    let (long, short) = (format!(" keys play {plays} "), format!(" keys: {plays} "));
    let ways =
        [(&long, captions), (&short, captions), (&short, &captions[..captions.len().min(1)])];
    let room = usize::from((width - 1).saturating_sub(x));
    let fits = |(words, captions): &(&String, &[String])| of(captions) + text::width(words) <= room;
    let Some((words, _)) = ways.into_iter().find(fits) else { return width };
    pen.put_before(width - 1, row, words, pen.palette.strong())
}

/// One sentence and the state, for a terminal that is too small. The song plays on, and the keys
/// work.
fn too_small(pen: &mut Pen, size: (u16, u16), sight: &Sight) {
    let (transport, recording) = head::transport_words(sight.state);
    let recording = match (sight.state.status.recording, sight.state.status.transport) {
        (false, _) => String::new(),
        (true, Transport::Rolling) => format!(", {recording}"),
        (true, _) => format!(", recording {recording}"),
    };
    let keys = match sight.screen.scene() {
        Scene::Leave if sight.screen.facts(sight.state).meet(Need::Saved) => {
            "Quit? q quit, Esc back."
        }
        Scene::Leave => "Quit? s save, l don't save, Esc back.",
        Scene::Replace => "Replace the file? r replace, Esc back.",
        Scene::Changed => "The file was changed. r replace, l load it, w save as, Esc back.",
        Scene::Comparison => "Esc back.",
        Scene::Exporting => "Cancel the export? x cancel, Esc back.",
        Scene::Rescue => "Unsaved changes found. r restore, x delete copy, Esc back.",
        _ => "{quit} quit.",
    };
    let keys = sight.screen.keymap.fill_in(sight.screen.scene(), keys);
    let text = format!(
        "{transport}{recording}. This terminal is {}x{}; the screen needs {}x{}. {keys}",
        size.0, size.1, SMALLEST.0, SMALLEST.1
    );
    let lines = text::wrap(&text, usize::from(size.0));
    for (row, line) in lines.iter().enumerate().take(usize::from(size.1)) {
        pen.put(0, row as u16, line, sight.palette.text());
    }
}

#[cfg(test)]
mod tests;
