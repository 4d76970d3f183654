//! The help: it opens at the part about what is on the screen, and explains the setting under the
//! cursor.

use super::{Overlay, Screen};
use crate::action::Move;
use crate::keymap::{Keymap, Scene};
use crate::manual::{self, About};

/// The open help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HelpPage {
    /// The first visible line, counted from 0.
    pub first: usize,
    /// The keys it tells of.
    pub keymap: Keymap,
    /// What was under the cursor, explained under the heading of its scene.
    pub about: Option<About>,
}

impl HelpPage {
    /// Opens at the part about a scene, on a terminal of so many columns and rows.
    fn new(scene: Scene, keymap: Keymap, about: Option<About>, size: (u16, u16)) -> HelpPage {
        let at = manual::line_of(scene, size.0, keymap, about.as_ref());
        let page = HelpPage { first: 0, keymap, about };
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
    pub(super) fn open_help(&mut self) {
        let page = HelpPage::new(self.scene(), self.keymap, self.under_cursor(), self.size);
        self.open(Overlay::Help(page));
    }

    /// The setting or line under the cursor, and what it is for.
    fn under_cursor(&self) -> Option<About> {
        let scene = self.scene();
        let about = |name: &str, sentence| Some(About { scene, name: name.to_string(), sentence });
        match self.overlays.top()? {
            Overlay::Form(form) => about(form.fields.get(form.focus)?.label, form.about_field()),
            Overlay::Feel(pick) => about(pick.field.name(), pick.field.sentence()),
            Overlay::Notes(menu) => {
                let rows = menu.rows();
                let row = rows.get(menu.at)?;
                about(row.label, row.sentence)
            }
            Overlay::Ramp(pick) => about(pick.field.name(), pick.field.sentence()),
            Overlay::Finder(finder) => {
                let entry = finder.chosen()?;
                about(&entry.key_words(self.keymap), entry.binding.sentence)
            }
            Overlay::Piano
            | Overlay::Files(_)
            | Overlay::Comparison(_)
            | Overlay::Sections(_)
            | Overlay::Sounds(_)
            | Overlay::Lanes(_)
            | Overlay::Question(_)
            | Overlay::Help(_) => None,
        }
    }
}
