//! The two lists that open over the view of the notes: what can be done to notes, and how they can be
//! selected. Each row has a letter of its own; some have a number.

use super::super::{Awaited, Effect, Overlay, Screen};
use crate::action::{Action, Move, NoteAction, NoteList, Operation, Picking};
use crate::desk::DeskState;
use crate::keymap::{Binding, Scene, here};
use crate::sheet::Lying;
use chaconne_song::{
    Around, Choice, Commit, Cut, Label, Mirror, NoteRef, Pasted, Picked, ReviseError, SplitOff, U7,
};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;

/// The numbers of the operations, kept from one use to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Numbers {
    /// Semitones to transpose by.
    pub semitones: i8,
    /// Every how many notes.
    pub nth: u8,
    /// A velocity.
    pub velocity: u8,
}

impl Default for Numbers {
    fn default() -> Numbers {
        Numbers { semitones: 12, nth: 2, velocity: 64 }
    }
}

impl Numbers {
    /// The number of an action in words; empty if it has none.
    pub fn words(self, action: Action) -> String {
        match action {
            Action::Note(NoteAction::Do(Operation::Transpose)) => format!("{:+}", self.semitones),
            Action::Note(NoteAction::Do(Operation::Thin)) => format!("every {}", nth(self.nth)),
            Action::Note(NoteAction::Pick(Picking::Every)) => nth(self.nth),
            Action::Note(NoteAction::Pick(Picking::Louder)) => format!("than {}", self.velocity),
            Action::Note(NoteAction::Pick(Picking::Softer)) => format!("than {}", self.velocity),
            _ => String::new(),
        }
    }

    /// One more or one less.
    fn step(&mut self, action: Action, by: i8) {
        match action {
            Action::Note(NoteAction::Do(Operation::Transpose)) => {
                // There is no transposition by nothing.
                let to = self.semitones + by;
                self.semitones = (if to == 0 { by } else { to }).clamp(-60, 60);
            }
            Action::Note(NoteAction::Do(Operation::Thin) | NoteAction::Pick(Picking::Every)) => {
                self.nth = self.nth.saturating_add_signed(by).clamp(2, 64);
            }
            Action::Note(NoteAction::Pick(Picking::Louder | Picking::Softer)) => {
                self.velocity = self.velocity.saturating_add_signed(by).clamp(1, 127);
            }
            _ => {}
        }
    }
}

/// A number as the place in a row: 2nd, 3rd, 4th.
fn nth(number: u8) -> String {
    let ending = match (number % 100, number % 10) {
        (11..=13, _) => "th",
        (_, 1) => "st",
        (_, 2) => "nd",
        (_, 3) => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// An open list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoteMenu {
    /// Which.
    pub list: NoteList,
    /// The row that the cursor is on.
    pub at: usize,
}

impl NoteMenu {
    /// The scene that gets the keys.
    pub fn scene(self) -> Scene {
        match self.list {
            NoteList::Edit => Scene::NoteEdits,
            NoteList::Select => Scene::NoteSelects,
        }
    }

    /// Its rows.
    pub fn rows(self) -> Vec<&'static Binding> {
        let is_row = |binding: &&'static Binding| {
            let action = binding.action;
            matches!(action, Action::Note(NoteAction::Do(_) | NoteAction::Pick(_)))
        };
        here(self.scene()).filter(is_row).collect()
    }

    /// What the row of the cursor asks for.
    pub fn action(self) -> Option<Action> {
        self.rows().get(self.at).map(|row| row.action)
    }

    /// Moves to another row, or changes the number of this one.
    pub(in super::super) fn go(&mut self, to: Move, numbers: &mut Numbers) {
        let last = self.rows().len().saturating_sub(1);
        let Some(action) = self.action() else { return };
        match to {
            Move::Up => self.at = self.at.saturating_sub(1),
            Move::Down => self.at = (self.at + 1).min(last),
            Move::First | Move::PageUp => self.at = 0,
            Move::Last | Move::PageDown => self.at = last,
            Move::Left => numbers.step(action, -1),
            Move::Right => numbers.step(action, 1),
        }
    }
}

