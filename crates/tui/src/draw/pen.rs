//! Writing into the buffer, inside its edges.

use crate::palette::Palette;
use crate::text;
use ratatui::buffer::Buffer;
use ratatui::style::Style;
use std::ops::Range;

/// Writes text and signs; what does not fit is cut.
pub struct Pen<'a> {
    buffer: &'a mut Buffer,
    /// Colours and signs.
    pub palette: &'a Palette,
    /// The rows in which a box has air above and below it. Elsewhere are words that stay in sight.
    pub airy: Range<u16>,
}

impl<'a> Pen<'a> {
    pub fn new(buffer: &'a mut Buffer, palette: &'a Palette) -> Pen<'a> {
        let airy = 0..buffer.area.height;
        Pen { buffer, palette, airy }
    }

    /// Empties the whole screen.
    pub fn clear(&mut self) {
        self.buffer.reset();
    }

    /// The columns there are.
    pub fn width(&self) -> u16 {
        self.buffer.area.width
    }

    /// The rows there are.
    pub fn height(&self) -> u16 {
        self.buffer.area.height
    }

    /// Writes `text` and returns the column after it.
    pub fn put(&mut self, x: u16, y: u16, text: &str, style: Style) -> u16 {
        let room = usize::from(self.width().saturating_sub(x));
        self.put_in(x, y, text::width(text).min(room), text, style)
    }

    /// Writes `text` into exactly so many columns, as far as there are any.
    pub fn put_in(&mut self, x: u16, y: u16, columns: usize, text: &str, style: Style) -> u16 {
        let room = usize::from(self.width().saturating_sub(x));
        if room == 0 || y >= self.height() {
            return x;
        }
        let columns = columns.min(room);
        let kept = text::fill(text, columns, self.palette.signs.cut);
        for column in x..x + columns as u16 {
            // A style only adds to what a cell has; what was there must not shine through.
            self.buffer[(column, y)].reset();
        }
        self.buffer.set_stringn(x, y, kept, room, style).0
    }

    /// Writes `text` so that it ends before the column `end`.
    pub fn put_before(&mut self, end: u16, y: u16, text: &str, style: Style) -> u16 {
        let x = end.saturating_sub(text::width(text) as u16);
        self.put(x, y, text, style);
        x
    }

    /// One sign.
    pub fn sign(&mut self, x: u16, y: u16, sign: char, style: Style) {
        if let Some(cell) = self.buffer.cell_mut((x, y)) {
            cell.reset();
            cell.set_char(sign).set_style(style);
        }
    }

    /// A rule across the screen, with captions set into it from the left.
    pub fn rule(&mut self, y: u16, captions: &[String]) {
        let faint = self.palette.faint();
        for x in 0..self.width() {
            self.sign(x, y, self.palette.signs.rule, faint);
        }
        self.captions(1, y, captions);
    }

    /// Captions set into a rule, from a column on; from the first that does not fit on they are
    /// left out.
    pub fn captions(&mut self, x: u16, y: u16, captions: &[String]) {
        let faint = self.palette.faint();
        let mut x = x;
        let width = usize::from(self.width());
        let fits = |x: u16, caption: &str| usize::from(x) + text::width(caption) + 2 <= width;
        for caption in captions.iter().filter(|caption| !caption.is_empty()) {
            if !fits(x, caption) {
                return;
            }
            x = self.put(x, y, &format!(" {caption} "), faint) + 1;
        }
    }

    /// Empties the cells around a box, so that its frame touches nothing: those on its left and right, and
    /// those above and below it in airy rows.
    fn air(&mut self, x: u16, y: u16, width: u16, height: u16) {
        let columns = x.saturating_sub(1)..(x + width + 1).min(self.width());
        for row in y.saturating_sub(1)..(y + height + 1).min(self.height()) {
            if (y..y + height).contains(&row) || self.airy.contains(&row) {
                columns.clone().for_each(|column| self.buffer[(column, row)].reset());
            }
        }
    }

    /// An empty box with a title on its upper edge, and air around it. `x`, `y` is its upper left corner.
    pub fn frame(&mut self, x: u16, y: u16, width: u16, height: u16, title: &str) {
        self.air(x, y, width, height);
        let (signs, style) = (self.palette.signs, self.palette.text());
        let (right, bottom) = (x + width - 1, y + height - 1);
        for row in y..=bottom {
            self.put_in(x, row, usize::from(width), "", style);
            self.sign(x, row, signs.side, style);
            self.sign(right, row, signs.side, style);
        }
        for column in x..=right {
            self.sign(column, y, signs.rule, style);
            self.sign(column, bottom, signs.rule, style);
        }
        let corners = [(x, y), (right, y), (x, bottom), (right, bottom)];
        for ((column, row), corner) in std::iter::zip(corners, signs.corners) {
            self.sign(column, row, corner, style);
        }
        let strong = self.palette.strong();
        let title = text::clip(title, usize::from(width.saturating_sub(6)), signs.cut);
        self.put(x + 2, y, &format!(" {title} "), strong);
        // What opens over this box keeps its distance.
        self.airy = self.airy.start.min(y)..self.airy.end.max(bottom + 1);
    }
}
