//! The comparison of the song with its file: a list to read.

use super::{Overlay, Screen};
use crate::action::Move;
use crate::text;

/// The differences, and how far they are scrolled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// The lines of the sentences; one sentence that says so if there is no difference.
    pub lines: Vec<String>,
    /// The first visible one.
    pub first: usize,
}

impl Comparison {
    /// How far a page goes.
    const PAGE: usize = 8;
    /// The most columns of a line.
    pub const ROOM: u16 = 70;

    pub(super) fn go(&mut self, to: Move) {
        let last = self.lines.len().saturating_sub(1);
        self.first = to.along(self.first, Self::PAGE, last);
    }
}

/// A sentence in lines of so many columns; those after the first are indented.
fn hanging(sentence: &str, columns: usize) -> Vec<String> {
    let mut lines = text::wrap(sentence, columns.saturating_sub(2));
    lines.iter_mut().skip(1).for_each(|line| line.insert_str(0, "  "));
    lines
}

impl Screen {
    /// Shows how the song differs from its file, over the question that asked for it.
    pub fn show_comparison(&mut self, differences: &[String]) {
        let sentences = match differences.is_empty() {
            true => vec!["Both play the same: only settings or the layout differ.".to_string()],
            false => differences.iter().map(|one| text::sentence(one)).collect(),
        };
        // The frame takes two columns on each side.
        let room = usize::from(self.size.0.saturating_sub(4).min(Comparison::ROOM));
        let lines = sentences.iter().flat_map(|sentence| hanging(sentence, room)).collect();
        self.open(Overlay::Comparison(Comparison { lines, first: 0 }));
        self.version += 1;
    }
}
