//! The box that suggests keys from the notes of a section, and says which parts go beyond their compass and by
//! which transposition they fit.
//!
//! In: the song as it is heard. Out: rows to choose from; one taken sets the key of the section, or transposes
//! the song or the section. Nothing changes until then. The box follows what changes while it is open.

use super::key_steps::{KeyStep, KeyTime};
use super::{Awaited, Effect, Overlay, Screen};
use crate::action::Move;
use crate::chords::{key_heard, shift};
use crate::desk::DeskState;
use crate::text::plural;
use chaconne_engine::{Command, KeyChange, KeyOf, NewKey, Status, heard_notes};
use chaconne_harmony::{
    Fit, PitchClass, Reach, Totals, best_fit, compass_name, guesses, note_name, outside,
    transposed_key,
};
use chaconne_song::{Commit, Edit, KeySignature, Letter, Section, SectionEdit, Track, Transpose};

/// How many likely keys are offered.
const KEYS: usize = 4;

/// The open box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyBox {
    /// The section.
    pub section: Letter,
    /// What can be chosen, the likeliest key first and then the tracks that have a compass.
    pub rows: Vec<KeyRow>,
    /// The row that the cursor is on.
    pub at: usize,
    /// When it transposes.
    pub time: KeyTime,
    /// What it was made from: the revision of the song, and the change of key to come.
    made_from: (u64, Option<KeyChange>),
}

/// A row of the box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyRow {
    /// A key that the notes suggest.
    Key {
        /// The key as it sounds.
        sounds: KeySignature,
        /// The key to write, before transposition.
        written: KeySignature,
        /// The correlation with the notes, in hundredths.
        fits: i32,
        /// Whether it is the key of the section already.
        is_set: bool,
    },
    /// A track with a compass.
    Compass {
        /// Its name.
        name: String,
        /// Its lowest and its highest note in the song, spelled; empty without notes.
        range: String,
        /// Its compass, spelled.
        compass: String,
        /// The sections in which it goes beyond, with how many semitones it is too low and too high.
        beyond: Vec<(Letter, u8, u8)>,
        /// The transposition that fits best.
        fit: (Transpose, u8),
    },
    /// The song or the section, to be transposed by semitones.
    Step(KeyStep),
}

impl KeyBox {
    /// What the notes of a section and of the whole song say.
    fn new(status: &Status, section: &Section) -> KeyBox {
        let song = &status.song;
        let mut totals = Totals::default();
        let mut reaches: Vec<(&Track, Vec<Reach>)> = Vec::new();
        reaches.extend(
            song.tracks.iter().filter(|track| track.pitched).map(|track| (&**track, vec![])),
        );
        for one in &song.sections {
            for note in heard_notes(song, one.letter) {
                if one.letter == section.letter {
                    let length = u64::try_from(note.length.0).unwrap_or_default();
                    totals.add(PitchClass::of(note.key), length);
                }
                let Some((_, reach)) = reaches.iter_mut().find(|(track, _)| track.id == note.track)
                else {
                    continue;
                };
                match reach.last_mut().filter(|reach| reach.section == one.letter) {
                    Some(reach) => {
                        (reach.low, reach.high) =
                            (reach.low.min(note.key), reach.high.max(note.key));
                    }
                    None => {
                        reach.push(Reach { section: one.letter, low: note.key, high: note.key });
                    }
                }
            }
        }
        let (by, set) = (shift(song, section), section.key.or(song.key));
        let key = |guess: chaconne_harmony::Guess| {
            let written = transposed_key(guess.key, -by);
            let fits = (guess.correlation * 100.0).round() as i32;
            KeyRow::Key { sounds: guess.key, written, fits, is_set: set == Some(written) }
        };
        let mut rows: Vec<KeyRow> = guesses(&totals).into_iter().take(KEYS).map(key).collect();
        let spelled = key_heard(song, section);
        rows.extend(reaches.iter().filter_map(|(track, reaches)| {
            let compass = track.compass?;
            let Fit { by, outside: left } = best_fit(reaches, compass);
            let ends = reaches.iter().map(|reach| reach.low).min();
            let ends = ends.zip(reaches.iter().map(|reach| reach.high).max());
            let range = ends.map(|(low, high)| {
                format!("{} to {}", note_name(low, spelled), note_name(high, spelled))
            });
            Some(KeyRow::Compass {
                name: track.name.clone(),
                range: range.unwrap_or_default(),
                compass: compass_name(compass, spelled),
                beyond: outside(reaches, compass),
                fit: (by, left),
            })
        }));
        if !rows.is_empty() {
            rows.extend(KeyStep::rows(status, section).map(KeyRow::Step));
        }
        let (letter, time) = (section.letter, KeyTime::new(status));
        KeyBox { section: letter, rows, at: 0, time, made_from: made_from(status) }
    }

