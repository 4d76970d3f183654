//! Writing into the buffer, inside its edges.

use crate::palette::Palette;
use crate::text;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use std::ops::Range;

/// Writes text and signs; what does not fit is cut.
pub struct Pen<'a> {
    buffer: &'a mut Buffer,
    /// Colours and signs.
    pub palette: &'a Palette,
    /// The rows in which a box has air above and below it. Elsewhere are words that stay in sight.
    pub airy: Range<u16>,
    /// The newest box, with its edges: what is written into it stays inside.
    pub newest: Option<Rect>,
}

impl<'a> Pen<'a> {
    pub fn new(buffer: &'a mut Buffer, palette: &'a Palette) -> Pen<'a> {
        let airy = 0..buffer.area.height;
        Pen { buffer, palette, airy, newest: None }
    }

    /// Empties the whole screen.
    pub fn clear(&mut self) {
        self.buffer.reset();
    }

    /// Empties a row.
    pub fn clear_row(&mut self, y: u16) {
        (0..self.width()).for_each(|x| self.buffer[(x, y)].reset());
    }

    /// The columns there are.
    pub fn width(&self) -> u16 {
        self.buffer.area.width
    }

    /// The rows there are.
    pub fn height(&self) -> u16 {
        self.buffer.area.height
    }

    /// The columns from one on that there are in a row: in a box, up to the blank before its edge.
    fn room(&self, x: u16, y: u16) -> usize {
        let is_inside = |it: &Rect| y > it.y && y + 1 < it.bottom() && it.left() < x;
        let end = self.newest.filter(is_inside).map_or(self.width(), |it| it.right() - 2);
        usize::from(end.saturating_sub(x))
    }

    /// Writes `text` and returns the column after it.
    pub fn put(&mut self, x: u16, y: u16, text: &str, style: Style) -> u16 {
        let room = self.room(x, y);
        self.put_in(x, y, text::width(text).min(room), text, style)
    }

    /// Writes `text` into exactly so many columns, as far as there are any.
    pub fn put_in(&mut self, x: u16, y: u16, columns: usize, text: &str, style: Style) -> u16 {
        let room = self.room(x, y);
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
        self.captions(1..self.width(), y, captions);
    }

    /// Captions set into some columns of a rule; from the first that does not fit on they are left out.
    pub fn captions(&mut self, columns: Range<u16>, y: u16, captions: &[String]) {
        let faint = self.palette.faint();
        let (mut x, end) = (columns.start, usize::from(columns.end));
        let fits = |x: u16, caption: &str| usize::from(x) + text::width(caption) + 2 <= end;
        for caption in captions.iter().filter(|caption| !caption.is_empty()) {
            if !fits(x, caption) {
                return;
            }
            x = self.put(x, y, &format!(" {caption} "), faint) + 1;
        }
    }

    /// Empties the cells around a box, so that its frame touches nothing: those on its left and right, and
    /// those above and below it in airy rows. Words that would be cut go as a whole.
    fn air(&mut self, x: u16, y: u16, width: u16, height: u16) {
        let columns = x.saturating_sub(1)..(x + width + 1).min(self.width());
        for row in y.saturating_sub(1)..(y + height + 1).min(self.height()) {
            if (y..y + height).contains(&row) || self.airy.contains(&row) {
                self.clear_phrases(&columns, row);
                columns.clone().for_each(|column| self.buffer[(column, row)].reset());
            }
        }
    }

    /// Empties what is outside of some columns of phrases that are partly inside: half of one says nothing.
    fn clear_phrases(&mut self, columns: &Range<u16>, row: u16) {
        let (first, end) = (columns.start, columns.end);
        let is_in = |pen: &Pen, x: u16| pen.is_of_phrase(x, row);
        if first > 0 && is_in(self, first) {
            let outside = (0..first).rev().take_while(|x| is_in(self, *x)).count() as u16;
            (first - outside..first).for_each(|x| self.buffer[(x, row)].reset());
        }
        if end < self.width() && is_in(self, end - 1) {
            let outside = (end..self.width()).take_while(|x| is_in(self, *x)).count() as u16;
            (end..end + outside).for_each(|x| self.buffer[(x, row)].reset());
        }
    }

    /// Whether a cell is of a phrase: of a word, or the one blank between two of them.
    fn is_of_phrase(&self, x: u16, y: u16) -> bool {
        let is_blank = self.buffer.cell((x, y)).is_some_and(|cell| cell.symbol() == " ");
        let between = || x > 0 && self.is_of_word(x - 1, y) && self.is_of_word(x + 1, y);
        if is_blank { between() } else { self.is_of_word(x, y) }
    }

    /// Whether a cell has a sign of a word: a letter or digit, or a stop or hyphen beside one. Marks, lines and
    /// rules are none.
    fn is_of_word(&self, x: u16, y: u16) -> bool {
        let sign = |x: u16| self.buffer.cell((x, y)).and_then(|cell| cell.symbol().chars().next());
        let is_letter = |x: u16| sign(x).is_some_and(char::is_alphanumeric);
        let beside = || is_letter(x + 1) || x > 0 && is_letter(x - 1);
        match sign(x) {
            Some(c) if c.is_alphanumeric() => true,
            Some(c) => {
                (c.is_ascii_punctuation() || c == self.palette.signs.cut) && c != '|' && beside()
            }
            None => false,
        }
    }

    /// How many columns of words fit into the bottom edge of the newest box.
    pub fn edge_of_box(&self) -> usize {
        self.newest.map_or(0, |newest| usize::from(newest.width).saturating_sub(6))
    }

    /// Words set into the bottom edge of the newest box, at its right end.
    pub fn foot_of_box(&mut self, words: &[(&str, Style)]) {
        let Some(newest) = self.newest else { return };
        let row = newest.bottom() - 1;
        let width: usize = words.iter().map(|(words, _)| text::width(words)).sum();
        let mut x = newest.right().saturating_sub(width as u16 + 4);
        x = self.put(x, row, " ", self.palette.text());
        for (words, style) in words {
            x = self.put(x, row, words, *style);
        }
        self.put(x, row, " ", self.palette.text());
    }

    /// Signs before the first and the last row of a list, if it goes on above and below them; the sign of the
    /// chosen row stays.
    pub fn goes_on(&mut self, (first, last): (u16, u16), above: bool, below: bool) {
        let ([up, down], faint) = (self.palette.signs.more, self.palette.faint());
        for (row, sign, is_cut) in [(first, up, above), (last, down, below)] {
            let is_free = self.buffer.cell((0, row)).is_some_and(|cell| cell.symbol() == " ");
            if is_cut && is_free {
                self.sign(0, row, sign, faint);
            }
        }
    }

    /// How many rows of a list are left out above and below what the newest box shows, set into its edges.
    pub fn left_out(&mut self, above: usize, below: usize) {
        let Some(newest) = self.newest else { return };
        let faint = self.palette.faint();
        if above > 0 {
            let words = format!(" {above} more above ");
            self.put_before(newest.right() - 2, newest.y, &words, faint);
        }
        if below > 0 {
            let words = format!(" {below} more below ");
            self.put(newest.x + 2, newest.bottom() - 1, &words, faint);
        }
    }

    /// An empty box with a title on its upper edge, and air around it. `x`, `y` is its upper left corner.
    pub fn frame(&mut self, x: u16, y: u16, width: u16, height: u16, title: &str) {
        self.newest = None;
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
        self.newest = Some(Rect { x, y, width, height });
        // What opens over this box keeps its distance.
        self.airy = self.airy.start.min(y)..self.airy.end.max(bottom + 1);
    }
}
