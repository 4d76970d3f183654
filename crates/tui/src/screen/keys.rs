//! The one place that decides who gets a key.
//!
//! In: an input and the time. The keys belong to whatever is on top. In piano mode the two
//! rows that play notes come first, and do nothing else; then the table of the keymap; what it does not know is typed, where
//! there is something to type into.

use super::{Effect, Overlay, Screen};
use crate::action::Action;
use crate::desk::{DeskState, LiveKey};
use crate::input::{Again, Code, Input, Key, Kind, Strokes};
use crate::keymap::{self, Scene};
use std::time::Duration;

impl Screen {
    /// Takes an input that came at `now`.
    pub fn take(&mut self, input: &Input, state: &DeskState, now: Duration, out: &mut Vec<Effect>) {
        self.version += 1;
        self.came = now;
        match input {
            Input::Key(key) => self.take_key(&self.as_known(key), state, now, out),
            Input::Paste(text) => match self.overlays.top_mut() {
                Some(Overlay::Form(form)) if !form.is_waiting => form.paste(text),
                Some(Overlay::Finder(finder)) => finder.paste(text),
                Some(Overlay::Files(pick)) => pick.paste(text),
                Some(Overlay::Help(page)) if page.is_typing() => page.paste(text, self.size),
                Some(Overlay::Form(_)) => {}
                _ => self.say("There is nothing here to paste into."),
            },
            Input::Releases => self.piano.releases = true,
            Input::CursorReply | Input::Background { .. } => {}
        }
        self.follow_notes(state);
        self.follow_preview(state);
        if !self.scene().plays_letters() {
            out.extend(self.piano.lift_all().into_iter().map(Effect::Play));
        }
    }

    /// The key without Shift, if it is an arrow that has no meaning of its own with it here.
    fn as_known(&self, key: &Key) -> Key {
        let is_known = self.keymap.here(self.scene()).any(|row| row.keys.contains(&key.chord()));
        Key { shift: key.shift && is_known, ..*key }
    }

    fn take_key(&mut self, key: &Key, state: &DeskState, now: Duration, out: &mut Vec<Effect>) {
        let scene = self.scene();
        if scene.plays_letters()
            && let Some(played) = self.piano.take(key, now)
        {
            for played in &played {
                if let LiveKey::Press { key, .. } = played {
                    self.settle_octave(state);
                    self.strike_in_keys_box(*key, out);
                }
            }
            return out.extend(played.into_iter().map(Effect::Play));
        }
        if key.kind == Kind::Release {
            return;
        }
        let again = self.again(key, now);
        let (repeated, action) = (again != Again::Press, self.action_of(key, state));
        if self.overlays.is_waiting() && !action.is_some_and(can_interrupt_a_save) {
            return;
        }
        let types = self.overlays.top().is_some_and(|open| open.types(key));
        if action.is_none() && !types {
            return self.explain_key(key, repeated);
        }
        self.clear_notice();
        self.again = again;
        self.edited &= again != Again::Press;
        match action {
            Some(action) if repeated && !(action.repeats() && self.applies(action, state)) => {}
            Some(action) => self.ask(action, state, out),
            None => self.type_key(key, state, out),
        }
    }

    /// The action that a key asks for: in the tour, if that has the key, else in the scene.
    pub(super) fn action_of(&self, key: &Key, state: &DeskState) -> Option<Action> {
        let scene = if self.tour_has(key) { Scene::Tour } else { self.scene() };
        self.keymap.find(scene, key, &self.facts(state))
    }

    /// Whether the key is pressed or repeated by the keyboard. If the terminal reports releases it says
    /// so itself.
    fn again(&mut self, key: &Key, now: Duration) -> Again {
        let chord = key.chord();
        let again = match &mut self.last_key {
            Some((last, strokes)) if *last == chord => strokes.again(now, self.repeat),
            other => {
                *other = Some((chord, Strokes::first(now)));
                Again::Press
            }
        };
        let reported = self.scene().plays_letters() && self.piano.releases;
        match (key.kind == Kind::Repeat, reported) {
            // No repeat was taken for a press.
            (true, _) => Again::Repeat,
            (false, true) => Again::Press,
            (false, false) => again,
        }
    }

    /// Says what is near a key that does nothing; once, however long it is held.
    fn explain_key(&mut self, key: &Key, repeated: bool) {
        if !repeated && let Some(words) = keymap::near(self.scene(), self.here(), key) {
            self.hint(&words);
        }
    }

    /// Types a key that the table does not know, if there is something to type into.
    fn type_key(&mut self, key: &Key, state: &DeskState, out: &mut Vec<Effect>) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => form.type_key(key),
            Some(Overlay::Sounds(pick)) => pick.type_key(key, out),
            Some(Overlay::Finder(finder)) => finder.type_key(key),
            Some(Overlay::Files(pick)) => {
                if let Some(parent) = pick.type_key(key) {
                    self.browse(Some(parent), out);
                }
            }
            Some(Overlay::Sections(_)) => {
                if let Code::Char(c) = key.code
                    && c.is_ascii_alphabetic()
                {
                    self.type_letter(c.to_ascii_uppercase(), state, out);
                }
            }
            Some(Overlay::Lanes(_)) => self.type_in_lanes(key),
            Some(Overlay::Feel(_)) => self.type_in_feel(key, out),
            Some(Overlay::Ramp(_)) => self.type_in_ramp(key, out),
            Some(Overlay::Help(page)) => page.type_key(key, self.size),
            None
            | Some(
                Overlay::Piano
                | Overlay::Comparison(_)
                | Overlay::SectionEdits(_)
                | Overlay::Key(_)
                | Overlay::Keys(_)
                | Overlay::Grooves(_)
                | Overlay::Notes(_)
                | Overlay::Question(_),
            ) => {}
        }
    }
}

/// Whether an action applies while a form waits for the end of a save. The others are ignored, so
/// that what is typed too early does nothing in the view.
fn can_interrupt_a_save(action: Action) -> bool {
    matches!(action, Action::Cancel | Action::Quit | Action::Suspend | Action::Redraw)
}
