//! The sections and the form: where the cursors are, what can be done to a section, and playing the
//! form.
//!
//! One cursor is on a section of the list and stays on it while others come and go; another is on an
//! entry of the form, from which the form is played. Each change is a step of undo.

mod commits;
mod span;

use super::{Awaited, Effect, Overlay, Screen, View};
use crate::action::{Move, SectionAction, Vertical};
use crate::chords::{suggested, written};
use crate::desk::DeskState;
use crate::form::{Form, Purpose, SectionSpec};
use crate::keymap::Need;
use crate::text;
use chaconne_engine::{Command, Route, Status};
use chaconne_song::{
    Commit, Edit, EditError, Letter, Song, TrackId, copy_section, read_form, replace_chords,
    vary_section,
};
use chaconne_time::Tick;
use commits::{changed_section, is_accepted, new_section};
pub use span::FormSpan;

/// Where the view of the form is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SongFormView {
    /// The section under the cursor; `None` for the section shown.
    at: Option<Letter>,
    /// Its index, where the cursor stays if the section is gone.
    place: usize,
    /// The chosen entry of the form, unrolled.
    entry: usize,
    /// The span of the form that is marked.
    span: Option<FormSpan>,
}

impl SongFormView {
    /// The index of the section under the cursor.
    pub fn chosen(&self, status: &Status) -> usize {
        let sections = &status.song.sections;
        let index = |letter| sections.iter().position(|section| section.letter == letter);
        match self.at {
            None => index(status.section).unwrap_or(0),
            Some(letter) => index(letter).unwrap_or(self.place.min(sections.len() - 1)),
        }
    }

    /// The index of the chosen entry of the form, of so many.
    pub fn entry(&self, entries: usize) -> usize {
        self.entry.min(entries.saturating_sub(1))
    }

    /// The first and the last entry of the span that is marked, of so many.
    pub fn span(&self, entries: usize) -> Option<(usize, usize)> {
        let here = self.entry(entries);
        self.span.map(|span| span.ends(here)).filter(|&(_, last)| last < entries)
    }

    /// Puts the cursor on a section.
    fn go(&mut self, letter: Letter, place: usize) {
        (self.at, self.place) = (Some(letter), place);
    }
}

/// The sections of the form in the order in which it plays them; none if there is no form.
pub fn unrolled(song: &Song) -> Vec<Letter> {
    if song.form.is_empty() { Vec::new() } else { Route::letters(song) }
}

/// The entry of the form in which the song stands, if it plays the form, or the span of it that is marked, or
/// stopped in it; `letters` is the form unrolled.
pub fn standing(
    status: &Status,
    letters: &[Letter],
    span: Option<(usize, usize)>,
) -> Option<usize> {
    let (round, rounds) = status.in_form?;
    let (round, rounds) = (usize::try_from(round - 1).ok()?, usize::try_from(rounds).ok()?);
    // A form that was changed while it plays goes on as it was.
    let first = match span {
        _ if rounds == letters.len() => 0,
        Some((first, last)) if rounds == last + 1 - first => first,
        _ => return None,
    };
    Some(first + round).filter(|&at| letters.get(at) == Some(&status.section))
}

/// Where an entry of a form begins, as a tick of its route.
fn start_of(song: &Song, letters: &[Letter], entry: usize) -> Tick {
    let lengths = letters.iter().take(entry).filter_map(|&letter| song.section(letter));
    lengths.fold(Tick::ZERO, |sum, section| sum + section.length())
}

impl Screen {
    pub(super) fn move_in_song_form(&mut self, to: Move, state: &DeskState) {
        let sections = &state.status.song.sections;
        let (at, last) = (self.song_form.chosen(&state.status), sections.len() - 1);
        let next = match to {
            Move::Left | Move::Right => return self.move_in_entries(to, &state.status.song),
            Move::Up | Move::PageUp => at.saturating_sub(1),
            Move::Down | Move::PageDown => (at + 1).min(last),
            Move::First => 0,
            Move::Last => last,
        };
        self.song_form.go(sections[next].letter, next);
    }

