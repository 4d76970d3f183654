//! Two choices: of a grid, heard while choosing, and of a section to jump to.
//!
//! However many grids are tried, they are one step of undo; one that is cancelled is none.

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::Move;
use crate::desk::DeskState;
use chaconne_engine::{Command, Status};
use chaconne_song::{Commit, Edit, Label, Letter, Track, TrackEdit, TrackId};
use chaconne_time::NoteValue;

/// The choice of a grid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GridPick {
    /// Whose grid.
    pub track: TrackId,
    /// Which of [`NoteValue::grids`]; `None` for playing as played.
    pub at: Option<usize>,
    /// The grid before.
    before: Option<NoteValue>,
    /// Whether another grid has been heard.
    tried: bool,
}

impl GridPick {
    /// The grids of one note value lie side by side: straight, triplet, dotted.
    pub const ROW: usize = 3;

    /// Opens at what the track has.
    pub fn new(track: &Track) -> GridPick {
        let before = track.feel.grid;
        let at = before.and_then(|grid| NoteValue::grids().position(|known| known == grid));
        GridPick { track: track.id, at, before, tried: false }
    }

    /// The grid it is at; `None` for playing as played.
    pub fn grid(&self) -> Option<NoteValue> {
        NoteValue::grids().nth(self.at?)
    }

    /// Plays the track on a grid.
    fn set(&mut self, grid: Option<NoteValue>, out: &mut Vec<Effect>) {
        let edit = Edit::Track(self.track, TrackEdit::Grid(grid));
        let commit = Commit::new(Label::Grid, vec![edit]);
        // The first starts a step of undo, the others belong to it.
        let is_first = !std::mem::replace(&mut self.tried, true);
        let command = if is_first { Command::Edit(commit) } else { Command::EditOn(commit) };
        out.push(Effect::Command(command));
    }

    pub(super) fn go(&mut self, to: Move, out: &mut Vec<Effect>) {
        let before = self.grid();
        self.at = self.step(to);
        if self.grid() != before {
            self.set(self.grid(), out);
        }
    }

    /// Where a move leads. Playing as played is above the grids.
    fn step(&self, to: Move) -> Option<usize> {
        let last = NoteValue::grids().count() - 1;
        match (to, self.at) {
            (Move::First | Move::PageUp, _) => None,
            (Move::Last | Move::PageDown, _) => Some(last),
            (Move::Down, None) => Some(0),
            (Move::Left | Move::Right | Move::Up, None) => None,
            (Move::Up, Some(at)) => at.checked_sub(Self::ROW),
            (Move::Down, Some(at)) if at + Self::ROW <= last => Some(at + Self::ROW),
            (Move::Left, Some(at)) if at % Self::ROW > 0 => Some(at - 1),
            (Move::Right, Some(at)) if at % Self::ROW + 1 < Self::ROW => Some(at + 1),
            (Move::Left | Move::Right | Move::Down, Some(at)) => Some(at),
        }
    }

    /// Gives the track back the grid it had, if another was tried.
    pub(super) fn put_back(&mut self, out: &mut Vec<Effect>) {
        if self.tried {
            self.set(self.before, out);
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
    pub(super) fn confirm_grid(&mut self) {
        let Some(Overlay::Grids(pick)) = self.overlays.close() else { return };
        // What it is at is heard already.
        if let Some(grid) = pick.grid() {
            self.last_grids.insert(pick.track, grid);
        }
        self.awaited = Some(Awaited::Grid(pick.track));
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
