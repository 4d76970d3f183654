//! Leading the form while it plays, by keys of the view of the form and by the choice of where to go.

use super::{Effect, Screen};
use crate::action::{LeadAction, Vertical};
use chaconne_engine::{Command, KeyOf, NewKey, Setting, When};

impl Screen {
    pub(super) fn lead(&mut self, action: LeadAction, out: &mut Vec<Effect>) {
        let command = match action {
            LeadAction::KeyWhen => return self.step_when_of_key(),
            LeadAction::When => {
                self.when = self.when.next();
                self.say(&format!(
                    "Changes of section and key happen at the next {}.",
                    when_word(self.when)
                ));
                return;
            }
            LeadAction::Stay => Command::Stay,
            LeadAction::Back => Command::BackToForm(self.when),
            LeadAction::LastTime => Command::LastTime,
            LeadAction::Repeat => Command::Next(Setting::Repeat),
            LeadAction::KeepForm => Command::KeepForm,
            LeadAction::Key(way) => {
                let by = if way == Vertical::Up { 1 } else { -1 };
                Command::Transpose(KeyOf::Song, NewKey::By(by), Some(self.when))
            }
        };
        out.push(Effect::Command(command));
    }
}

/// When a change of section takes place, in a word.
pub fn when_word(when: When) -> &'static str {
    match when {
        When::Seam => "seam",
        When::Bar => "bar",
        When::Beat => "beat",
    }
}
