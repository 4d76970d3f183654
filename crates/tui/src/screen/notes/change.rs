//! What the view of the notes changes in the song.
//!
//! Each change is one step of undo; those of a key that is held down are one step together.

use super::super::{Effect, Screen};
use crate::action::{Arrows, Move, NoteAction, Side, Vertical};
use crate::axis::Grain;
use crate::desk::DeskState;
use crate::input::Again;
use crate::text;
use chaconne_engine::Command;
use chaconne_song::{
    Clip, Commit, Edit, Label, Note, NoteRef, Pass, Picked, Placed, ReviseError, SharedPass,
    Stroke, U7,
};
use chaconne_time::Tick;
use std::sync::Arc;

/// The velocity of a drawn note, until a note has been under the cursor.
const VELOCITY: U7 = U7::low_bits(96);

impl Screen {
    pub(in super::super) fn act_on_notes(
        &mut self,
        action: NoteAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        match action {
            NoteAction::Arrows(arrows) => self.turn_arrows(arrows),
            NoteAction::Arrow(to) => self.arrow_in_notes(to, state, out),
            NoteAction::ChooseLane => self.open_lanes(state),
            NoteAction::Draw | NoteAction::Delete | NoteAction::Range
                if self.notes.arrows == Arrows::Lane =>
            {
                self.act_on_lane(action, state, out);
            }
            NoteAction::Step(side) => self.step(side, state, out),
            NoteAction::Octave(way) => self.octave(way, state, out),
            NoteAction::Draw => self.draw_note(state, out),
            NoteAction::Delete => self.revise(self.picked().remove(), out),
            NoteAction::Range => self.select_range(state),
            NoteAction::Release => self.release_notes(),
            NoteAction::Layers => self.turn_layers(state),
            NoteAction::Keys => self.turn_keys(),
            NoteAction::Open(list) => self.open_notes_menu(list),
            NoteAction::Do(operation) => self.operate(operation, state, out),
            NoteAction::Pick(picking) => self.pick_notes(picking, state),
        }
    }

    /// What the arrows do: move the cursor, or change notes.
    pub(in super::super) fn arrow_in_notes(
        &mut self,
        to: Move,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let mark = self.note_step(state);
        let picked = self.picked();
        let made = match (self.notes.arrows, to) {
            (Arrows::Cursor, _) | (_, Move::First | Move::Last) => {
                return self.move_in_notes(to, state);
            }
            (Arrows::Move, Move::Left) => picked.shift(-mark),
            (Arrows::Move, Move::Right) => picked.shift(mark),
            (Arrows::Move, Move::Up) => picked.transpose(1),
            (Arrows::Move, Move::Down) => picked.transpose(-1),
            (Arrows::Move, Move::PageUp) => picked.transpose(12),
            (Arrows::Move, Move::PageDown) => picked.transpose(-12),
            (Arrows::Length, Move::Left) => picked.lengthen(-mark),
            (Arrows::Length, Move::Right) => picked.lengthen(mark),
            (Arrows::Length, _) => {
                return self.say_with_keys(
                    "{arrow-left} and {arrow-right} change the length: {deselect} ends that.",
                );
            }
            (Arrows::Velocity, Move::Up) => picked.louder(1),
            (Arrows::Velocity, Move::Down) => picked.louder(-1),
            (Arrows::Velocity, Move::Right | Move::PageUp) => picked.louder(10),
            (Arrows::Velocity, Move::Left | Move::PageDown) => picked.louder(-10),
            (Arrows::Lane, Move::Left | Move::Right) => return self.move_in_notes(to, state),
            (Arrows::Lane, Move::Up) => return self.raise_in_lane(1, state, out),
            (Arrows::Lane, Move::Down) => return self.raise_in_lane(-1, state, out),
            (Arrows::Lane, Move::PageUp) => return self.raise_in_lane(10, state, out),
            (Arrows::Lane, Move::PageDown) => return self.raise_in_lane(-10, state, out),
        };
        self.revise(made, out);
    }

    /// To the next note or, if the arrows change when or how long notes sound, the same by a tick.
    fn step(&mut self, side: Side, state: &DeskState, out: &mut Vec<Effect>) {
        let by = Tick(if side == Side::Left { -1 } else { 1 });
        let made = match self.notes.arrows {
            Arrows::Cursor | Arrows::Velocity => return self.step_to_note(side, state),
            Arrows::Lane => return self.step_in_lane(side, state),
            Arrows::Move => self.picked().shift(by),
            Arrows::Length => self.picked().lengthen(by),
        };
        self.revise(made, out);
    }

