//! Songs that the desk reads in its own time: one to open, a rescue copy, or the song's file to compare it
//! with. Meanwhile the screen goes on.

use super::{Effect, Overlay, Question, RESTORED, Screen};
use crate::desk::{DeskState, SongRead, SongRequest};

/// A request that has no answer yet.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct SongsAsked {
    /// The number of the last request.
    number: u64,
    /// Whether it has no answer yet.
    waits: bool,
    /// Whether it is the song's own file that is loaded, in place of what is here.
    reloads: bool,
}

impl Screen {
    /// Asks for the song's own file, in place of what is here.
    pub(super) fn reload_song(&mut self, path: String, out: &mut Vec<Effect>) {
        self.read_song(SongRequest::Open(path), out);
        self.asked.reloads = true;
    }

    /// Asks for a song.
    pub(super) fn read_song(&mut self, request: SongRequest, out: &mut Vec<Effect>) {
        match &request {
            SongRequest::Open(path) => self.say(&format!("Opening {path}.")),
            SongRequest::Restore => self.say("Restoring the unsaved changes."),
            SongRequest::Compare => {}
        }
        self.asked.number += 1;
        (self.asked.waits, self.asked.reloads) = (true, false);
        out.push(Effect::Read { number: self.asked.number, request });
    }

    /// Shows what came of the song that was asked for. An answer that nobody waits for any more is
    /// left alone.
    pub(super) fn follow_song(&mut self, state: &DeskState) {
        let Some(answer) = &state.read else { return };
        if !self.asked.waits || answer.number != self.asked.number {
            return;
        }
        self.asked.waits = false;
        match &answer.done {
            Ok(SongRead::Opened) => match &state.disk.path {
                Some(path) if self.asked.reloads => {
                    self.say(&format!("Loaded {path}: undo starts afresh from here."));
                }
                Some(path) => self.say(&format!("Opened {path}.")),
                None => self.clear_notice(),
            },
            Ok(SongRead::Restored) => self.say(RESTORED),
            Ok(SongRead::Compared(differences)) => {
                // Unless the question that asked for it has been answered.
                if let Some(Overlay::Question(Question::Replace { own: true, .. })) =
                    self.overlays.top()
                {
                    self.show_comparison(differences);
                }
            }
            Err(error) => self.complain(error),
        }
    }
}
