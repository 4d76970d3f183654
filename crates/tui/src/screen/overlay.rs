//! What is open over the view: a stack, the last one opened on top.
//!
//! The one on top gets the keys. Piano mode, if it is on, is the lowest: it takes the letters that
//! play notes, and all other keys keep their meaning in the view.

use super::{
    Comparison, FeelPick, FilePick, Finder, GroovePick, HelpPage, KeyBox, KeysBox, KeysField,
    LanePick, NoteMenu, Question, RampField, RampPick, SectionMenu, SectionPick, SoundPick,
};
use crate::form::Form;
use crate::input::{Code, Key};
use crate::keymap::Scene;

/// Something open over the view.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Overlay {
    /// Two rows of letters play notes.
    Piano,
    /// A form to fill in.
    Form(Form),
    /// The feel of a track.
    Feel(FeelPick),
    /// The grooves of the song.
    Grooves(GroovePick),
    /// The choice of a section.
    Sections(SectionPick),
    /// The choice of a sound.
    Sounds(SoundPick),
    /// The list of what can be done to a section.
    SectionEdits(SectionMenu),
    /// Suggested keys, and parts with a compass.
    Key(KeyBox),
    /// What the keys of the armed track play.
    Keys(Box<KeysBox>),
    /// A list of what can be done with notes.
    Notes(NoteMenu),
    /// The choice of what the lane under the notes shows.
    Lanes(LanePick),
    /// A ramp that is being drawn.
    Ramp(Box<RampPick>),
    /// The finder of actions.
    Finder(Finder),
    /// The choice of a song.
    Files(FilePick),
    /// The comparison of the song with its file.
    Comparison(Comparison),
    /// A question.
    Question(Question),
    /// The help.
    Help(HelpPage),
}

impl Overlay {
    /// The scene that gets the keys while this is on top.
    pub fn scene(&self) -> Scene {
        match self {
            Overlay::Piano => Scene::Piano,
            Overlay::Form(_) => Scene::Form,
            Overlay::Feel(_) => Scene::Feel,
            Overlay::Grooves(_) => Scene::Grooves,
            Overlay::Sections(_) => Scene::Sections,
            Overlay::Sounds(_) => Scene::Sounds,
            Overlay::SectionEdits(_) => Scene::SectionEdits,
            Overlay::Key(_) => Scene::KeyBox,
            Overlay::Keys(_) => Scene::KeysBox,
            Overlay::Notes(menu) => menu.scene(),
            Overlay::Lanes(_) => Scene::Lanes,
            Overlay::Ramp(_) => Scene::Ramp,
            Overlay::Finder(_) => Scene::Finder,
            Overlay::Files(_) => Scene::Files,
            Overlay::Comparison(_) => Scene::Comparison,
            Overlay::Question(question) => question.scene(),
            Overlay::Help(page) if page.is_typing() => Scene::HelpSearch,
            Overlay::Help(_) => Scene::Help,
        }
    }
}

impl Overlay {
    /// Whether a key types or edits something here.
    pub fn types(&self, key: &Key) -> bool {
        if key.ctrl || key.alt {
            return false;
        }
        match self {
            Overlay::Help(page) if !page.is_typing() => false,
            Overlay::Form(_) | Overlay::Finder(_) | Overlay::Files(_) | Overlay::Help(_) => {
                matches!(
                    key.code,
                    Code::Char(_)
                        | Code::Backspace
                        | Code::Delete
                        | Code::Left
                        | Code::Right
                        | Code::Home
                        | Code::End
                )
            }
            Overlay::Sounds(_) => matches!(key.code, Code::Char(_) | Code::Backspace),
            Overlay::Sections(_) => {
                matches!(key.code, Code::Char(c) if c.is_ascii_alphabetic())
            }
            Overlay::Lanes(_) => {
                matches!(key.code, Code::Char(c) if c.is_ascii_digit() || c.is_ascii_lowercase())
            }
            Overlay::Feel(pick) => pick.types(key),
            Overlay::Ramp(_) => matches!(key.code, Code::Char('0'..='9' | '-') | Code::Backspace),
            Overlay::Piano
            | Overlay::Comparison(_)
            | Overlay::SectionEdits(_)
            | Overlay::Key(_)
            | Overlay::Keys(_)
            | Overlay::Grooves(_)
            | Overlay::Notes(_)
            | Overlay::Question(_) => false,
        }
    }
}