    fn move_in_entries(&mut self, to: Move, song: &Song) {
        let entries = unrolled(song).len();
        let at = self.song_form.entry(entries);
        let next = if to == Move::Left { at.saturating_sub(1) } else { at + 1 };
        self.song_form.entry = next.min(entries.saturating_sub(1));
    }

    /// Plays the form: from the chosen entry in its own view, elsewhere from its start; in its own view the span
    /// that is marked.
    pub(super) fn play_form(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let (status, song) = (&state.status, &state.status.song);
        if status.recording {
            return self.say_with_keys("Stop recording first: press {record}.");
        }
        let letters = unrolled(song);
        let span = self.song_form.span(letters.len()).filter(|_| self.view == View::Form);
        if let Some((first, last)) = span {
            let Some(route) = Route::of(song, &letters[first..=last]) else { return };
            if self.facts(state).meet(Need::Moving) {
                out.push(Effect::Command(Command::Stop));
            }
            return out.push(Effect::Command(Command::PlayRoute(route)));
        }
        let Some(route) = Route::form(song) else { return };
        let entry = match self.view {
            View::Form => self.song_form.entry(letters.len()),
            View::Loop | View::Layers | View::Notes | View::Levels | View::Ports => 0,
        };
        if self.facts(state).meet(Need::Moving) {
            out.push(Effect::Command(Command::Stop));
        }
        out.push(Effect::Command(match start_of(song, &letters, entry) {
            Tick::ZERO => Command::PlayRoute(route),
            from => Command::PlayFrom(route, from),
        }));
    }

    pub(super) fn act_on_section(
        &mut self,
        action: SectionAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let song = &state.status.song;
        let at = self.song_form.chosen(&state.status);
        let section = &song.sections[at];
        let letter = section.letter;
        self.song_form.go(letter, at);
        let when = self.when;
        let mut ask = |command| out.push(Effect::Command(command));
        match action {
            SectionAction::Go => ask(Command::Jump(letter, when)),
            SectionAction::Add => self.open(Overlay::Form(Form::new_section(song, section))),
            SectionAction::Edit => self.open(Overlay::Form(Form::edit_section(song, section))),
            SectionAction::WriteChords => {
                self.open(Overlay::Form(Form::write_chords(song, section)))
            }
            SectionAction::WriteForm => self.open(Overlay::Form(Form::write_form(song))),
            SectionAction::Key => self.open_key_box(&state.status, section),
            SectionAction::Arrange
            | SectionAction::Split
            | SectionAction::Join
            | SectionAction::Lift
            | SectionAction::Length
            | SectionAction::HalfTime
            | SectionAction::DoubleTime
            | SectionAction::Tempo => self.arrange_section(action, section, state, out),
            SectionAction::Append => ask(Command::AppendToForm(letter)),
            SectionAction::DropLast => ask(Command::DropFromForm),
            SectionAction::Span => self.mark_span(song),
            SectionAction::Remove => ask(Command::Edit(Commit::of(Edit::RemoveSection(letter)))),
            SectionAction::Copy => {
                let Ok(commit) = copy_section(song, letter) else { return };
                ask(Command::Edit(commit));
                self.follow_copy(song, at);
            }
            SectionAction::Vary => {
                let Ok(commit) = vary_section(song, letter) else { return };
                ask(Command::Edit(commit));
                self.follow_copy(song, at);
            }
            SectionAction::Shift(way) => {
                let to = match way {
                    Vertical::Up => at.checked_sub(1),
                    Vertical::Down => Some(at + 1).filter(|&down| down < song.sections.len()),
                };
                match (to, way) {
                    (Some(to), _) => {
                        ask(Command::Edit(Commit::of(Edit::MoveSection(letter, to))));
                    }
                    (None, Vertical::Up) => self.say("This is the first section."),
                    (None, Vertical::Down) => self.say("This is the last section."),
                }
            }
        }
    }

    /// Puts the cursor on the copy of a section, which is below it.
    pub(super) fn follow_copy(&mut self, song: &Song, at: usize) {
        if let Some(letter) = song.free_letter() {
            self.song_form.go(letter, at + 1);
        }
    }

