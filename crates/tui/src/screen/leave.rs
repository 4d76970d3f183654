//! Saving, and leaving a song: to quit, or for a new one. Asks before unsaved changes are lost and
//! before a file of another program is replaced, and offers a rescue copy.
//!
//! Saving first means: stop, so that the unfinished round becomes a pass; then save; then go on,
//! once the desk says that the save went well.

use super::{Effect, Overlay, Screen};
use crate::action::Answer;
use crate::desk::{DeskState, ExportSpec, OwnSave, SongRequest};
use crate::form::{Form, UNTITLED};
use crate::keymap::{Need, Scene};
use chaconne_engine::Command;
use chaconne_song::{Commit, Edit};

/// What comes after leaving.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Next {
    /// Out of the program.
    Quit,
    /// To a new song.
    NewSong,
    /// To the song in this file.
    Open(String),
}

/// A question that is open.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Question {
    /// Leave the song?
    Leave(Next),
    /// Replace a file that this program did not write?
    Replace {
        /// The file; `None` for the song's own.
        file: Option<String>,
        /// Whether it is the song's own file, which another program has changed.
        own: bool,
        /// What is in the way, in one sentence.
        why: String,
        /// The form in which the file was just named, if it was: Escape returns to it.
        form: Option<Box<Form>>,
    },
    /// Replace a file that an export would replace?
    ReplaceExport {
        /// The export.
        spec: ExportSpec,
        /// What is in the way, in one sentence.
        why: String,
    },
    /// Cancel the export to this file?
    Export(String),
    /// What to do with the rescue copy: its file, and how old it is.
    Rescue(String),
}

impl Question {
    /// The scene that has the keys while it is open.
    pub fn scene(&self) -> Scene {
        match self {
            Question::Leave(_) => Scene::Leave,
            Question::Replace { own: true, .. } => Scene::Changed,
            Question::Replace { .. } | Question::ReplaceExport { .. } => Scene::Replace,
            Question::Export(_) => Scene::Exporting,
            Question::Rescue(_) => Scene::Rescue,
        }
    }
}

/// A save that was asked for.
#[derive(Debug, Clone, Default)]
pub(super) struct Saving {
    /// The file; `None` for the song's own.
    pub file: Option<String>,
    /// The song's file before.
    pub before: Option<String>,
}

/// A way out that waits for something.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Leaving {
    next: Next,
    stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// For the transport to stop.
    Stopping,
    /// For the name of the file, or for permission to replace one.
    Asking,
    /// For the save to end; `attempts` is how many had ended before.
    Saving { attempts: u64 },
}

impl Screen {
    /// Saves, or asks where to.
    pub(super) fn save(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        if state.disk.path.is_none() || state.disk.rescue.is_some() {
            return self.save_as(state);
        }
        self.saving = Saving::default();
        self.save_now(false, state, out);
    }

    /// Asks where to save.
    pub(super) fn save_as(&mut self, state: &DeskState) {
        if let Some(copy) = &state.disk.rescue {
            // A save makes the copy the older one: this is the last moment to decide about it.
            self.leaving = None;
            self.overlays.open(Overlay::Question(Question::Rescue(copy.clone())));
            return;
        }
        self.overlays.open(Overlay::Form(match &state.disk.path {
            Some(path) => Form::save_beside(path),
            None => Form::save_as(&state.status.song.title),
        }));
        self.wait_for_answer();
    }

    /// Asks for the save that is in [`Screen::saving`]. Without `replace` only over what this program
    /// wrote itself.
    pub(super) fn save_now(&mut self, replace: bool, state: &DeskState, out: &mut Vec<Effect>) {
        if let Some(leaving) = &mut self.leaving {
            leaving.stage = Stage::Saving { attempts: state.disk.attempts };
        }
        self.saving.before.clone_from(&state.disk.path);
        self.say("Saving the song.");
        out.push(Effect::Save { file: self.saving.file.clone(), replace });
    }

    /// Gives a song that has no title of its own that of the file it is about to be saved to.
    pub(super) fn give_title(&mut self, file: &str, state: &DeskState, out: &mut Vec<Effect>) {
        let title = state.status.song.title.as_str();
        let is_given = self.given_title.as_deref() == Some(title);
        let name = file.rsplit(['/', '\\']).next().unwrap_or(file);
        let name = name.strip_suffix(".ron").unwrap_or(name).trim();
        if (title == UNTITLED || is_given) && !name.is_empty() && name != title {
            self.given_title = Some(name.to_string());
            let edit = Edit::Title(name.to_string());
            out.push(Effect::Command(Command::Edit(Commit::of(edit))));
        }
    }

    fn wait_for_answer(&mut self) {
        if let Some(leaving) = &mut self.leaving {
            leaving.stage = Stage::Asking;
        }
    }

