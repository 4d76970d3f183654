//! Values of a feel as they are typed: a grid, a percentage, a number, or the name of a groove.

use super::{FeelField, FeelPick};
use crate::input::{Code, Key};
use crate::numbers::{short_value, value_of};
use crate::screen::Effect;
use chaconne_song::{Feel, GrooveId, Human};
use chaconne_time::NoteValue;

/// What a value that was typed makes of the settings.
pub(super) enum Typed {
    /// Another feel.
    Feel(Feel),
    /// A groove.
    Groove(GrooveId),
    /// How much of a groove: timing and loudness.
    Depths(u8, u8),
}

impl FeelPick {
    /// What is typed of a value and is none yet.
    pub fn half_typed(&self) -> Option<&str> {
        let is_half = !self.typed.is_empty() && self.with_typed(&self.typed).is_none();
        is_half.then_some(self.typed.as_str())
    }

    /// Whether a key types a value of the setting under the cursor.
    pub fn types(&self, key: &Key) -> bool {
        match (key.code, self.field) {
            (Code::Backspace, _) => true,
            (Code::Char(_), FeelField::Groove) => !self.grooves.is_empty(),
            (Code::Char(c), _) => matches!(c, '0'..='9' | '/' | '.' | 't' | 'd'),
            _ => false,
        }
    }

    /// Types a value: a grid, with t for triplet and d for dotted, a number, or a name. What can't become a
    /// value begins anew.
    pub(super) fn type_key(&mut self, key: &Key, out: &mut Vec<Effect>) {
        match key.code {
            Code::Backspace => drop(self.typed.pop()),
            Code::Char(c) => {
                // A dot is the sign of a dotted note.
                let dot = c == '.' && self.field == FeelField::Grid;
                let c = if dot { "d".to_string() } else { c.to_lowercase().to_string() };
                let longer = format!("{}{c}", self.typed);
                self.typed = if self.may_become(&longer) { longer } else { c };
                if !self.may_become(&self.typed) {
                    self.typed.clear();
                }
            }
            _ => return,
        }
        match self.with_typed(&self.typed) {
            Some(Typed::Feel(feel)) => self.set(feel, true, out),
            Some(Typed::Groove(groove)) => self.give(Some(groove), out),
            Some(Typed::Depths(timing, loudness)) => self.give_so_much((timing, loudness), out),
            None => {}
        }
    }

    /// What a value of the setting under the cursor makes, as it was typed; `None` if it is none.
    fn with_typed(&self, typed: &str) -> Option<Typed> {
        let (feel, human, (timing, loudness)) = (self.feel, self.feel.human, self.depths);
        let number = || typed.parse::<u16>().ok().filter(|&value| value <= self.field.highest());
        let percent = || number().and_then(|value| u8::try_from(value).ok());
        let changed = match self.field {
            FeelField::Whose | FeelField::Rolls => return None,
            FeelField::Groove => return self.named(typed).map(Typed::Groove),
            FeelField::Timing => return Some(Typed::Depths(percent()?, loudness)),
            FeelField::Loudness => return Some(Typed::Depths(timing, percent()?)),
            FeelField::Grid => Feel { grid: Some(value_of(typed)?), ..feel },
            FeelField::Pull => Feel { pull: percent()?, ..feel },
            FeelField::Reach => Feel { reach: percent()?, ..feel },
            FeelField::Swing => Feel { swing: typed.trim_end_matches('.').parse().ok()?, ..feel },
            FeelField::Human => Feel { human: Human { timing: percent()?, ..human }, ..feel },
            FeelField::Dynamics => Feel { human: Human { loudness: percent()?, ..human }, ..feel },
            FeelField::Seed => Feel { human: Human { seed: number()?, ..human }, ..feel },
        };
        Some(Typed::Feel(changed))
    }

    /// The first groove whose name begins so.
    fn named(&self, typed: &str) -> Option<GrooveId> {
        let begins = |name: &str| name.to_lowercase().starts_with(typed);
        let found = self.grooves.iter().find(|(_, name)| !typed.is_empty() && begins(name));
        found.map(|(id, _)| *id)
    }

    /// Whether what was typed is a value of the setting under the cursor or the start of one.
    fn may_become(&self, typed: &str) -> bool {
        match self.field {
            FeelField::Grid => NoteValue::grids().any(|grid| {
                let name = short_value(grid);
                name.starts_with(typed) || name["1/".len()..].starts_with(typed)
            }),
            FeelField::Swing => {
                matches!(typed, "5" | "6" | "7") || self.with_typed(typed).is_some()
            }
            _ => self.with_typed(typed).is_some(),
        }
    }
}