    /// Adds or changes a section, or says in the form why not.
    pub(super) fn take_section(
        &mut self,
        spec: &SectionSpec,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let song = &state.status.song;
        let at = self.song_form.chosen(&state.status);
        let commit = match spec.of {
            None => new_section(spec, at),
            Some(letter) => changed_section(song, spec, letter),
        };
        match commit.and_then(|commit| is_accepted(song, spec, commit)) {
            Err((field, error)) => self.on_form(|form| form.refuse(field, error)),
            Ok(commit) => {
                self.overlays.close();
                let place = if spec.of.is_some() { at } else { at + 1 };
                self.song_form.go(spec.letter, place);
                let was = spec.of.and_then(|letter| song.section(letter));
                if was.is_some_and(|section| section.transpose != spec.transpose) {
                    self.awaited = Some(Awaited::TransposedSection(spec.letter));
                }
                if !commit.edits.is_empty() {
                    out.push(Effect::Command(Command::Edit(commit)));
                }
            }
        }
    }

    /// Sets the form, or says in the form that was filled in why not.
    pub(super) fn take_song_form(&mut self, typed: &str, state: &DeskState, out: &mut Vec<Effect>) {
        let form = match read_form(typed, &state.status.song) {
            Ok(form) => form,
            Err(error) => {
                let error = text::sentence(&error.to_string());
                return self.on_form(|form| form.refuse(0, error));
            }
        };
        let edit = Edit::Form(form.clone());
        match edit.clone().apply(&mut Song::clone(&state.status.song)) {
            Err(EditError::NoSection(letter)) => {
                let error = format!("There is no section {letter}: add it first, or leave it out.");
                self.on_form(|form| form.refuse(0, error));
            }
            Err(error) => {
                self.on_form(|form| form.refuse(0, text::sentence(&error.to_string())));
            }
            Ok(_) => {
                self.overlays.close();
                if form != state.status.song.form {
                    out.push(Effect::Command(Command::Edit(Commit::of(edit))));
                }
            }
        }
    }

    /// Sets the chords of a section, or says in the form that was filled in why not.
    pub(super) fn take_chords(
        &mut self,
        letter: Letter,
        typed: &str,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let Some(section) = state.status.song.section(letter) else {
            let error = format!("There is no section {letter} any more.");
            return self.on_form(|form| form.refuse(0, error));
        };
        match chaconne_harmony::chart(typed, &section.metre) {
            Err(error) => {
                self.on_form(|form| form.refuse(0, text::sentence(&error.to_string())));
            }
            Ok(chords) => {
                self.overlays.close();
                let chords = written(&state.status.song, section, &chords);
                let commit = replace_chords(section, &chords);
                if !commit.edits.is_empty() {
                    out.push(Effect::Command(Command::Edit(commit)));
                }
            }
        }
    }

    /// Fills the field of the chords with what the notes of the chosen track suggest, or those of all
    /// pitched tracks if it has none.
    pub(super) fn suggest_chords(&mut self, state: &DeskState) {
        let song = &state.status.song;
        let Some(Overlay::Form(Form { purpose: Purpose::Chords(letter), .. })) =
            self.overlays.top()
        else {
            return;
        };
        let Some(section) = song.section(*letter) else { return };
        let pitched = song.tracks.iter().filter(|track| track.pitched);
        let all: Vec<TrackId> = pitched.map(|track| track.id).collect();
        let chosen = self.chosen.filter(|chosen| all.contains(chosen));
        let of_chosen = chosen.map(|chosen| suggested(song, section, &[chosen]));
        let (chords, of) = match of_chosen.filter(|chords| !chords.is_empty()) {
            Some(chords) => (chords, chosen.and_then(|chosen| song.track(chosen))),
            None => (suggested(song, section, &all), None),
        };
        if chords.is_empty() {
            return self.say("No chords were recognised in this section: write them, or play a part with chords.");
        }
        self.on_form(|form| form.suggest_chords(section, &chords));
        let number = of.and_then(|of| song.tracks.iter().position(|track| track.id == of.id));
        self.say(&match (of, number) {
            (Some(track), Some(at)) => {
                format!("Suggested by the notes of track {}, {}.", at + 1, track.name)
            }
            _ => "Suggested by the notes of all pitched tracks.".to_string(),
        });
    }
}
