//! Leaving a song: to quit, or for a new one. Nothing unsaved is given up unasked.
//!
//! Saving first means: stop, so that the unfinished round becomes a pass; then save; then go on,
//! once the desk says that the save went well.

use super::{Effect, Screen};
use crate::desk::View;
use crate::form::Form;
use crate::keymap::{Action, Need};
use chaconne_engine::Command;

/// Where to go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// Out of the program.
    Quit,
    /// To a new song.
    NewSong,
}

/// A question whether to go on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ask {
    /// Where to.
    pub next: Next,
}

/// A way out that waits for something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Leaving {
    next: Next,
    stage: Stage,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    /// For the transport to stop.
    Stopping,
    /// For the name of the file.
    Naming,
    /// For the save to end; how many had ended before.
    Saving { attempts: u64 },
}

impl Screen {
    /// Saves, or asks where to.
    pub(super) fn save(&mut self, view: &View, out: &mut Vec<Effect>) {
        if view.disk.path.is_some() {
            self.save_to(None, view, out);
        } else {
            self.form = Some(Form::save_as(&view.status.song.title));
            if let Some(leaving) = &mut self.leaving {
                leaving.stage = Stage::Naming;
            }
        }
    }

    pub(super) fn save_to(&mut self, file: Option<String>, view: &View, out: &mut Vec<Effect>) {
        if let Some(leaving) = &mut self.leaving {
            leaving.stage = Stage::Saving { attempts: view.disk.attempts };
        }
        self.say("Saving.");
        out.push(Effect::Save(file));
    }

    /// Takes the answer to the question.
    pub(super) fn answer(&mut self, action: Action, view: &View, out: &mut Vec<Effect>) {
        let Some(ask) = self.ask.take() else { return };
        if action == Action::Discard {
            self.leaving = None;
            return self.go(ask.next, out);
        }
        self.leaving = Some(Leaving { next: ask.next, stage: Stage::Stopping });
        if self.facts(view).meet(Need::Moving) {
            out.push(Effect::Command(Command::Stop));
        }
        // Where it is stopped already, the next look at the desk goes on from here.
    }

    /// Forgets about leaving.
    pub(super) fn stay(&mut self) {
        self.ask = None;
        self.leaving = None;
    }

    pub(super) fn go(&mut self, next: Next, out: &mut Vec<Effect>) {
        match next {
            Next::Quit => out.push(Effect::Quit),
            Next::NewSong => self.form = Some(Form::new_song()),
        }
    }

    pub(super) fn follow_leaving(&mut self, view: &View, out: &mut Vec<Effect>) {
        let Some(leaving) = self.leaving else { return };
        match leaving.stage {
            Stage::Stopping if self.facts(view).meet(Need::Stopped) => self.save(view, out),
            Stage::Saving { attempts } if view.disk.attempts > attempts => {
                self.leaving = None;
                if view.disk.error.is_none() {
                    self.go(leaving.next, out);
                }
            }
            Stage::Stopping | Stage::Naming | Stage::Saving { .. } => {}
        }
    }
}
