//! The choice of a section to jump to.

use super::{Effect, Overlay, Screen};
use crate::action::Move;
use crate::desk::DeskState;
use chaconne_engine::{Command, Status, When};
use chaconne_song::Letter;

/// The choice of a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionPick {
    /// Which of the song's sections.
    pub at: usize,
    /// The letters typed so far.
    pub typed: String,
}

impl SectionPick {
    /// Opens at the section that is waiting, or the one now playing.
    pub fn new(status: &Status) -> SectionPick {
        let here = status.next_section.unwrap_or(status.section);
        let at = status.song.sections.iter().position(|section| section.letter == here);
        SectionPick { at: at.unwrap_or(0), typed: String::new() }
    }

    pub(super) fn go(&mut self, to: Move, status: &Status) {
        let last = status.song.sections.len().saturating_sub(1);
        let wanted = match to {
            Move::Up | Move::Left => self.at.saturating_sub(1),
            Move::Down | Move::Right => self.at + 1,
            Move::PageUp | Move::First => 0,
            Move::PageDown | Move::Last => last,
        };
        self.at = wanted.min(last);
        self.typed.clear();
    }

    /// Adds a typed letter, or starts over with it if no section is called so. Returns the sections
    /// whose letters start with what is typed now.
    fn type_letter(&mut self, c: char, letters: &[Letter]) -> Vec<usize> {
        let starting = |typed: &str| -> Vec<usize> {
            let starts = |at: &usize| letters[*at].as_str().starts_with(typed);
            (0..letters.len()).filter(starts).collect()
        };
        self.typed.push(c);
        let found = starting(&self.typed);
        if !found.is_empty() {
            return found;
        }
        self.typed = c.to_string();
        starting(&self.typed)
    }
}

impl Screen {
    pub(super) fn confirm_section(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Sections(pick)) = self.overlays.close() else { return };
        let section = state.status.song.sections.get(pick.at);
        out.extend(
            section.map(|section| Effect::Command(Command::Jump(section.letter, When::Seam))),
        );
    }

    /// Takes a letter of a section's name, and jumps once no other name starts like it.
    pub(super) fn type_letter(&mut self, c: char, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Sections(pick)) = self.overlays.top_mut() else { return };
        let letters: Vec<Letter> =
            state.status.song.sections.iter().map(|section| section.letter).collect();
        match pick.type_letter(c, &letters).as_slice() {
            [] => {
                pick.typed.clear();
                self.say(&format!("There is no section {c}."));
            }
            [only] => {
                out.push(Effect::Command(Command::Jump(letters[*only], When::Seam)));
                self.overlays.close();
            }
            found @ [first, ..] => {
                let exact = found.iter().find(|at| letters[**at].as_str() == pick.typed);
                pick.at = *exact.unwrap_or(first);
            }
        }
    }
}
