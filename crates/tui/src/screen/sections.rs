//! The choice of where to go: to a section, or what else the form can be led to while it plays.

use super::{Effect, Overlay, Screen};
use crate::action::{LeadAction, Move};
use crate::desk::DeskState;
use chaconne_engine::{Command, Status, Transport};
use chaconne_song::Letter;

/// The choice of where to go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionPick {
    /// Which of the places to go ([`Whither::all`]).
    pub at: usize,
    /// The letters typed so far.
    pub typed: String,
}

/// A place to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whither {
    /// To a section.
    Section(Letter),
    /// Stay in the section that plays.
    Stay,
    /// Back to the form.
    Back,
    /// Once more through the section that plays, and to the end.
    LastTime,
}

impl Whither {
    /// All places to go at this moment: the sections, then the others.
    pub fn all(status: &Status) -> Vec<Whither> {
        let sections = status.song.sections.iter();
        let sections = sections.map(|section| Whither::Section(section.letter));
        let plays = status.transport != Transport::Stopped;
        let is_loop = status.in_form.is_none() && !status.song.form.is_empty();
        let others = [
            (Whither::Stay, plays),
            (Whither::Back, plays && (status.form_left || is_loop)),
            (Whither::LastTime, plays),
        ];
        let others = others.into_iter().filter(|&(_, applies)| applies);
        sections.chain(others.map(|(place, _)| place)).collect()
    }
}

impl SectionPick {
    /// Opens at the section that is waiting, or the one now playing.
    pub fn new(status: &Status) -> SectionPick {
        let here = status.next_section.unwrap_or(status.section);
        let at = status.song.sections.iter().position(|section| section.letter == here);
        SectionPick { at: at.unwrap_or(0), typed: String::new() }
    }

    pub(super) fn go(&mut self, to: Move, status: &Status) {
        let last = Whither::all(status).len().saturating_sub(1);
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
        match Whither::all(&state.status).get(pick.at) {
            Some(&Whither::Section(letter)) => self.go_to_section(letter, out),
            Some(Whither::Stay) => self.lead(LeadAction::Stay, out),
            Some(Whither::Back) => self.lead(LeadAction::Back, out),
            Some(Whither::LastTime) => self.lead(LeadAction::LastTime, out),
            None => {}
        }
    }

    /// Goes to a section, when the player has chosen to.
    pub(super) fn go_to_section(&mut self, letter: Letter, out: &mut Vec<Effect>) {
        out.push(Effect::Command(Command::Jump(letter, self.when)));
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
                let letter = letters[*only];
                self.overlays.close();
                self.go_to_section(letter, out);
            }
            found @ [first, ..] => {
                let exact = found.iter().find(|at| letters[**at].as_str() == pick.typed);
                pick.at = *exact.unwrap_or(first);
            }
        }
    }
}