impl Screen {
    pub(super) fn open_notes_menu(&mut self, list: NoteList) {
        self.overlays.open(Overlay::Notes(NoteMenu { list, at: 0 }));
    }

    /// Does what the row of the cursor says.
    pub(in super::super) fn confirm_notes_menu(
        &mut self,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let Some(Overlay::Notes(menu)) = self.overlays.top() else { return };
        if let Some(Action::Note(action)) = menu.action() {
            self.act_on_notes(action, state, out);
        }
    }

    fn close_notes_menu(&mut self) {
        if matches!(self.overlays.top(), Some(Overlay::Notes(_))) {
            self.overlays.close();
        }
    }

    pub(super) fn operate(
        &mut self,
        operation: Operation,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        self.close_notes_menu();
        let picked = self.picked();
        let pitched = self.notes.sheet.as_ref().is_some_and(|sheet| sheet.track.pitched);
        let made = match operation {
            Operation::Copy | Operation::Cut if picked.is_empty() => Err(ReviseError::Nothing),
            Operation::Copy => {
                self.keep_copy(&picked, state);
                let count = picked.len();
                let notes = crate::text::plural(count, "note");
                let (open, paste) = (" {edit-notes} {paste-notes} ", "pastes at the cursor.");
                return self.say_with_keys(&format!("{count} {notes} copied:{open}{paste}"));
            }
            Operation::Cut => {
                self.keep_copy(&picked, state);
                picked.remove().map(|commit| commit.called(Label::CutNotes))
            }
            Operation::Paste if self.notes.clip.is_empty() => {
                return self.say("Nothing has been copied yet.");
            }
            Operation::Paste => {
                let Some(pass) = self.target(state) else {
                    return self.say_with_keys(
                        "This track has no layer to paste into: {draw} draws a note.",
                    );
                };
                let mark = self.cursor_mark(state).map_or(self.notes.at, |mark| mark.from);
                let at = self.cursor_in(&pass, state) - (self.notes.at - mark);
                let at = at + self.notes.off_mark;
                let pasted = self.notes.clip.paste(&pass, at, Label::PasteNotes);
                self.select_pasted(pasted)
            }
            Operation::Repeat => {
                let beat = self.beat_at_cursor();
                let unit = if picked.len() > 1 { beat } else { self.note_step(state) };
                let pasted = picked.repeat(picked.span(unit));
                self.select_pasted(pasted)
            }
            Operation::Transpose => picked.transpose(i32::from(self.notes.numbers.semitones)),
            Operation::Reverse if pitched => picked.reverse(Mirror::Notes),
            Operation::Reverse => picked.reverse(Mirror::Strokes),
            Operation::Invert => picked.invert(Around::Middle),
            Operation::InvertFirst => picked.invert(Around::First),
            Operation::Split => picked.split(&self.cuts(state)),
            Operation::Join => picked.join(),
            Operation::Thin => picked.thin(usize::from(self.notes.numbers.nth)),
            Operation::SplitOff => {
                let split = picked.split_off(&state.status.song);
                self.show_split_off(split)
            }
            Operation::AsPlayed => picked.as_played(),
        };
        self.revise(made, out);
    }

    /// Keeps a copy of notes, and how far from its mark the first of them lies, so that what was played
    /// a little early or late is that where it is pasted, too.
    fn keep_copy(&mut self, picked: &Picked, state: &DeskState) {
        self.notes.clip = picked.copy();
        let off_mark = || {
            let (sheet, scale) = (self.notes.sheet.as_ref()?, self.notes_scale(state)?);
            let base = sheet.base(state.status.round);
            let start = sheet.nearest(picked.first()?, self.notes.at, base)?.start();
            let mark = scale.marks[scale.mark_of(start + scale.early())?];
            Some(start - mark.start)
        };
        self.notes.off_mark = off_mark().unwrap_or_default();
    }