    /// Takes the answer to the question on top.
    pub(super) fn answer(&mut self, answer: Answer, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Question(_)) = self.overlays.top() else { return };
        let Some(Overlay::Question(question)) = self.overlays.close() else { return };
        match (question, answer) {
            (Question::Leave(next), Answer::DontSave | Answer::Leave) => {
                self.leaving = None;
                self.go(next, out);
            }
            (Question::Leave(next), Answer::Save) => {
                // If it is stopped already, the next look at the desk goes on from here.
                self.leaving = Some(Leaving { next, stage: Stage::Stopping });
                if self.facts(state).meet(Need::Moving) {
                    out.push(Effect::Command(Command::Stop));
                }
            }
            (Question::Replace { file, form, .. }, Answer::Replace) => {
                if let Some(mut form) = form {
                    form.is_waiting = true;
                    self.overlays.open(Overlay::Form(*form));
                }
                self.saving = Saving { file, before: None };
                self.save_now(true, state, out);
            }
            (Question::Replace { own: true, .. }, Answer::Reload) => {
                // What was to come after the save would lose what was not saved.
                self.leaving = None;
                if let Some(path) = state.disk.path.clone() {
                    self.reload_song(path, out);
                }
            }
            (Question::Replace { own: true, .. }, Answer::SaveAs) => self.save_as(state),
            (question @ Question::Replace { own: true, .. }, Answer::Compare) => {
                self.overlays.open(Overlay::Question(question));
                self.read_song(SongRequest::Compare, out);
            }
            (Question::ReplaceExport { spec, .. }, Answer::Replace) => {
                self.export(ExportSpec { replace: true, ..spec }, out);
            }
            (Question::Export(_), Answer::CancelExport) => out.push(Effect::CancelExport),
            (Question::Rescue(_), Answer::Restore) => self.read_song(SongRequest::Restore, out),
            (Question::Rescue(_), Answer::Remove) => {
                self.say("Rescue copy deleted: the song is as you see it.");
                out.push(Effect::RemoveRescue);
            }
            // Not among the answers to this question.
            (question, _) => self.overlays.open(Overlay::Question(question)),
        }
    }

    /// Asks before a song is left that plays or has unsaved changes.
    pub(super) fn leave_for(&mut self, next: Next, state: &DeskState, out: &mut Vec<Effect>) {
        let facts = self.facts(state);
        let is_busy = facts.meet(Need::Moving) || state.export.running.is_some();
        // An empty song for a file that does not exist counts as unsaved, but nothing in it can be lost.
        let is_untouched = !state.disk.exists
            && state.disk.rescue.is_none()
            && state.status.undo.is_none()
            && state.status.song.tracks.is_empty();
        let is_lost = facts.meet(Need::Unsaved) && !is_untouched;
        if is_lost || (next == Next::Quit && is_busy) {
            self.overlays.open(Overlay::Question(Question::Leave(next)));
        } else {
            self.go(next, out);
        }
    }

    fn go(&mut self, next: Next, out: &mut Vec<Effect>) {
        self.end_wait(out);
        self.overlays.close_all();
        match next {
            Next::Quit => out.push(Effect::Quit),
            Next::NewSong => self.overlays.open(Overlay::Form(Form::new_song())),
            Next::Open(path) => self.read_song(SongRequest::Open(path), out),
        }
    }

    /// Offers a rescue copy, once.
    pub(super) fn follow_rescue(&mut self, state: &DeskState) {
        if state.disk.rescue == self.seen.rescue {
            return;
        }
        self.seen.rescue.clone_from(&state.disk.rescue);
        if let Some(copy) = &state.disk.rescue {
            self.overlays.open(Overlay::Question(Question::Rescue(copy.clone())));
            self.version += 1;
        }
    }

    /// Reports a save that has ended; asks if a file is in the way. The form in which the file was
    /// named stays open with the error, so that the next letters correct the name.
    pub(super) fn follow_save(&mut self, state: &DeskState) {
        if state.disk.attempts == self.seen.attempts {
            return;
        }
        self.seen.attempts = state.disk.attempts;
        let (disk, Saving { file, before }) = (&state.disk, std::mem::take(&mut self.saving));
        match (&disk.in_the_way, &disk.error, &disk.path) {
            (Some(why), ..) => {
                let why = crate::text::sentence(why);
                self.clear_notice();
                let form = self.overlays.close_waiting_form().map(Box::new);
                let own = file.is_none() && disk.own == OwnSave::Waits;
                self.overlays.open(Overlay::Question(Question::Replace { file, own, why, form }));
                self.wait_for_answer();
            }
            (None, Some(error), _) => match self.overlays.waiting_form() {
                Some(form) => {
                    (form.is_waiting, form.error) = (false, Some(crate::text::sentence(error)));
                    self.say("Not saved.");
                    self.wait_for_answer();
                }
                None => self.complain(error),
            },
            (None, None, path) => {
                self.overlays.close_waiting_form();
                match (path, before) {
                    (Some(path), Some(before)) if *path != before => self.say(&format!(
                        "Saved to {path}: later saves go there, too; {before} stays as it was."
                    )),
                    (Some(path), _) => self.say(&format!("Saved to {path}.")),
                    (None, _) => self.say("Saved the song."),
                }
            }
        }
    }

    /// Continues to leave once what it waited for has happened.
    pub(super) fn follow_leaving(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(leaving) = self.leaving.clone() else { return };
        match leaving.stage {
            Stage::Stopping if self.facts(state).meet(Need::Stopped) => self.save(state, out),
            Stage::Saving { attempts } if state.disk.attempts > attempts => {
                self.leaving = None;
                if state.disk.error.is_none() {
                    self.go(leaving.next, out);
                }
            }
            Stage::Stopping | Stage::Asking | Stage::Saving { .. } => {}
        }
    }
}
