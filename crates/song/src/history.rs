//! The history: commits that can be undone and redone. It is data: with its text it survives the
//! program.
//!
//! A step holds the edits that undo it, or, once undone, those that redo it: each time it is
//! applied, it is turned round. Besides a plain step there are amendments, which belong to a step
//! that is there already, and runs, several commits of one kind that count as one step.

use crate::{Commit, Edit, EditError, Label, PassEdit, PassId, SectionEdit, Song};
use std::mem::discriminant;

/// One step of undo or redo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What was done.
    pub label: Label,
    /// What undoes it, or does it again.
    pub edits: Vec<Edit>,
}

/// The changes of a song, newest last; without limit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    pub(crate) undo: Vec<Step>,
    pub(crate) redo: Vec<Step>,
    /// The step before which a pass belongs that is not recorded yet.
    expected: Option<usize>,
    /// Whether the next commit of a run starts a step of its own.
    closed: bool,
}

impl History {
    /// A history of these steps: those that can be undone, oldest first, and those that can be
    /// redone, the next one last.
    pub fn new(undo: Vec<Step>, redo: Vec<Step>) -> History {
        History { undo, redo, expected: None, closed: true }
    }

    /// The steps that can be undone, oldest first.
    pub fn undo_steps(&self) -> &[Step] {
        &self.undo
    }

    /// The steps that can be redone, the next one last.
    pub fn redo_steps(&self) -> &[Step] {
        &self.redo
    }

    /// Makes a commit, as a step of its own.
    pub fn step(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        let label = commit.label;
        let edits = commit.apply(song)?;
        self.undo.push(Step { label, edits });
        self.redo.clear();
        self.closed = false;
        Ok(())
    }

    /// Makes a commit that is undone together with the step before it, where that is a commit of
    /// the same label that sets the same things; else as a step of its own. Holding a key that
    /// moves a note is such a run.
    pub fn run(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        if !self.goes_on(&commit) {
            return self.step(song, commit);
        }
        // The step knows how everything was before the run.
        commit.apply(song).map(|_| ())
    }

    /// Whether a commit goes on with the newest step.
    fn goes_on(&self, commit: &Commit) -> bool {
        let since = self.expected.is_none_or(|place| place < self.undo.len());
        let same = |step: &Step| {
            let alike = |(one, other): (&Edit, &Edit)| sets_the_same(one, other);
            step.label == commit.label
                && step.edits.len() == commit.edits.len()
                && std::iter::zip(step.edits.iter().rev(), &commit.edits).all(alike)
        };
        !self.closed && since && self.redo.is_empty() && self.undo.last().is_some_and(same)
    }

    /// Ends a run: what comes next is a step of its own.
    pub fn end_run(&mut self) {
        self.closed = true;
    }

    /// Makes edits as part of an earlier step: the newest one that laid `pass`, or
    /// the newest of all where none did. Redo stays as it is. Without a step they are made, and
    /// cannot be undone.
    pub fn amend(
        &mut self,
        song: &mut Song,
        pass: PassId,
        edits: Vec<Edit>,
    ) -> Result<(), EditError> {
        let mut inverse = Edit::apply_all(edits, song)?;
        let laid = |step: &Step| step.edits.iter().any(|edit| removes(edit, pass));
        let place = self.undo.iter().rposition(laid).or(self.undo.len().checked_sub(1));
        if let Some(step) = place.and_then(|place| self.undo.get_mut(place)) {
            // What removes the pass takes the amendment along.
            if !laid(step) {
                inverse.append(&mut step.edits);
                step.edits = inverse;
            }
        }
        Ok(())
    }

    /// From here on, changes are made after a pass that is not there yet. None of them may be of
    /// what a new pass changes: the song's passes.
    pub fn expect_pass(&mut self) {
        self.expected.get_or_insert(self.undo.len());
    }

    /// The pass has been added, or never will be.
    pub fn expect_nothing(&mut self) {
        self.expected = None;
    }

    /// Makes a commit, as one that came before those since a pass was expected.
    pub fn step_expected(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        let label = commit.label;
        let edits = commit.apply(song)?;
        let place = self.expected.map_or(self.undo.len(), |place| place.min(self.undo.len()));
        self.undo.insert(place, Step { label, edits });
        self.redo.clear();
        self.expected = self.expected.map(|_| place + 1);
        Ok(())
    }

