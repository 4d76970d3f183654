//! The grooves of the song: taking one from what was played, and the box in which they are given, renamed and
//! removed. Each change is a step of undo.

use super::{Awaited, Effect, Overlay, Screen, View};
use crate::action::{GrooveAction, Move};
use crate::desk::DeskState;
use crate::form::{Form, GrooveSpec, PlayedPart};
use crate::groove_curve::extent_words;
use chaconne_engine::{Command, HowToTake, take_groove};
use chaconne_song::{
    Commit, Edit, GivenGroove, Groove, GrooveEdit, GrooveId, SharedPass, Song, TrackEdit,
};
use chaconne_time::NoteValue;
use std::sync::Arc;

/// The box of the grooves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct GroovePick {
    /// The place of the chosen groove in the song.
    at: usize,
    /// The bar of it that is shown, from 0.
    bar: u32,
}

impl GroovePick {
    /// Opens at a groove of the song or, without one, at the first.
    fn new(song: &Song, at: Option<GrooveId>) -> GroovePick {
        let at = song.grooves.iter().position(|groove| Some(groove.id) == at);
        GroovePick { at: at.unwrap_or(0), bar: 0 }
    }

    /// The place of the chosen groove; the last one if there are not so many any more.
    pub fn place(&self, song: &Song) -> usize {
        self.at.min(song.grooves.len().saturating_sub(1))
    }

    /// The chosen groove; `None` if the song has none any more.
    pub fn chosen<'s>(&self, song: &'s Song) -> Option<&'s Arc<Groove>> {
        song.grooves.get(self.place(song))
    }

    /// The bar of a groove that is shown, from 1.
    pub fn bar(&self, groove: &Groove) -> u32 {
        self.bar.min(groove.bars.saturating_sub(1)) + 1
    }

    /// How many grooves a page has.
    const PAGE: usize = 5;

    /// Moves among the grooves, or to another bar of the chosen one.
    pub(super) fn go(&mut self, to: Move, song: &Song) {
        let Some(groove) = self.chosen(song) else { return };
        let bar = self.bar(groove) - 1;
        match to {
            Move::Left => self.bar = bar.saturating_sub(1),
            Move::Right => self.bar = (bar + 1).min(groove.bars.saturating_sub(1)),
            _ => {
                let last = song.grooves.len() - 1;
                *self = GroovePick { at: to.along(self.place(song), Self::PAGE, last), bar: 0 };
            }
        }
    }
}

impl Screen {
    pub(super) fn act_on_groove(
        &mut self,
        action: GrooveAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let song = &state.status.song;
        match action {
            GrooveAction::Take => self.ask_for_groove(state),
            GrooveAction::Show => {
                let given = self.chosen_track(state).and_then(|track| track.feel.groove);
                let pick = GroovePick::new(song, given.map(|given| given.groove));
                self.open(Overlay::Grooves(pick));
            }
            GrooveAction::Name => {
                if let Some(groove) = self.groove_in_box(song) {
                    self.open(Overlay::Form(Form::name_groove(&groove, song)));
                }
            }
            GrooveAction::Remove => {
                if let Some(groove) = self.groove_in_box(song) {
                    let commit = Commit::of(Edit::RemoveGroove(groove.id));
                    out.push(Effect::Command(Command::Edit(commit)));
                }
            }
        }
    }

    /// The groove that is chosen in the box on top.
    fn groove_in_box(&self, song: &Song) -> Option<Arc<Groove>> {
        let Some(Overlay::Grooves(pick)) = self.overlays.top() else { return None };
        pick.chosen(song).cloned()
    }

    /// Asks how to take the groove of what is under the cursor: of the chosen layer in the layers, of what is
    /// shown in the notes, else of the track.
    fn ask_for_groove(&mut self, state: &DeskState) {
        let Some(part) = self.played_part(state) else { return };
        let song = &state.status.song;
        match take_groove(part.passes.iter().map(|pass| &**pass), part.usual(), &part.section.metre)
        {
            None => self.say("There are no notes here to take a groove from."),
            Some(_) => self.open(Overlay::Form(Form::take_groove(part, song))),
        }
    }

    fn played_part(&self, state: &DeskState) -> Option<PlayedPart> {
        let song = &state.status.song;
        let section = song.section(state.status.section)?.clone();
        let stack = self.stack(state)?;
        let sounding = stack.layers.iter().filter(|(_, muted)| !muted);
        let one = |at: usize| vec![stack.layers[at].0.clone()];
        let passes: Vec<SharedPass> = match (self.view, &self.notes.sheet) {
            (View::Layers, _) => one(self.layers.chosen(&stack)?),
            (View::Notes, Some(sheet)) => {
                sheet.layers.iter().map(|layer| layer.pass.clone()).collect()
            }
            _ => sounding.map(|(pass, _)| pass.clone()).collect(),
        };
        let (whose, own) = match passes.as_slice() {
            [only] if stack.layers.len() > 1 => (only.name.clone(), only.feel),
            _ => (String::new(), None),
        };
        let name = if whose.is_empty() { stack.track.name.clone() } else { whose };
        let grid = own.unwrap_or(stack.track.feel).grid.unwrap_or(NoteValue::SIXTEENTH);
        Some(PlayedPart { passes, section, name, grid })
    }

    /// Adds the groove that a form asked for.
    pub(super) fn take_the_groove(
        &mut self,
        spec: GrooveSpec,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        self.overlays.close();
        let song = &state.status.song;
        let GrooveSpec { part, name, grid, bars } = spec;
        let how = HowToTake { id: song.ids().groove(), name, grid, bars };
        let passes = part.passes.iter().map(|pass| &**pass);
        let Some(groove) = take_groove(passes, how, &part.section.metre) else { return };
        self.awaited = Some(Awaited::Taken(groove.id));
        let edit = Edit::AddGroove { at: song.grooves.len(), groove: Arc::new(groove) };
        out.push(Effect::Command(Command::Edit(Commit::of(edit))));
    }

    /// Renames a groove.
    pub(super) fn name_the_groove(
        &mut self,
        (groove, name): (GrooveId, String),
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        self.overlays.close();
        let known = state.status.song.groove(groove).is_some_and(|groove| groove.name != name);
        if known {
            let edit = Edit::Groove(groove, GrooveEdit::Name(name));
            out.push(Effect::Command(Command::Edit(Commit::of(edit))));
        }
    }

    /// Gives the chosen groove to the chosen track, all of it.
    pub(super) fn give_groove(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(groove) = self.groove_in_box(&state.status.song) else { return };
        let Some(track) = self.chosen_track(state) else {
            return self
                .say_with_keys("There is no track yet to give it to: {add-track} adds one.");
        };
        if track.feel.groove.is_some_and(|given| given.groove == groove.id) {
            return self.say_with_keys(&format!(
                "{} has this groove already: {{feel}} sets how much of it.",
                track.name
            ));
        }
        self.awaited = Some(Awaited::Feel(track.id));
        let given = TrackEdit::Groove(Some(GivenGroove::whole(groove.id)));
        let edit = Edit::Track(track.id, given);
        out.push(Effect::Command(Command::Edit(Commit::of(edit))));
        self.overlays.close();
    }
}

/// What to say about a groove that was taken.
pub(super) fn taken_words(state: &DeskState, id: GrooveId) -> Option<String> {
    let status = &state.status;
    let groove = status.song.groove(id)?;
    let extent = extent_words(groove, status.song.section(status.section)?);
    Some(format!("Groove {} taken: {extent}. {{grooves}} shows it.", groove.name))
}