    /// Selects the notes that a commit is about to add.
    fn select_pasted(
        &mut self,
        pasted: Result<Pasted, ReviseError>,
    ) -> Result<Commit, ReviseError> {
        let pasted = pasted?;
        self.notes.on = pasted.notes.first().copied();
        self.notes.selected = pasted.notes;
        self.notes.corner = None;
        self.notes.note_selection();
        Ok(pasted.commit)
    }

    /// Shows the layer that a commit is about to split off, with its notes selected.
    fn show_split_off(
        &mut self,
        split: Result<SplitOff, ReviseError>,
    ) -> Result<Commit, ReviseError> {
        let split = split?;
        self.layers.choose(split.passes.first().copied());
        self.awaited = split.passes.first().copied().map(Awaited::SplitOff);
        self.select_pasted(Ok(Pasted { commit: split.commit, notes: split.notes }))
    }

    /// A beat of the bar that the cursor is in.
    fn beat_at_cursor(&self) -> Tick {
        let Some(sheet) = &self.notes.sheet else { return Tick(1) };
        let (_, into) = self.notes.at.cycle(sheet.section.length());
        sheet.section.metre.metre_at(into).beat()
    }

    /// Where the cursor cuts the notes in question.
    fn cuts(&self, state: &DeskState) -> Vec<Cut> {
        let Some(sheet) = &self.notes.sheet else { return Vec::new() };
        let (at, base) = (self.notes.at, sheet.base(state.status.round));
        let here = Span::new(at, at + Tick(1));
        let keys = (0..128).filter_map(U7::new);
        let lying = keys.flat_map(|key| sheet.touching(key, here, base));
        let cut = |lying: Lying| Cut { of: lying.name(), into: at - lying.on };
        lying.map(cut).collect()
    }

    pub(super) fn pick_notes(&mut self, picking: Picking, state: &DeskState) {
        self.close_notes_menu();
        let numbers = self.notes.numbers;
        let velocity = U7::new(numbers.velocity).unwrap_or(U7::CENTRE);
        match picking {
            Picking::All => self.choose_notes(Choice::All, false, state),
            Picking::None => {
                self.notes.corner = None;
                self.notes.clear_selection();
            }
            Picking::Others => self.choose_others(state),
            Picking::Pitch => self.choose_notes(Choice::Key(self.notes.key), false, state),
            Picking::Bar => self.select_span(self.bar_of_cursor(), state),
            Picking::Beat => self.select_span(self.beat_of_cursor(), state),
            Picking::Every => {
                self.choose_notes(Choice::Every(usize::from(numbers.nth)), true, state)
            }
            Picking::Louder => self.choose_notes(Choice::Louder(velocity), true, state),
            Picking::Softer => self.choose_notes(Choice::Softer(velocity), true, state),
        }
    }

    fn choose_others(&mut self, state: &DeskState) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let all = sheet.candidates(sheet.base(state.status.round));
        let selected = self.notes.meant();
        let others: BTreeSet<NoteRef> =
            all.iter().map(|of| of.note).filter(|note| !selected.contains(note)).collect();
        self.select(others);
    }

    /// The span of the beat that the cursor is in; notes a little early belong to it.
    fn beat_of_cursor(&self) -> Span {
        let Some(sheet) = &self.notes.sheet else { return Span::new(Tick::ZERO, Tick::ZERO) };
        let (round, into) = self.notes.at.cycle(sheet.section.length());
        let tick = Tick(i64::from(sheet.section.metre.place(into).tick));
        let from = sheet.section.length() * round + into - tick;
        early(Span::new(from, from + self.beat_at_cursor()))
    }

    fn bar_of_cursor(&self) -> Span {
        let Some(sheet) = &self.notes.sheet else { return Span::new(Tick::ZERO, Tick::ZERO) };
        let (round, into) = self.notes.at.cycle(sheet.section.length());
        let metre = &sheet.section.metre;
        let bar = metre.bar_at(into);
        let before = sheet.section.length() * round;
        early(Span::new(before + metre.bar_start(bar), before + metre.bar_start(bar + 1)))
    }
}

/// A span that begins and ends early by half a sixteenth.
fn early(span: Span) -> Span {
    let early = Tick(120);
    Span::new(span.from - early, span.to - early)
}