    /// Undoes the newest step and returns its label.
    pub fn undo(&mut self, song: &mut Song) -> Result<Option<Label>, EditError> {
        self.expected = None;
        self.closed = true;
        turn(&mut self.undo, &mut self.redo, song)
    }

    /// Redoes the step undone last and returns its label.
    pub fn redo(&mut self, song: &mut Song) -> Result<Option<Label>, EditError> {
        self.closed = true;
        turn(&mut self.redo, &mut self.undo, song)
    }

    /// The edits that undo the newest step.
    pub fn newest(&self) -> Option<&[Edit]> {
        self.undo.last().map(|step| &step.edits[..])
    }

    /// What undo would undo.
    pub fn undo_label(&self) -> Option<Label> {
        self.undo.last().map(|step| step.label)
    }

    /// What redo would redo.
    pub fn redo_label(&self) -> Option<Label> {
        self.redo.last().map(|step| step.label)
    }
}

/// Applies the last step of one list and puts what turns it back onto the other. Where it cannot
/// be applied, both stay as they are.
fn turn(
    from: &mut Vec<Step>,
    to: &mut Vec<Step>,
    song: &mut Song,
) -> Result<Option<Label>, EditError> {
    let Some(Step { label, edits }) = from.last().cloned() else { return Ok(None) };
    let edits = Edit::apply_all(edits, song)?;
    from.pop();
    to.push(Step { label, edits });
    Ok(Some(label))
}

/// Whether an edit takes a pass out of a section.
fn removes(edit: &Edit, pass: PassId) -> bool {
    matches!(edit, Edit::Section(_, SectionEdit::Remove(id)) if *id == pass)
}

/// Whether two edits each set the whole of the one value that the other sets, so that undoing
/// the first undoes both.
fn sets_the_same(one: &Edit, other: &Edit) -> bool {
    match (one, other) {
        (Edit::Title(_), Edit::Title(_))
        | (Edit::Key(_), Edit::Key(_))
        | (Edit::Transpose(_), Edit::Transpose(_))
        | (Edit::Form(_), Edit::Form(_)) => true,
        (Edit::Track(id, one), Edit::Track(other_id, other)) => {
            id == other_id && discriminant(one) == discriminant(other)
        }
        (Edit::Section(letter, one), Edit::Section(other_letter, other)) => {
            letter == other_letter && sets_same_of_section(one, other)
        }
        (Edit::Pass(id, one), Edit::Pass(other_id, other)) => {
            id == other_id && sets_same_of_pass(one, other)
        }
        _ => false,
    }
}

fn sets_same_of_section(one: &SectionEdit, other: &SectionEdit) -> bool {
    use SectionEdit as E;
    match (one, other) {
        (E::Name(_), E::Name(_))
        | (E::Key(_), E::Key(_))
        | (E::Transpose(_), E::Transpose(_))
        | (E::Metre(_), E::Metre(_))
        | (E::Tempo(_), E::Tempo(_)) => true,
        (E::Chord(one, _), E::Chord(other, _)) => one == other,
        (E::Mute(one, _), E::Mute(other, _)) | (E::Move(one, _), E::Move(other, _)) => one == other,
        _ => false,
    }
}

fn sets_same_of_pass(one: &PassEdit, other: &PassEdit) -> bool {
    use PassEdit as E;
    match (one, other) {
        (E::Feel(_), E::Feel(_)) | (E::Length(_), E::Length(_)) | (E::Covers(_), E::Covers(_)) => {
            true
        }
        (E::Played(one), E::Played(other)) => {
            one.iter().map(|release| release.note).eq(other.iter().map(|release| release.note))
        }
        (E::Place(one), E::Place(other)) => {
            let same = |((note, one), (id, other)): (&(_, _), &(_, _))| {
                note == id && discriminant(one) == discriminant(other)
            };
            one.len() == other.len() && std::iter::zip(one, other).all(same)
        }
        (E::PointValue(one, _), E::PointValue(other, _))
        | (E::PointShape(one, _), E::PointShape(other, _)) => one == other,
        _ => false,
    }
}
