//! The finder: type what you want to do, and it is done.
//!
//! An action of another view shows that view first, and one for another track chooses that first; one that
//! does not apply says why, and the finder stays open.

mod fields;

use super::{Effect, Overlay, Screen};
use crate::action::{Action, Move, NoteAction, Picking};
use crate::desk::DeskState;
use crate::form::Line;
use crate::input::{Code, Key};
use crate::keymap::{Entry, Facts, Found, Here, Part, Place, look_up};
use crate::screen::View;
use chaconne_song::TrackId;

/// What is typed into the finder, and which of the actions found is chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finder {
    /// What is typed.
    pub line: Line,
    /// What was found.
    pub found: Found,
    /// The chosen one of the actions found.
    pub at: usize,
    /// Where it was opened.
    here: Here,
    /// The tracks that can be named.
    parts: Vec<Part>,
    /// What is listed while nothing is typed: what could be done when it was opened.
    idle: Vec<Entry>,
}

impl Finder {
    /// How far a page goes.
    const PAGE: usize = 8;

    /// Opens with every action that can be done now, those of the place it is opened at first.
    pub fn new(here: Here, parts: Vec<Part>, can: impl Fn(&Entry) -> bool) -> Finder {
        let mut idle = look_up("", here, &parts).entries;
        idle.retain(can);
        let found = Found { entries: idle.clone(), ..Found::default() };
        Finder { line: Line::whole(""), found, at: 0, here, parts, idle }
    }

    /// The chosen action, if any fits.
    pub fn chosen(&self) -> Option<Entry> {
        self.found.entries.get(self.at).copied()
    }

    /// The track that was named, if an action is about a track and another one is chosen.
    pub fn aim(&self, entry: &Entry) -> Option<&Part> {
        let named = self.found.typed.track.filter(|_| entry.is_about_a_track())?;
        self.parts.iter().find(|part| part.id == named && !part.is_chosen)
    }

    fn search(&mut self) {
        let typed = self.line.text();
        self.found = match typed.trim().is_empty() {
            true => Found { entries: self.idle.clone(), ..Found::default() },
            false => look_up(&typed, self.here, &self.parts),
        };
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
        let last = self.found.entries.len().saturating_sub(1);
        self.at = to.along(self.at, Self::PAGE, last);
    }
}

impl Screen {
    /// Where the player is, under what is open.
    pub fn here(&self) -> Here {
        let (piano, arrows) = (self.overlays.has_piano(), self.notes.arrows);
        Here { view: self.view, piano, arrows, keymap: self.keymap }
    }

    pub(super) fn open_finder(&mut self, state: &DeskState) {
        let part = |track: &std::sync::Arc<chaconne_song::Track>| Part {
            id: track.id,
            name: track.name.to_lowercase(),
            is_drums: !track.pitched,
            is_chosen: Some(track.id) == self.chosen,
        };
        let parts = state.status.song.tracks.iter().map(part).collect();
        let can = |entry: &Entry| self.hindrance(entry, None, state).is_none();
        self.open(Overlay::Finder(Finder::new(self.here(), parts, can)));
    }

    /// Why an action found cannot be done now, with a track if one is chosen first; `None` if it can.
    pub fn hindrance(
        &self,
        entry: &Entry,
        track: Option<TrackId>,
        state: &DeskState,
    ) -> Option<String> {
        let facts = self.facts(state);
        let facts = Facts { chosen: track.or(facts.chosen), ..facts };
        entry
            .needs()
            .find(|&need| !facts.meet(need))
            .map(|need| self.with_keys(facts.missing(need)))
    }

    /// Does what is chosen, where it belongs.
    pub(super) fn confirm_finder(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Finder(finder)) = self.overlays.top() else { return };
        let Some(entry) = finder.chosen() else {
            return match finder.found.topic {
                Some(topic) => self.say_with_keys(topic.says),
                None => {
                    self.say("Nothing here does that: try another word for what you want to do.")
                }
            };
        };
        let track = finder.aim(&entry).map(|part| part.id);
        if let Some(why) = self.hindrance(&entry, track, state) {
            return self.say(&why);
        }
        let words = finder.found.typed.words.clone();
        self.overlays.close();
        if let Some(track) = track {
            self.choose_track(track, state, out);
        }
        self.go_where(entry, state);
        if entry.binding.action == Action::Note(NoteAction::Pick(Picking::Pitch)) {
            self.go_to_drum(&words, state);
        }
        self.ask(entry.binding.action, state, out);
        self.go_to_field(&words);
        if self.notes.ramp_from.is_some() {
            self.notes.ramp_way = fields::way(&words);
        }
    }

    /// Goes where an action belongs, and lets the arrows in the notes do what it needs. That ends piano
    /// mode, which has the arrows for itself.
    fn go_where(&mut self, entry: Entry, state: &DeskState) {
        match entry.place {
            Place::Here | Place::OutsidePiano => {}
            Place::View(view) => self.go_to(view),
            Place::List(_) => self.go_to(View::Notes),
            Place::SectionList => self.go_to(View::Form),
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
