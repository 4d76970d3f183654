//! The picture of everything: how things stand, as cells of a terminal.
//!
//! In: the desk's view, the screen's own state, the palette, and a buffer of some size. Out: the
//! filled buffer, and where the cursor belongs. The same arguments give the same picture.

mod band;
mod foot;
mod help;
pub mod meters;
mod over;
mod pen;
mod plan;
mod tracks;

use crate::desk::View;
use crate::keymap::Scene;
use crate::palette::Palette;
use crate::picture::Pictures;
use crate::screen::Screen;
use chaconne_engine::Transport;
use pen::Pen;
use plan::Plan;
use ratatui::buffer::Buffer;
use ratatui::layout::Position;

/// The smallest screen that is drawn.
pub const SMALLEST: (u16, u16) = (40, 10);

/// What is drawn, besides where it is drawn to.
pub struct Sight<'a> {
    /// How things stand.
    pub view: &'a View,
    /// The screen's own state.
    pub screen: &'a Screen,
    /// Colours and signs.
    pub palette: &'a Palette,
    /// Whether nothing but words may move.
    pub calm: bool,
}

/// Draws, and says where the cursor belongs; nowhere, where nothing is in focus.
pub fn draw(buffer: &mut Buffer, sight: &Sight, pictures: &mut Pictures) -> Option<Position> {
    buffer.reset();
    let size = (buffer.area.width, buffer.area.height);
    let mut pen = Pen::new(buffer, sight.palette);
    if size.0 < SMALLEST.0 || size.1 < SMALLEST.1 {
        too_small(&mut pen, size, sight);
        return None;
    }
    if sight.screen.scene() == Scene::Help {
        help::draw(&mut pen, sight);
        return None;
    }
    let plan = Plan::new(size, sight.screen.piano_on);
    band::draw(&mut pen, sight, &plan);
    let chosen = tracks::draw(&mut pen, sight, &plan, pictures);
    foot::draw(&mut pen, sight, &plan);
    let focus = over::draw(&mut pen, sight);
    focus.or(chosen)
}

/// One sentence, and how it stands; everything goes on, and the keys work.
fn too_small(pen: &mut Pen, size: (u16, u16), sight: &Sight) {
    let (state, recording) = band::transport_words(sight.view);
    let recording = match (sight.view.status.recording, sight.view.status.transport) {
        (false, _) => String::new(),
        (true, Transport::Rolling) => format!(", {recording}"),
        (true, _) => format!(", recording {recording}"),
    };
    let question = match sight.screen.scene() {
        Scene::Ask => " Leave? s saves, l leaves it, Esc stays.",
        _ => " q quits.",
    };
    let text = format!(
        "{state}{recording}. This screen is {}x{}, and {}x{} is the least.{question}",
        size.0, size.1, SMALLEST.0, SMALLEST.1
    );
    let lines = crate::text::wrap(&text, usize::from(size.0));
    for (row, line) in lines.iter().enumerate().take(usize::from(size.1)) {
        pen.put(0, row as u16, line, sight.palette.text());
    }
}

#[cfg(test)]
mod tests;
