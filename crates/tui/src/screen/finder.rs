//! The finder: type what you want to do, and it is done.
//!
//! An action of another view shows that view first; one that does not apply says why, and the finder
//! stays open.

use super::{Effect, Overlay, Screen};
use crate::action::{Action, Move};
use crate::desk::DeskState;
use crate::form::Line;
use crate::input::{Code, Key};
use crate::keymap::{Entry, Here, Place, search};
use crate::screen::View;

/// What is typed into the finder, and which of the actions found is chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finder {
    /// What is typed.
    pub line: Line,
    /// The actions found, the best first.
    pub found: Vec<Entry>,
    /// The chosen one of them.
    pub at: usize,
    /// Where it was opened.
    here: Here,
}

impl Finder {
    /// How far a page goes.
    const PAGE: usize = 8;

    /// Opens with every action, those of the place it is opened at first.
    pub fn new(here: Here) -> Finder {
        Finder { line: Line::whole(""), found: search("", here), at: 0, here }
    }

    /// The chosen action, if any fits.
    pub fn chosen(&self) -> Option<Entry> {
        self.found.get(self.at).copied()
    }

    fn search(&mut self) {
        self.found = search(&self.line.text(), self.here);
        self.at = 0;
    }

    pub(super) fn type_key(&mut self, key: &Key) {
        match key.code {
            _ if key.ctrl || key.alt => {}
            // The key that opened the finder, held too long.
            Code::Char('/') if self.line.text().is_empty() => {}
            Code::Char(c) => self.paste(c.encode_utf8(&mut [0; 4])),
            code => {
                self.line.edit(code);
                self.search();
            }
        }
    }

    pub(super) fn paste(&mut self, text: &str) {
        self.line.insert(text);
        self.search();
    }

    pub(super) fn clear(&mut self) {
        self.line.clear();
        self.search();
    }

    pub(super) fn go(&mut self, to: Move) {
        let last = self.found.len().saturating_sub(1);
        self.at = to.along(self.at, Self::PAGE, last);
    }
}

impl Screen {
    /// Where the player is, under what is open.
    pub fn here(&self) -> Here {
        let (piano, arrows) = (self.overlays.has_piano(), self.notes.arrows);
        Here { view: self.view, piano, arrows, keymap: self.keymap }
    }

    /// Why an action found cannot be done now; `None` if it can.
    pub fn hindrance(&self, entry: &Entry, state: &DeskState) -> Option<String> {
        let facts = self.facts(state);
        entry
            .needs()
            .find(|&need| !facts.meet(need))
            .map(|need| self.with_keys(facts.missing(need)))
    }

    /// Does what is chosen, where it belongs.
    pub(super) fn confirm_finder(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Finder(finder)) = self.overlays.top() else { return };
        let Some(entry) = finder.chosen() else {
            return self.say("No action matches: type another word for what you want to do.");
        };
        if let Some(why) = self.hindrance(&entry, state) {
            return self.say(&why);
        }
        self.overlays.close();
        self.go_where(entry, state);
        self.ask(entry.binding.action, state, out);
    }

    /// Goes where an action belongs, and lets the arrows in the notes do what it needs. That ends piano
    /// mode, which has the arrows for itself.
    fn go_where(&mut self, entry: Entry, state: &DeskState) {
        match entry.place {
            Place::Here | Place::OutsidePiano => {}
            Place::View(view) => self.go_to(view),
            Place::List(_) => self.go_to(View::Notes),
            Place::Piano => self.turn_piano(true),
        }
        if matches!(entry.binding.action, Action::Note(_)) {
            self.turn_piano(false);
            self.follow_notes(state);
        }
        if let Some(arrows) = entry.turns {
            self.set_arrows(arrows);
        }
    }
}