    fn octave(&mut self, way: Vertical, state: &DeskState, out: &mut Vec<Effect>) {
        match self.notes.arrows {
            Arrows::Move => {
                let by = if way == Vertical::Up { 12 } else { -12 };
                self.revise(self.picked().transpose(by), out);
            }
            Arrows::Lane => {
                self.raise_in_lane(if way == Vertical::Up { 10 } else { -10 }, state, out);
            }
            _ => self.step_octave(way, state),
        }
    }

    /// The notes that an operation is about.
    pub(super) fn picked(&self) -> Picked {
        let Some(sheet) = &self.notes.sheet else { return Picked::default() };
        Picked::new(sheet.layers.iter().map(|layer| &layer.pass), &self.notes.meant())
    }

    /// Makes a change, or says why not.
    pub(super) fn revise(&mut self, made: Result<Commit, ReviseError>, out: &mut Vec<Effect>) {
        match made {
            Ok(commit) => self.make(commit, out),
            Err(error) => self.say(&text::sentence(&error.to_string())),
        }
    }

    /// Makes a change by a key that may be held: one step of undo, however long it is.
    pub(in crate::screen) fn make(&mut self, commit: Commit, out: &mut Vec<Effect>) {
        let (again, edited) = (self.again, self.edited);
        self.edited = true;
        if again == Again::SecondRepeat && edited {
            // What looked like a second press was the first repeat.
            out.push(Effect::Command(Command::JoinSteps));
        }
        let command = match again {
            Again::Press => Command::Edit(commit),
            Again::SecondRepeat | Again::Repeat => Command::EditOn(commit),
        };
        out.push(Effect::Command(command));
    }

    /// How much time a step moves: a mark.
    pub(super) fn note_step(&self, state: &DeskState) -> Tick {
        let mark = self.cursor_mark(state).map_or(Tick(1), |mark| mark.length());
        match self.notes_scale(state).map(|scale| scale.grain) {
            // The last mark of a bar may be shorter.
            Some(Grain::Ticks(ticks)) => Tick(ticks),
            _ => mark,
        }
    }

    /// The pass that new notes go into: that of the note under the cursor, else the chosen layer.
    pub(in super::super) fn target(&self, state: &DeskState) -> Option<SharedPass> {
        let sheet = self.notes.sheet.as_ref()?;
        let of_note = self.notes.on.and_then(|name| sheet.note(name));
        let chosen = || {
            let stack = self.stack(state)?;
            let at = self.layers.chosen(&stack)?;
            Some(stack.layers[at].0.clone())
        };
        of_note.map(|(layer, _)| layer.pass.clone()).or_else(chosen)
    }

    /// Where the cursor is, counted from the start of a pass.
    pub(super) fn cursor_in(&self, pass: &Pass, state: &DeskState) -> Tick {
        let base = self.notes.sheet.as_ref().map(|sheet| sheet.base(state.status.round));
        (self.notes.at + base.unwrap_or_default()).cycle(pass.length).1
    }

    /// Draws a note at the cursor, a mark long.
    fn draw_note(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let base = sheet.base(state.status.round);
        if let Some(lying) = self.notes.on.and_then(|name| sheet.nearest(name, self.notes.at, base))
            && lying.on.max(Tick::ZERO) == self.notes.at
        {
            return self.say("There is a note here already.");
        }
        let velocity = self.notes.velocity.unwrap_or(VELOCITY);
        let (start, length, key) = (Tick::ZERO, self.note_step(state), self.notes.key);
        let stroke = Stroke { start, length, key, velocity, release: U7::CENTRE };
        let Some(pass) = self.target(state) else {
            return self.draw_first_note(stroke, state, out);
        };
        let channel = pass.notes().first().map(|note| note.channel);
        let channel = channel.or(sheet.track.channel).unwrap_or_default();
        let at = self.cursor_in(&pass, state);
        match Clip::note(channel, stroke).paste(&pass, at, Label::AddNotes) {
            Ok(pasted) => {
                self.notes.on = pasted.notes.first().copied();
                self.revise(Ok(pasted.commit), out);
            }
            Err(error) => self.revise(Err(error), out),
        }
    }

    /// Draws a note into a new layer, because the track has none here.
    fn draw_first_note(&mut self, stroke: Stroke, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let (song, section, track) = (&state.status.song, &sheet.section, &sheet.track);
        let id = song.ids().pass();
        let mut pass = Arc::new(Pass::empty(id, track.id, section.length()));
        let channel = track.channel.unwrap_or_default();
        let length = stroke.length.min(section.length());
        let played = Stroke { start: self.notes.at, length, ..stroke };
        let note = Note { id: pass.free_note_id(), channel, played, placed: Placed::UNCHANGED };
        self.notes.on = Some(NoteRef { pass: id, note: note.id });
        Arc::make_mut(&mut pass).notes_mut().notes.push(note);
        let lay = Edit::lay(section.letter, section.layers.len(), pass);
        self.revise(Ok(Commit::of(lay)), out);
    }
}
