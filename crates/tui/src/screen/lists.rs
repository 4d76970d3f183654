//! Two choices: of a grid, heard while choosing, and of a section to jump to.

use super::{Effect, Overlay, Screen};
use crate::action::Move;
use crate::desk::DeskState;
use chaconne_engine::{Command, Status};
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

    /// The feel the track has now: swing and pull may have been changed meanwhile.
    fn feel(&self, state: &DeskState) -> Feel {
        state.status.song.track(self.track).map_or(self.before, |track| track.feel)
    }

    fn set(&self, feel: Feel) -> Effect {
        Effect::Command(Command::Feel(self.track, feel))
    }

    pub(super) fn go(&mut self, to: Move, state: &DeskState, out: &mut Vec<Effect>) {
        let before = self.grid();
        self.step(to);
        let feel = self.feel(state);
        if self.grid() != before || feel.grid.is_none() {
            out.push(self.set(feel.on(self.grid())));
        }
    }

    fn step(&mut self, to: Move) {
        let last = NoteValue::grids().count() - 1;
        self.at = match to {
            Move::Left if !self.at.is_multiple_of(Self::ROW) => self.at - 1,
            Move::Right if self.at % Self::ROW + 1 < Self::ROW => self.at + 1,
            Move::Up if self.at >= Self::ROW => self.at - Self::ROW,
            Move::Down if self.at + Self::ROW <= last => self.at + Self::ROW,
            Move::First | Move::PageUp => 0,
            Move::Last | Move::PageDown => last,
            Move::Left | Move::Right | Move::Up | Move::Down => self.at,
        };
    }

    /// Gives the track the feel it had before.
    pub(super) fn put_back(&self, state: &DeskState, out: &mut Vec<Effect>) {
        if self.feel(state) != self.before {
            out.push(self.set(self.before));
        }
    }
}

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

    /// Adds a typed letter, or starts over with it where no section is called so. Gives the sections
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
    pub(super) fn confirm_grid(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Grids(pick)) = self.overlays.close() else { return };
        self.last_grids.insert(pick.track, pick.grid());
        let feel = pick.feel(state);
        if feel.grid != Some(pick.grid()) {
            out.push(pick.set(feel.on(pick.grid())));
        }
    }

    pub(super) fn confirm_section(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Sections(pick)) = self.overlays.close() else { return };
        let section = state.status.song.sections.get(pick.at);
        out.extend(section.map(|section| Effect::Command(Command::Jump(section.letter))));
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
                out.push(Effect::Command(Command::Jump(letters[*only])));
                self.overlays.close();
            }
            found @ [first, ..] => {
                let exact = found.iter().find(|at| letters[**at].as_str() == pick.typed);
                pick.at = *exact.unwrap_or(first);
            }
        }
    }
}