    /// The box as it is after a change: the cursor stays on its row, and the steps stay chosen.
    fn again(&self, status: &Status, section: &Section) -> KeyBox {
        let new = KeyBox::new(status, section);
        let place = |row: &KeyRow| self.rows.iter().position(|old| old.is_alike(row));
        let at = new.rows.iter().position(|row| place(row) == Some(self.at));
        let mut new = KeyBox {
            at: at.unwrap_or(self.at.min(new.rows.len().saturating_sub(1))),
            time: self.time.at(status),
            ..new
        };
        for row in &mut new.rows {
            let old = self.rows.iter().find(|old| old.is_alike(row));
            if let (KeyRow::Step(new), Some(KeyRow::Step(old))) = (row, old) {
                new.step(old.by);
            }
        }
        new
    }

    /// Transposes by a semitone more or less, in a row that does.
    fn step(&mut self, by: i8) {
        if let Some(KeyRow::Step(step)) = self.rows.get_mut(self.at) {
            step.step(by);
        }
    }

    pub(super) fn go(&mut self, to: Move) {
        match to {
            Move::Left => return self.step(-1),
            Move::Right => return self.step(1),
            _ => {}
        }
        self.at = to.along(self.at, self.rows.len(), self.rows.len().saturating_sub(1));
    }

    /// What the row of the cursor says, and what Enter does with it.
    pub fn sentence(&self) -> String {
        match self.rows.get(self.at) {
            None => String::new(),
            Some(KeyRow::Step(step)) => step.sentence(&self.time.words()),
            Some(KeyRow::Key { sounds, is_set: true, .. }) => {
                format!("{} is in {sounds} already.", self.section)
            }
            Some(KeyRow::Key { sounds, fits, .. }) => format!(
                "Only a suggestion: the notes of {} fit {sounds} (correlation {}). {{confirm}} makes it the key \
                 of the section; what is played stays.",
                self.section,
                hundredths(*fits)
            ),
            Some(KeyRow::Compass { name, range, .. }) if range.is_empty() => {
                format!("{name} has no notes yet.")
            }
            Some(KeyRow::Compass { name, beyond, compass, .. }) if beyond.is_empty() => {
                format!("{name} stays within {compass} in every section.")
            }
            Some(KeyRow::Compass { name, beyond, fit: (by, left), .. }) => {
                let beyond: Vec<String> = beyond.iter().map(beyond_words).collect();
                let beyond = format!("{name} is {}.", beyond.join(", "));
                match (by.semitones(), left) {
                    (0, _) => format!("{beyond} No transposition fits better."),
                    (by, 0) => {
                        format!(
                            "{beyond} Transposed by {by} it fits: {{confirm}} does that to the whole song{}.",
                            self.time.words()
                        )
                    }
                    (by, left) => format!(
                        "{beyond} Transposed by {by} it is still {} out: {{confirm}} does that to the whole song{}.",
                        semitones(*left),
                        self.time.words()
                    ),
                }
            }
        }
    }
}

