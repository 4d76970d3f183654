//! New notes: drawn, pasted, repeated.

use super::{NoteRef, Picked, ReviseError, free_ids, round};
use crate::{Channel, Commit, Edit, Label, Note, PassEdit, Placed, SharedPass, Stroke};
use chaconne_time::Tick;
use std::collections::BTreeSet;

/// Notes that were copied, to be pasted anywhere.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Clip {
    /// Each with its channel, in order of time; starts are counted from that of the first.
    notes: Vec<(Channel, Stroke)>,
}

impl Clip {
    /// One note.
    pub fn note(channel: Channel, stroke: Stroke) -> Clip {
        Clip { notes: vec![(channel, Stroke { start: Tick::ZERO, ..stroke })] }
    }

    /// How many notes there are.
    pub fn len(&self) -> usize {
        self.notes.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.notes.is_empty()
    }

    /// Adds the notes to a pass, the first at a tick of the pass. What reaches past the end of the
    /// pass goes on at its start; a note that is longer than the pass is cut.
    ///
    /// # Errors
    /// If there are none, or the pass cannot hold them.
    pub fn paste(&self, into: &SharedPass, at: Tick, label: Label) -> Result<Pasted, ReviseError> {
        let strokes = self.notes.iter().map(|&(channel, stroke)| {
            let start = round(at, stroke.start, into.length);
            (channel, Stroke { start, length: stroke.length.min(into.length), ..stroke })
        });
        add(label, vec![(into, strokes.collect())])
    }
}

/// New notes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pasted {
    /// What adds them.
    pub commit: Commit,
    /// What they will be called.
    pub notes: BTreeSet<NoteRef>,
}

impl Picked {
    /// Copies them, as they are placed.
    pub fn copy(&self) -> Clip {
        let all = self.in_time();
        let first = all.first().map_or(Tick::ZERO, |(_, note)| note.stroke().start);
        let copy = |(_, note): &(&SharedPass, &Note)| {
            let stroke = note.stroke();
            (note.channel, Stroke { start: stroke.start - first, ..stroke })
        };
        Clip { notes: all.iter().map(copy).collect() }
    }

    /// Copies each into its own pass, later by so many ticks.
    ///
    /// # Errors
    /// If there are none, or a pass cannot hold them.
    pub fn repeat(&self, later: Tick) -> Result<Pasted, ReviseError> {
        let passes = self.passes.iter().map(|(pass, notes)| {
            let later = |note: &Note| {
                let stroke = note.stroke();
                let start = round(stroke.start, later, pass.length);
                (note.channel, Stroke { start, ..stroke })
            };
            (pass, notes.iter().map(later).collect())
        });
        add(Label::RepeatNotes, passes.collect())
    }

    /// How much later a repeat begins, if it comes right after: a whole number of `unit`s.
    pub fn span(&self, unit: Tick) -> Tick {
        let first = self.notes().map(|note| note.stroke().start).min().unwrap_or_default();
        let end = self.notes().map(|note| note.stroke().end()).max().unwrap_or_default();
        // A note that is played a little early or held a little long is meant for the unit.
        let taken = ((end - first).0 - unit.0 / 4).max(1);
        unit * ((taken + unit.0 - 1) / unit.0)
    }
}

fn add(
    label: Label,
    passes: Vec<(&SharedPass, Vec<(Channel, Stroke)>)>,
) -> Result<Pasted, ReviseError> {
    let (mut edits, mut names) = (Vec::new(), BTreeSet::new());
    for (pass, strokes) in passes.into_iter().filter(|(_, strokes)| !strokes.is_empty()) {
        let ids = free_ids(pass, strokes.len())?;
        names.extend(ids.iter().map(|&note| NoteRef { pass: pass.id, note }));
        let note =
            |(id, (channel, played))| Note { id, channel, played, placed: Placed::UNCHANGED };
        let notes = std::iter::zip(ids, strokes).map(note).collect();
        edits.push(Edit::Pass(pass.id, PassEdit::AddNotes(notes)));
    }
    match edits.is_empty() {
        true => Err(ReviseError::Nothing),
        false => Ok(Pasted { commit: Commit::new(label, edits), notes: names }),
    }
}
