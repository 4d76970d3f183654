//! The layers of the chosen track: which one the cursor is on, and what can be done to it.
//!
//! The cursor stays on its pass while others come and go. Each change is a step of undo.

use super::{Awaited, Effect, FeelPick, Overlay, Screen, View};
use crate::action::{LayerAction, Move, Vertical};
use crate::desk::DeskState;
use crate::form::Form;
use chaconne_engine::{Arrange, Command, Reshape, Setting};
use chaconne_song::{
    Commit, Edit, Groove, Letter, Part, Pass, PassId, ReviseError, Section, SectionEdit,
    SharedPass, Song, Track, merge_layers,
};
use std::sync::Arc;

/// Where the view of the layers is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct LayersView {
    /// The layer under the cursor; `None` for the top one.
    at: Option<PassId>,
}

impl LayersView {
    /// The index of the layer under the cursor; the top one if that layer is gone. `None` if there
    /// are no layers.
    pub fn chosen(&self, stack: &Stack) -> Option<usize> {
        let at = stack.layers.iter().position(|(pass, _)| Some(pass.id) == self.at);
        at.or((!stack.layers.is_empty()).then_some(0))
    }

    /// Puts the cursor on a layer.
    pub(super) fn choose(&mut self, pass: Option<PassId>) {
        self.at = pass;
    }
}

/// The layers of a track in a section, top first.
#[derive(Debug, Clone)]
pub struct Stack {
    /// The section.
    pub section: Letter,
    /// The track, and its place in the list of tracks.
    pub track: Arc<Track>,
    /// The track's index in the song.
    pub place: usize,
    /// Each layer's pass and whether it is muted, top first.
    pub layers: Vec<(SharedPass, bool)>,
    /// The groove that each of them is given, by itself or with its track.
    pub grooves: Vec<Option<Arc<Groove>>>,
}

impl Stack {
    /// The layers of the track at an index in the song.
    pub fn of(song: &Song, section: &Section, place: usize) -> Stack {
        let track = song.tracks[place].clone();
        let layers = song.layers_of(section, track.id).rev();
        let layers: Vec<_> = layers.map(|(layer, pass)| (pass.clone(), layer.mute)).collect();
        let grooves = layers.iter().map(|(pass, _)| groove_of(song, pass, &track)).collect();
        Stack { section: section.letter, track, place, layers, grooves }
    }
}

/// The groove that a layer of a track is given: its own feel's or, if it has none, that of its track.
pub fn groove_of(song: &Song, pass: &Pass, track: &Track) -> Option<Arc<Groove>> {
    let given = pass.feel.as_ref().unwrap_or(&track.feel).groove?;
    song.groove(given.groove).cloned()
}

impl Screen {
    /// The layers of the chosen track in the section shown; `None` if there is no track.
    pub fn stack(&self, state: &DeskState) -> Option<Stack> {
        self.stack_in(state, state.status.song.section(state.status.section)?)
    }

    /// The layers of the chosen track in a section.
    pub fn stack_in(&self, state: &DeskState, section: &Section) -> Option<Stack> {
        let song = &state.status.song;
        let place = song.tracks.iter().position(|track| Some(track.id) == self.chosen)?;
        Some(Stack::of(song, section, place))
    }

    pub(super) fn move_in_layers(&mut self, to: Move, state: &DeskState) {
        let Some(stack) = self.stack(state) else { return };
        let Some(at) = self.layers.chosen(&stack) else { return };
        let last = stack.layers.len() - 1;
        let next = match to {
            Move::Up | Move::PageUp | Move::Left => at.saturating_sub(1),
            Move::Down | Move::PageDown | Move::Right => (at + 1).min(last),
            Move::First => 0,
            Move::Last => last,
        };
        self.layers.at = Some(stack.layers[next].0.id);
    }

