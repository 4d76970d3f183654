//! The two choices: of a grid, heard while choosing, and of a section to go to.

use super::{Effect, Screen};
use crate::desk::View;
use crate::input::{Code, Key};
use crate::keymap::Action;
use chaconne_engine::Command;
use chaconne_song::{Feel, Letter, Track, TrackId};
use chaconne_time::NoteValue;

/// The choice of a grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GridPick {
    /// Whose grid.
    pub track: TrackId,
    /// The feel before.
    pub before: Feel,
    /// Which of [`NoteValue::grids`].
    pub at: usize,
}

impl GridPick {
    /// The grids of one note value lie side by side: straight, triplet, dotted.
    pub const ROW: usize = 3;

    /// Opens at a grid.
    pub fn new(track: &Track, grid: NoteValue) -> GridPick {
        let at = NoteValue::grids().position(|known| known == grid).unwrap_or(0);
        GridPick { track: track.id, before: track.feel, at }
    }

    /// The grid it is at.
    pub fn grid(&self) -> NoteValue {
        NoteValue::grids().nth(self.at).unwrap_or(NoteValue::SIXTEENTH)
    }

    fn step(&mut self, code: Code) {
        let last = NoteValue::grids().count() - 1;
        self.at = match code {
            Code::Left if !self.at.is_multiple_of(Self::ROW) => self.at - 1,
            Code::Right if self.at % Self::ROW < Self::ROW - 1 => self.at + 1,
            Code::Up if self.at >= Self::ROW => self.at - Self::ROW,
            Code::Down if self.at + Self::ROW <= last => self.at + Self::ROW,
            _ => self.at,
        };
    }
}

/// The choice of a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JumpPick {
    /// Which of the song's sections.
    pub at: usize,
    /// The letters typed so far.
    pub typed: String,
}

impl JumpPick {
    /// Opens at the section that is waiting, or the one now playing.
    pub fn new(view: &View) -> JumpPick {
        let status = &view.status;
        let here = status.next_section.unwrap_or(status.section);
        let at = status.song.sections.iter().position(|section| section.letter == here);
        JumpPick { at: at.unwrap_or(0), typed: String::new() }
    }
}

impl Screen {
    pub(super) fn act_on_grids(
        &mut self,
        action: Action,
        key: &Key,
        view: &View,
        out: &mut Vec<Effect>,
    ) {
        let Some(mut pick) = self.grids.take() else { return };
        // Swing and strength may have been changed meanwhile; only the grid is ours.
        let feel = view.status.song.track(pick.track).map_or(pick.before, |track| track.feel);
        let id = pick.track;
        let set = |feel: Feel| Effect::Command(Command::Feel(id, feel));
        match action {
            Action::Move => {
                let before = pick.grid();
                pick.step(key.code);
                if pick.grid() != before || feel.grid.is_none() {
                    out.push(set(feel.on(pick.grid())));
                }
                self.grids = Some(pick);
            }
            Action::Accept => {
                self.last_grids.insert(pick.track, pick.grid());
                if feel.grid != Some(pick.grid()) {
                    out.push(set(feel.on(pick.grid())));
                }
            }
            _ if feel != pick.before => out.push(set(pick.before)),
            _ => {}
        }
    }

    pub(super) fn act_on_jump(
        &mut self,
        action: Action,
        key: &Key,
        view: &View,
        out: &mut Vec<Effect>,
    ) {
        let Some(mut pick) = self.jump.take() else { return };
        let sections = &view.status.song.sections;
        match action {
            Action::Move => {
                let back = matches!(key.code, Code::Up | Code::Left);
                pick.at = if back { pick.at.saturating_sub(1) } else { pick.at + 1 };
                pick.at = pick.at.min(sections.len().saturating_sub(1));
                pick.typed.clear();
                self.jump = Some(pick);
            }
            Action::Accept => {
                let letter = sections.get(pick.at).map(|section| section.letter);
                out.extend(letter.map(|letter| Effect::Command(Command::Jump(letter))));
            }
            _ => {}
        }
    }

    /// Takes a letter of a section's name, and goes there once no other name starts like it.
    pub(super) fn type_letter(&mut self, c: char, view: &View, out: &mut Vec<Effect>) {
        let Some(pick) = &mut self.jump else { return };
        let letters: Vec<Letter> =
            view.status.song.sections.iter().map(|section| section.letter).collect();
        let starting = |typed: &str| -> Vec<usize> {
            let starts = |at: &usize| letters[*at].as_str().starts_with(typed);
            (0..letters.len()).filter(starts).collect()
        };
        pick.typed.push(c);
        let mut matches = starting(&pick.typed);
        if matches.is_empty() {
            pick.typed = c.to_string();
            matches = starting(&pick.typed);
        }
        match matches.as_slice() {
            [] => {
                pick.typed.clear();
                self.say(&format!("There is no section {c}."));
            }
            [only] => {
                out.push(Effect::Command(Command::Jump(letters[*only])));
                self.jump = None;
            }
            [first, ..] => {
                let exact = matches.iter().find(|at| letters[**at].as_str() == pick.typed);
                pick.at = *exact.unwrap_or(first);
            }
        }
    }
}