impl KeyRow {
    /// Whether two rows are about the same: a key, a track, or what is transposed.
    fn is_alike(&self, other: &KeyRow) -> bool {
        match (self, other) {
            (KeyRow::Key { written, .. }, KeyRow::Key { written: other, .. }) => written == other,
            (KeyRow::Compass { name, .. }, KeyRow::Compass { name: other, .. }) => name == other,
            (KeyRow::Step(step), KeyRow::Step(other)) => step.of == other.of,
            _ => false,
        }
    }
}

fn made_from(status: &Status) -> (u64, Option<KeyChange>) {
    (status.revision, status.key_change.clone())
}

/// A correlation as it is written.
pub fn hundredths(fits: i32) -> String {
    let sign = if fits < 0 { "-" } else { "" };
    format!("{sign}{}.{:02}", fits.abs() / 100, fits.abs() % 100)
}

/// How far a part goes beyond its compass in a section.
fn beyond_words(&(letter, below, above): &(Letter, u8, u8)) -> String {
    match (below, above) {
        (0, above) => format!("{} too high in {letter}", semitones(above)),
        (below, 0) => format!("{} too low in {letter}", semitones(below)),
        (below, above) => {
            format!("{} too low and {above} too high in {letter}", semitones(below))
        }
    }
}

fn semitones(count: u8) -> String {
    format!("{count} {}", plural(usize::from(count), "semitone"))
}

impl Screen {
    /// Opens the box for a section.
    pub(super) fn open_key_box(&mut self, status: &Status, section: &Section) {
        let found = KeyBox::new(status, section);
        if found.rows.is_empty() {
            return self.say_with_keys(
                "There are no pitched notes here to find a key from; {edit-track} gives a track the compass of \
                 its singer.",
            );
        }
        self.open(Overlay::Key(found));
    }

    /// Keeps an open box up to date; it closes if its section is gone.
    pub(super) fn follow_key_box(&mut self, state: &DeskState) {
        let status = &state.status;
        let Some(Overlay::Key(open)) = self.overlays.top_mut() else { return };
        if open.made_from == made_from(status) {
            open.time = open.time.at(status);
            return;
        }
        let new = status.song.section(open.section).map(|section| open.again(status, section));
        match new.filter(|new| !new.rows.is_empty()) {
            Some(new) => *open = new,
            None => _ = self.overlays.close(),
        }
        self.version += 1;
    }

    /// Takes the next time to transpose in the key box.
    pub(super) fn step_when_of_key(&mut self) {
        if let Some(Overlay::Key(open)) = self.overlays.top_mut() {
            open.time.step();
        }
    }

    /// Takes the row of the cursor: the key for the section, or a transposition.
    pub(super) fn confirm_key_box(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Key(open)) = self.overlays.close() else { return };
        let song = &state.status.song;
        let when = open.time.when();
        let command = match open.rows.get(open.at) {
            Some(KeyRow::Key { written, is_set: false, .. }) => {
                self.awaited = Some(Awaited::Key(open.section));
                let edit = SectionEdit::Key(Some(*written));
                Command::Edit(Commit::of(Edit::Section(open.section, edit)))
            }
            Some(KeyRow::Compass { beyond, fit: (by, _), .. })
                if !beyond.is_empty() && by.semitones() != 0 =>
            {
                let to = song.transpose.semitones().checked_add(by.semitones());
                let Some(to) = to.and_then(Transpose::new) else {
                    return self.complain(
                        "The song would be transposed too far: by more than 36 semitones.",
                    );
                };
                // What is to come is said by the engine.
                self.awaited = when.is_none().then_some(Awaited::Transposed);
                Command::Transpose(KeyOf::Song, NewKey::To(to), when)
            }
            Some(KeyRow::Step(step)) => {
                let Some(command) = step.command(when) else { return };
                self.awaited = when.is_none().then_some(match step.of {
                    KeyOf::Song => Awaited::Transposed,
                    KeyOf::Section(letter) => Awaited::TransposedSection(letter),
                });
                command
            }
            _ => return,
        };
        out.push(Effect::Command(command));
    }
}
