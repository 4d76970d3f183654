//! What arranges a section: the list of operations, and those that need no box.
//!
//! In: an operation, or a box that was filled in. Out: the request to the engine; what cannot be done is said
//! here, in the box if there is one.

use super::{Effect, Overlay, Screen};
use crate::action::{Action, Move, SectionAction};
use crate::desk::DeskState;
use crate::form::Form;
use crate::keymap::{Binding, Scene, here};
use crate::screen::unrolled;
use crate::text;
use chaconne_engine::{Arrange, Command, Status};
use chaconne_song::{Letter, Section, Song};
use std::sync::Arc;

/// The open list of operations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SectionMenu {
    /// The section.
    pub section: Letter,
    /// The row that the cursor is on.
    pub at: usize,
}

impl SectionMenu {
    /// Its rows.
    pub fn rows() -> Vec<&'static Binding> {
        let is_row = |binding: &&'static Binding| matches!(binding.action, Action::Section(_));
        here(Scene::SectionEdits).filter(is_row).collect()
    }

    /// The row of the cursor.
    pub fn row(self) -> Option<&'static Binding> {
        SectionMenu::rows().get(self.at).copied()
    }

    pub(super) fn go(&mut self, to: Move) {
        let rows = SectionMenu::rows().len();
        self.at = to.along(self.at, rows, rows.saturating_sub(1));
    }
}

impl Screen {
    /// Does what the row of the cursor says.
    pub(super) fn confirm_section_menu(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::SectionEdits(menu)) = self.overlays.top() else { return };
        if let Some(row) = menu.row() {
            self.ask(row.action, state, out);
        }
    }

    /// Opens the box of an operation on a section, or does it if there is nothing to ask.
    pub(super) fn arrange_section(
        &mut self,
        action: SectionAction,
        section: &Arc<Section>,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        if matches!(self.overlays.top(), Some(Overlay::SectionEdits(_))) {
            self.overlays.close();
        }
        let (song, letter) = (&*state.status.song, section.letter);
        let bar = bar_here(&state.status, letter);
        let arrange = match action {
            SectionAction::Split => return self.open(Overlay::Form(Form::split(section, bar))),
            SectionAction::Lift => return self.open(Overlay::Form(Form::lift(section, bar))),
            SectionAction::Length => return self.open(Overlay::Form(Form::length(section))),
            SectionAction::Tempo => return self.open(Overlay::Form(Form::tempo(song, section))),
            SectionAction::HalfTime => Arrange::Speed(letter, chaconne_song::Speed::Half),
            SectionAction::DoubleTime => Arrange::Speed(letter, chaconne_song::Speed::Double),
            SectionAction::Join => match after(song, letter) {
                Some(next) => Arrange::Join(letter, next),
                None => return self.say(&format!("No section comes after {letter}.")),
            },
            _ => return self.open(Overlay::SectionEdits(SectionMenu { section: letter, at: 0 })),
        };
        match arrange.commit(song) {
            Err(error) => self.complain(&error.to_string()),
            Ok(_) => out.push(Effect::Command(Command::Arrange(arrange))),
        }
    }

    /// Keeps what a box says would come of it up to date.
    pub(super) fn follow_preview(&mut self, state: &DeskState) {
        if let Some(Overlay::Form(form)) = self.overlays.top_mut() {
            self.version += u64::from(form.look_ahead(&state.status.song));
        }
    }

    /// Makes the change that a box asked for, or says in the box why not.
    pub(super) fn take_arrange(
        &mut self,
        arrange: Arrange,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let song = &state.status.song;
        match arrange.commit(song) {
            Err(error) if error.is_no_change() => drop(self.overlays.close()),
            Err(error) => {
                let error = text::sentence(&error.to_string());
                self.on_form(|form| form.refuse(form.focus, error));
            }
            Ok(_) => {
                self.overlays.close();
                if let Arrange::Lift { .. } = arrange {
                    let at = self.song_form.chosen(&state.status);
                    self.follow_copy(song, at);
                }
                out.push(Effect::Command(Command::Arrange(arrange)));
            }
        }
    }
}

/// The bar where the song stands in a section.
fn bar_here(status: &Status, letter: Letter) -> Option<u32> {
    let bar = u32::try_from(status.place.bar).ok();
    bar.filter(|_| status.section == letter)
}

/// The section that comes after one: in the form, or else in the list.
fn after(song: &Song, letter: Letter) -> Option<Letter> {
    let letters = unrolled(song);
    let in_form = letters.windows(2).find(|two| two[0] == letter && two[1] != letter);
    let at = song.sections.iter().position(|section| section.letter == letter);
    let below = at.and_then(|at| song.sections.get(at + 1)).map(|section| section.letter);
    in_form.map(|two| two[1]).or(below)
}
