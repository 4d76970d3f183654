//! The levels of the chosen track: volume and pan. What the screen knows may be a moment old, so the
//! engine steps from the value it has.

use super::{Awaited, Effect, Screen};
use crate::action::{LevelAction, Side, Vertical};
use crate::desk::DeskState;
use chaconne_engine::{Command, Status};
use chaconne_song::{Commit, Edit, Label, TrackEdit};

/// The steps of one press, out of 127.
const STEP: i8 = 2;

impl Screen {
    pub(super) fn act_on_levels(
        &mut self,
        action: LevelAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let Some(track) = self.chosen else { return };
        let command = match action {
            LevelAction::Volume(Vertical::Up) => Command::StepVolume(track, STEP),
            LevelAction::Volume(Vertical::Down) => Command::StepVolume(track, -STEP),
            LevelAction::Pan(Side::Left) => Command::StepPan(track, -STEP),
            LevelAction::Pan(Side::Right) => Command::StepPan(track, STEP),
            LevelAction::Clear => {
                let edits = [TrackEdit::Volume(None), TrackEdit::Pan(None)];
                let edits = edits.into_iter().map(|edit| Edit::Track(track, edit)).collect();
                Command::Edit(Commit::new(Label::Levels, edits))
            }
        };
        out.push(Effect::Command(command));
        self.awaited = self.beside_the_take(action, &state.status);
    }

    /// What to say of a step that is not one of the moves of the take, because another track is recorded.
    fn beside_the_take(&self, action: LevelAction, status: &Status) -> Option<Awaited> {
        let what = match action {
            LevelAction::Volume(_) => "volume",
            LevelAction::Pan(_) => "pan",
            LevelAction::Clear => return None,
        };
        let track = self.chosen.filter(|_| status.recording && self.chosen != status.armed)?;
        Some(Awaited::Beside(track, what))
    }
}
