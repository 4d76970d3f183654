//! The comparison of the song with its file: a list to read.

use super::{Overlay, Screen};
use crate::action::Move;

/// The differences, one sentence each, and how far they are scrolled.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Comparison {
    /// The sentences; one that says so if there is no difference.
    pub lines: Vec<String>,
    /// The first visible one.
    pub first: usize,
}

impl Comparison {
    /// How far a page goes.
    const PAGE: usize = 8;

    pub(super) fn go(&mut self, to: Move) {
        let last = self.lines.len().saturating_sub(1);
        self.first = to.along(self.first, Self::PAGE, last);
    }
}

impl Screen {
    /// Shows how the song differs from its file, over the question that asked for it.
    pub fn show_comparison(&mut self, differences: &[String]) {
        let lines = match differences.is_empty() {
            true => vec!["Both play the same: only settings or the layout differ.".to_string()],
            false => differences.iter().map(|one| crate::text::sentence(one)).collect(),
        };
        self.open(Overlay::Comparison(Comparison { lines, first: 0 }));
        self.version += 1;
    }
}