/// What is open, from the lowest to the one on top.
#[derive(Debug, Clone, Default)]
pub struct Overlays(Vec<Overlay>);

impl Overlays {
    /// Opens something on top. A question takes the place of one that is already open.
    pub fn open(&mut self, overlay: Overlay) {
        if matches!(overlay, Overlay::Question(_)) {
            self.0.retain(|open| !matches!(open, Overlay::Question(_)));
        }
        self.0.push(overlay);
    }

    /// Closes the one on top.
    pub fn close(&mut self) -> Option<Overlay> {
        self.0.pop()
    }

    /// Ends piano mode, whatever is open over it.
    pub fn remove_piano(&mut self) {
        self.0.retain(|open| *open != Overlay::Piano);
    }

    /// Closes everything but piano mode.
    pub fn close_all(&mut self) {
        self.0.retain(|open| *open == Overlay::Piano);
    }

    /// The one on top.
    pub fn top(&self) -> Option<&Overlay> {
        self.0.last()
    }

    /// The one on top, to be changed.
    pub fn top_mut(&mut self) -> Option<&mut Overlay> {
        self.0.last_mut()
    }

    /// All of them, from the lowest to the one on top.
    pub fn iter(&self) -> std::slice::Iter<'_, Overlay> {
        self.0.iter()
    }

    /// The form that stays open until a save has ended, if there is one.
    pub fn waiting_form(&mut self) -> Option<&mut Form> {
        self.0.iter_mut().find_map(|open| match open {
            Overlay::Form(form) if form.is_waiting => Some(form),
            _ => None,
        })
    }

    /// Closes the form that waits for the end of a save, and returns it.
    pub fn close_waiting_form(&mut self) -> Option<Form> {
        let mut form = self.waiting_form()?.clone();
        self.0.retain(|open| !matches!(open, Overlay::Form(form) if form.is_waiting));
        form.is_waiting = false;
        Some(form)
    }

    /// Closes the question about an export, if it is open; returns whether it was.
    pub fn close_question_about_export(&mut self) -> bool {
        let before = self.0.len();
        self.0.retain(|open| !matches!(open, Overlay::Question(Question::Export(_))));
        self.0.len() < before
    }

    /// The box for what keys play, if it is open.
    pub fn keys_mut(&mut self) -> Option<&mut KeysBox> {
        self.0.iter_mut().find_map(|open| match open {
            Overlay::Keys(open) => Some(&mut **open),
            _ => None,
        })
    }

    /// Closes the box for what keys play, and what is open over it.
    pub fn close_keys(&mut self) {
        if let Some(at) = self.0.iter().position(|open| matches!(open, Overlay::Keys(_))) {
            self.0.truncate(at);
        }
    }

    /// The choice of a song, if it is open.
    pub fn files_mut(&mut self) -> Option<&mut FilePick> {
        self.0.iter_mut().find_map(|open| match open {
            Overlay::Files(pick) => Some(pick),
            _ => None,
        })
    }

    /// Closes the choice of a song.
    pub fn close_files(&mut self) {
        self.0.retain(|open| !matches!(open, Overlay::Files(_)));
    }

    /// Whether a form that waits for the end of a save is on top.
    pub fn is_waiting(&self) -> bool {
        matches!(self.top(), Some(Overlay::Form(form)) if form.is_waiting)
    }

    /// How many fields or settings the box on top has; 0 if none is.
    pub fn fields(&self) -> usize {
        match self.top() {
            Some(Overlay::Form(form)) => form.fields.len(),
            Some(Overlay::Feel(pick)) => pick.fields().len(),
            Some(Overlay::Ramp(_)) => RampField::ALL.len(),
            Some(Overlay::Keys(_)) => KeysField::ALL.len(),
            _ => 0,
        }
    }

    /// Whether piano mode is on, whatever is open over it.
    pub fn has_piano(&self) -> bool {
        self.0.contains(&Overlay::Piano)
    }
}
