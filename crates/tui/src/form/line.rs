//! A line of text being typed.
//!
//! In: characters and keys that edit. Out: the text, and the column of the cursor.

use crate::input::Code;
use crate::text;

/// A line of text being typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    text: Vec<char>,
    cursor: usize,
    /// Whether it is a proposal: the first typed letter replaces it, unless the cursor was moved
    /// before.
    proposed: bool,
}

impl Line {
    /// The longest line, in characters.
    pub const LONGEST: usize = 200;

    /// Text that the first typed letter replaces.
    pub fn proposal(text: &str) -> Line {
        let text: Vec<char> = text.chars().take(Self::LONGEST).collect();
        Line { cursor: text.len(), text, proposed: true }
    }

    /// A proposal of any length, of which nothing may be lost.
    pub fn whole(text: &str) -> Line {
        let text: Vec<char> = text.chars().collect();
        Line { cursor: text.len(), text, proposed: true }
    }

    /// The text typed so far.
    pub fn text(&self) -> String {
        self.text.iter().collect()
    }

    /// The column of the cursor.
    pub fn column(&self) -> usize {
        text::width(&self.text[..self.cursor].iter().collect::<String>())
    }

    /// Inserts text at the cursor.
    pub fn insert(&mut self, text: &str) {
        if std::mem::take(&mut self.proposed) {
            self.text.clear();
            self.cursor = 0;
        }
        for c in text.chars().filter(|c| !c.is_control()) {
            if self.text.len() < Self::LONGEST {
                self.text.insert(self.cursor, c);
                self.cursor += 1;
            }
        }
    }

    /// Clears the line.
    pub fn clear(&mut self) {
        *self = Line::proposal("");
    }

    /// Whether it is still a proposal, which is shown as selected, and which typing replaces.
    pub fn is_proposal(&self) -> bool {
        self.proposed && !self.text.is_empty()
    }

    /// Moves the cursor, or deletes.
    pub fn edit(&mut self, code: Code) {
        let proposed = std::mem::take(&mut self.proposed);
        match code {
            Code::Backspace | Code::Delete if proposed => self.clear(),
            Code::Left => self.cursor = self.cursor.saturating_sub(1),
            Code::Right => self.cursor = (self.cursor + 1).min(self.text.len()),
            Code::Home => self.cursor = 0,
            Code::End => self.cursor = self.text.len(),
            Code::Backspace if self.cursor > 0 => {
                self.cursor -= 1;
                self.text.remove(self.cursor);
            }
            Code::Delete if self.cursor < self.text.len() => {
                self.text.remove(self.cursor);
            }
            _ => {}
        }
    }
}
