//! Exports: what is asked for, what is in the way, and how they end.

use super::{Effect, Overlay, Question, Screen};
use crate::desk::{DeskState, ExportOutcome, ExportSpec};
use crate::form::Form;

impl Screen {
    /// Asks what to export; while an export runs, whether to cancel it.
    pub(super) fn ask_to_export(&mut self, state: &DeskState) {
        self.open(match &state.export.running {
            Some(run) => Overlay::Question(Question::Export(run.file.clone())),
            None => {
                let (path, song) = (state.disk.path.as_deref(), &state.status.song);
                Overlay::Form(Form::export(path, song))
            }
        });
    }

    /// Begins an export.
    pub(super) fn export(&mut self, spec: ExportSpec, out: &mut Vec<Effect>) {
        self.say(&format!("Exporting {}.", spec.file));
        self.exporting = Some(spec.clone());
        out.push(Effect::Export(spec));
    }

    /// Reports an export that has ended; asks if a file is in the way.
    pub(super) fn follow_export(&mut self, state: &DeskState) {
        let export = &state.export;
        if export.running.is_none() {
            self.version += u64::from(self.overlays.close_question_about_export());
        }
        if export.ended == self.seen.exports {
            return;
        }
        self.seen.exports = export.ended;
        match &export.outcome {
            ExportOutcome::Nothing => self.say("Export cancelled: no file was written."),
            ExportOutcome::Written(words) => self.say(words),
            ExportOutcome::Failed(error) => self.complain(error),
            ExportOutcome::InTheWay(why) => {
                let why = crate::text::sentence(why);
                self.clear_notice();
                if let Some(spec) = self.exporting.take() {
                    self.open(Overlay::Question(Question::ReplaceExport { spec, why }));
                }
            }
        }
    }
}
