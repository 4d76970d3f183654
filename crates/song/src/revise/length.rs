//! How long notes are held: longer, shorter, split in two, joined into one.

use super::{NoteRef, Picked, ReviseError, free_ids, length, removal};
use crate::{Commit, Edit, Label, Note, PassEdit, Placed, SharedPass, Stroke};
use chaconne_time::Tick;
use std::collections::BTreeMap;

/// A place inside a note.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cut {
    /// The note.
    pub of: NoteRef,
    /// How far into the note, in ticks.
    pub into: Tick,
}

impl Picked {
    /// Makes them longer, or shorter if `by` is negative.
    ///
    /// # Errors
    /// If one would be shorter than a tick or longer than its pass.
    pub fn lengthen(&self, by: Tick) -> Result<Commit, ReviseError> {
        for (pass, notes) in &self.passes {
            for note in notes {
                let to = note.stroke().length + by;
                if to < Tick(1) {
                    return Err(ReviseError::TooShort);
                }
                if to > pass.length {
                    return Err(ReviseError::TooLong);
                }
            }
        }
        self.place(Label::NoteLength, |_, note| length(note, note.stroke().length + by))
    }

    /// Splits notes in two. Cuts that do not fall inside a picked note are left out.
    ///
    /// # Errors
    /// If none does.
    pub fn split(&self, cuts: &[Cut]) -> Result<Commit, ReviseError> {
        let mut edits = Vec::new();
        for (pass, notes) in &self.passes {
            let into = |note: &Note| {
                let of = NoteRef { pass: pass.id, note: note.id };
                let cut = cuts.iter().find(|cut| cut.of == of)?;
                let inside = Tick(1) <= cut.into && cut.into < note.stroke().length;
                inside.then_some((*note, cut.into))
            };
            let parts: Vec<(Note, Tick)> = notes.iter().filter_map(into).collect();
            if parts.is_empty() {
                continue;
            }
            let ids = free_ids(pass, parts.len())?;
            let shorter = parts.iter().map(|(note, into)| (note.id, length(note, *into))).collect();
            let rest = std::iter::zip(&parts, ids).map(|((note, into), id)| {
                let whole = note.stroke();
                let start = super::round(whole.start, *into, pass.length);
                let played = Stroke { start, length: whole.length - *into, ..whole };
                Note { id, channel: note.channel, played, placed: Placed::UNCHANGED }
            });
            edits.push(Edit::Pass(pass.id, PassEdit::Place(shorter)));
            edits.push(Edit::Pass(pass.id, PassEdit::AddNotes(rest.collect())));
        }
        match edits.is_empty() {
            true => Err(self.nothing_or(ReviseError::NoCut)),
            false => Ok(Commit::new(Label::SplitNotes, edits)),
        }
    }

    /// Joins those of one pitch into one note, from the start of the first to the end of the last. One
    /// that is alone with its pitch is joined with the next note of that pitch in its pass.
    ///
    /// # Errors
    /// If none can be joined with another.
    pub fn join(&self) -> Result<Commit, ReviseError> {
        let mut edits = Vec::new();
        for (pass, notes) in &self.passes {
            let (mut longer, mut gone) = (Vec::new(), Vec::new());
            for line in lines(notes) {
                let line = if line.len() > 1 { line } else { with_next(pass, line) };
                let [first, rest @ ..] = line.as_slice() else { continue };
                let Some(end) = rest.iter().map(|note| note.stroke().end()).max() else { continue };
                let end = end.max(first.stroke().end());
                let whole = (end - first.stroke().start).min(pass.length);
                longer.push((first.id, length(first, whole)));
                gone.extend(rest.iter().copied());
            }
            if !gone.is_empty() {
                edits.push(Edit::Pass(pass.id, PassEdit::Place(longer)));
                edits.push(removal(pass, gone.iter()));
            }
        }
        match edits.is_empty() {
            true => Err(self.nothing_or(ReviseError::NoNext)),
            false => Ok(Commit::new(Label::JoinNotes, edits)),
        }
    }
}

/// Notes by pitch, each pitch in order of time.
fn lines(notes: &[Note]) -> Vec<Vec<Note>> {
    let mut lines: BTreeMap<_, Vec<Note>> = BTreeMap::new();
    for note in notes {
        lines.entry((note.channel, note.stroke().key)).or_default().push(*note);
    }
    let mut lines: Vec<Vec<Note>> = lines.into_values().collect();
    lines.iter_mut().for_each(|line| line.sort_by_key(|note| (note.stroke().start, note.id)));
    lines
}

/// A note and the next one of its pitch in the pass, if there is one.
fn with_next(pass: &SharedPass, mut line: Vec<Note>) -> Vec<Note> {
    let Some(first) = line.first().copied() else { return line };
    let place = |note: &Note| (note.stroke().start, note.id);
    let same = |note: &&Note| {
        (note.channel, note.stroke().key) == (first.channel, first.stroke().key)
            && place(note) > place(&first)
    };
    line.extend(pass.notes().iter().filter(same).min_by_key(|note| place(note)));
    line
}