    pub(super) fn act_on_layer(
        &mut self,
        action: LayerAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let Some(stack) = self.stack(state) else { return };
        let Some(at) = self.layers.chosen(&stack) else { return };
        let (section, pass) = (stack.section, stack.layers[at].0.id);
        self.layers.at = Some(pass);
        let edit = |edit| Command::Edit(Commit::of(Edit::Section(section, edit)));
        let command = match action {
            LayerAction::Mute => Command::Next(Setting::MutePass(section, pass)),
            LayerAction::Solo => {
                if stack.layers[at].1 && !state.status.solo_passes.contains(&pass) {
                    self.say_with_keys("The layer is muted: {mute-layer} unmutes it.");
                }
                Command::Next(Setting::SoloPass(pass))
            }
            LayerAction::Arrange => return self.arrange_layer(&stack, at, state),
            LayerAction::Feel => {
                let pass = self.meant_layer(&stack, at, state);
                self.layers.at = Some(pass.id);
                let pick = FeelPick::of_layer(&pass, &stack.track, &state.status.song);
                return self.open(Overlay::Feel(pick));
            }
            LayerAction::Remove => {
                let below =
                    stack.layers.get(at + 1).or(at.checked_sub(1).map(|up| &stack.layers[up]));
                self.layers.at = below.map(|(pass, _)| pass.id);
                edit(SectionEdit::Remove(pass))
            }
            LayerAction::Shift(way) => {
                let other = match way {
                    Vertical::Up => at.checked_sub(1),
                    Vertical::Down => Some(at + 1).filter(|&down| down < stack.layers.len()),
                };
                let Some(other) = other else {
                    return self.say(match way {
                        Vertical::Up => "This is the top layer.",
                        Vertical::Down => "This is the bottom layer.",
                    });
                };
                // The stack of the section has the layers of all tracks, so a layer goes where the
                // next one of its own track is.
                let layers = state.status.song.section(section).map(|section| &section.layers);
                let other = stack.layers[other].0.id;
                let to = layers.and_then(|all| all.iter().position(|layer| layer.pass == other));
                let Some(to) = to else { return };
                edit(SectionEdit::Move(pass, to))
            }
            LayerAction::Own => {
                if !state.status.song.is_shared(pass) {
                    return self.say("No other section shares this layer.");
                }
                self.layers.at = Some(state.status.song.ids().pass());
                Command::Arrange(Arrange::Layers(section, Part::Layer(pass), Reshape::Own))
            }
            LayerAction::Name => {
                return self.open(Overlay::Form(Form::name_layer(&stack.layers[at].0)));
            }
            LayerAction::Merge => {
                let id = state.status.song.ids().pass();
                match merge_layers(&state.status.song, section, pass, id) {
                    Ok(commit) => {
                        let below = stack.layers[at + 1].0.id;
                        self.awaited = Some(Awaited::Merged(section, id, [pass, below]));
                        self.layers.at = Some(id);
                        Command::Edit(commit)
                    }
                    Err(ReviseError::NoLower) => {
                        return self
                            .say("This is the bottom layer: there is none below to merge with.");
                    }
                    Err(error) => {
                        return self.say(&format!("These two layers cannot be merged: {error}."));
                    }
                }
            }
        };
        out.push(Effect::Command(command));
    }
}

impl Screen {
    /// The layer at an index; in the notes, that of the note under the cursor.
    fn meant_layer(&self, stack: &Stack, at: usize, state: &DeskState) -> SharedPass {
        let shown = (self.view == View::Notes).then(|| self.target(state)).flatten();
        shown.unwrap_or_else(|| stack.layers[at].0.clone())
    }

    /// Opens the box that arranges a layer; where all layers are shown, it proposes all of them.
    fn arrange_layer(&mut self, stack: &Stack, at: usize, state: &DeskState) {
        let pass = self.meant_layer(stack, at, state);
        self.layers.at = Some(pass.id);
        let song = &state.status.song;
        let Some(section) = song.sections.iter().find(|one| one.letter == stack.section) else {
            return;
        };
        let all = self.view == View::Notes && self.notes.all_layers;
        self.open(Overlay::Form(Form::reshape(song, section, &pass, all)));
    }
}

/// What to say about layers merged into one in a section, if other sections play them, too.
pub(super) fn merged_words(
    song: &Song,
    (here, merged): (Letter, PassId),
    old: [PassId; 2],
) -> Option<String> {
    song.pass(merged)?;
    let plays = |section: &Section| section.layers.iter().any(|layer| old.contains(&layer.pass));
    let others = song.sections.iter().filter(|section| section.letter != here && plays(section));
    let letters: Vec<&str> = others.map(|section| section.letter.as_str()).collect();
    let others = letters.join(", ");
    (!others.is_empty())
        .then(|| format!("Merged in {here} only; the layers in {others} stay as they were."))
}
