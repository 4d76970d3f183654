//! The help: it opens at the part about what is on the screen, explains what is under the cursor, and can
//! be searched.

mod about;
mod search;

use super::{Overlay, Screen};
use crate::action::{Arrows, Move};
use crate::desk::DeskState;
use crate::keymap::{Keymap, Scene};
use crate::manual::{self, About, Part};

pub use search::HelpSearch;

/// The open help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HelpPage {
    /// The first visible line, counted from 0.
    pub first: usize,
    /// The keys it tells of.
    pub keymap: Keymap,
    /// What was under the cursor, explained under the heading of its part.
    pub about: Option<About>,
    /// What is searched for, if something is.
    pub search: Option<HelpSearch>,
}

impl HelpPage {
    /// Opens at a part, on a terminal of so many columns and rows.
    fn new(part: Part, keymap: Keymap, about: Option<About>, size: (u16, u16)) -> HelpPage {
        let at = manual::line_of(part, size.0, keymap, about.as_ref());
        let page = HelpPage { first: 0, keymap, about, search: None };
        HelpPage { first: at.min(page.last(size)), ..page }
    }

    /// The first line of the last page.
    fn last(&self, (columns, rows): (u16, u16)) -> usize {
        let lines = manual::help(columns, self.keymap, self.about.as_ref());
        lines.len().saturating_sub(manual::page(rows))
    }

    /// Scrolls, no further than the end.
    pub(super) fn scroll(&mut self, to: Move, size: (u16, u16)) {
        let (page, last) = (manual::page(size.1), self.last(size));
        let at = self.first.min(last);
        self.first = to.along(at, page, last);
    }
}

impl Screen {
    /// Opens the help at what is on the screen.
    pub(super) fn open_help(&mut self, state: &DeskState) {
        let about = self.under_cursor(state);
        let page = HelpPage::new(self.part(), self.keymap, about, self.size);
        self.open(Overlay::Help(page));
    }

    /// The part of the help about what is on the screen.
    fn part(&self) -> Part {
        match self.scene() {
            Scene::Notes if self.notes.arrows == Arrows::Lane => Part::Lane,
            scene => Part::Of(scene),
        }
    }
}
