//! The history: commits that can be undone and redone. It can be written as text, so undo still
//! works after the program has been restarted.
//!
//! A step contains the edits that undo it or, once undone, the edits that redo it: applying a step
//! gives its opposite. A commit usually makes a step of its own. An amendment joins an earlier
//! step, and a run of similar commits counts as one step. A commit that is tried takes the place of
//! the one tried before it, so that trying leaves one step, or none.

use crate::{Commit, Edit, EditError, GrooveEdit, Label, PassEdit, PassId, SectionEdit, Song};
use std::mem::discriminant;

/// One step of undo or redo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// What the step did.
    pub label: Label,
    /// The edits that undo it or, once it is undone, redo it.
    pub edits: Vec<Edit>,
}

/// The steps of undo and redo of a song, without limit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct History {
    pub(crate) undo: Vec<Step>,
    pub(crate) redo: Vec<Step>,
    /// Whether the next commit of a run starts a step of its own.
    closed: bool,
    /// The index in `undo` of the step that is being tried.
    tried: Option<usize>,
}

impl History {
    /// A history of steps: those to undo, oldest first, and those to redo, the next one last.
    pub fn new(undo: Vec<Step>, redo: Vec<Step>) -> History {
        History { undo, redo, closed: true, tried: None }
    }

    /// The steps that can be undone, oldest first.
    pub fn undo_steps(&self) -> &[Step] {
        &self.undo
    }

    /// The steps that can be redone, the next one last.
    pub fn redo_steps(&self) -> &[Step] {
        &self.redo
    }

    /// Applies a commit as a step of its own.
    pub fn step(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        let label = commit.label;
        let edits = commit.apply(song)?;
        self.undo.push(Step { label, edits });
        self.redo.clear();
        self.closed = false;
        self.tried = None;
        Ok(())
    }

    /// Applies a commit in place of the one tried before it, or else as a step of its own. Other
    /// steps may have been made in between, if they do not touch what is tried; after an undo or
    /// [`keep_tried`](Self::keep_tried) another trial begins. On an error the song is unchanged.
    pub fn attempt(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        let Some(place) = self.tried else {
            self.step(song, commit)?;
            self.tried = self.undo.len().checked_sub(1);
            return Ok(());
        };
        let label = commit.label;
        let mut edits = self.undo[place].edits.clone();
        let back = edits.len();
        edits.extend(commit.edits);
        let mut inverse = Edit::apply_all(edits, song)?;
        // What undoes the commit comes first; what would bring back the one before it is dropped.
        inverse.truncate(inverse.len() - back);
        self.undo[place] = Step { label, edits: inverse };
        Ok(())
    }

    /// Undoes what is being tried and forgets it. Returns its label, if there is any.
    pub fn withdraw(&mut self, song: &mut Song) -> Result<Option<Label>, EditError> {
        let Some(place) = self.tried else { return Ok(None) };
        Edit::apply_all(self.undo[place].edits.clone(), song)?;
        let step = self.undo.remove(place);
        (self.tried, self.closed) = (None, true);
        Ok(Some(step.label))
    }

    /// Ends a trial: what was tried last stays, as a step like any other.
    pub fn keep_tried(&mut self) {
        (self.tried, self.closed) = (None, true);
    }

    /// The edits that undo what is being tried.
    pub fn tried(&self) -> Option<&[Edit]> {
        self.undo.get(self.tried?).map(|step| &step.edits[..])
    }

    /// Makes one step of the newest two if they have the same label and undoing the older one also
    /// undoes the newer one. Returns whether it did. A key turns out to be held down only at its
    /// second repeat, when the first has already made a step.
    pub fn join_newest(&mut self) -> bool {
        let [.., older, newer] = &self.undo[..] else { return false };
        let joins = self.redo.is_empty()
            && self.tried.is_none()
            && older.label == newer.label
            && newer.edits.iter().all(|edit| is_undone_with(older, edit));
        if joins {
            self.undo.pop();
        }
        joins
    }

    /// Applies a commit that joins the newest step if both have the same label and undoing that step
    /// also undoes the commit, for instance because both set the same values; otherwise as a step of
    /// its own. Holding a key that moves a note makes such a run. A run that ends where it started
    /// leaves no step.
    pub fn run(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        if !self.joins(&commit) {
            return self.step(song, commit);
        }
        // The step already has the values from before the run; a commit that restores them ends it.
        let newest = self.undo.last().map(|step| step.edits.iter().rev());
        let leads_back = newest.is_some_and(|before| before.eq(&commit.edits));
        commit.apply(song)?;
        if leads_back {
            self.undo.pop();
            self.closed = true;
        }
        Ok(())
    }

    /// Whether a commit of a run joins the newest step.
    fn joins(&self, commit: &Commit) -> bool {
        let same = |step: &Step| {
            let alike = |(one, other): (&Edit, &Edit)| sets_the_same(one, other);
            let made = |edit: &Edit| step.edits.iter().any(|step| removes_what_is_set(step, edit));
            step.label == commit.label
                && (commit.edits.iter().all(made)
                    || step.edits.len() == commit.edits.len()
                        && std::iter::zip(step.edits.iter().rev(), &commit.edits).all(alike))
        };
        !self.closed && self.redo.is_empty() && self.undo.last().is_some_and(same)
    }

    /// Ends a run: the next commit makes a step of its own.
    pub fn end_run(&mut self) {
        self.closed = true;
    }

    /// Applies edits as part of an earlier step: the newest one that laid `pass` or, if none did,
    /// the newest of all. Redo stays as it is. If there is no step, the edits cannot be undone.
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
            // Undoing the step removes the pass, and what was amended in it.
            if laid(step) {
                inverse.retain(|edit| !matches!(edit, Edit::Pass(id, _) if *id == pass));
            }
            inverse.append(&mut step.edits);
            step.edits = inverse;
        }
        Ok(())
    }

    /// Applies a commit as a step of its own beside what is being tried, which can still be tried
    /// otherwise or withdrawn. It must not touch what is tried.
    pub fn step_beside(&mut self, song: &mut Song, commit: Commit) -> Result<(), EditError> {
        let tried = self.tried;
        self.step(song, commit)?;
        self.tried = tried;
        Ok(())
    }

    /// Undoes the newest step and returns its label.
    pub fn undo(&mut self, song: &mut Song) -> Result<Option<Label>, EditError> {
        self.keep_tried();
        turn(&mut self.undo, &mut self.redo, song)
    }

    /// Redoes the step that was undone last and returns its label.
    pub fn redo(&mut self, song: &mut Song) -> Result<Option<Label>, EditError> {
        self.keep_tried();
        turn(&mut self.redo, &mut self.undo, song)
    }

    /// The edits that undo the newest step.
    pub fn newest(&self) -> Option<&[Edit]> {
        self.undo.last().map(|step| &step.edits[..])
    }

    /// The label of the step that undo would undo.
    pub fn undo_label(&self) -> Option<Label> {
        self.undo.last().map(|step| step.label)
    }

    /// The label of the step that redo would redo.
    pub fn redo_label(&self) -> Option<Label> {
        self.redo.last().map(|step| step.label)
    }
}

/// Applies the last step of `from` and moves its opposite to `to`. If it cannot be applied, both
/// stay as they are.
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

/// Whether an edit removes the layer of this pass from a section.
fn removes(edit: &Edit, pass: PassId) -> bool {
    matches!(edit, Edit::Section(_, SectionEdit::Remove(id)) if *id == pass)
}

/// Whether undoing a step also undoes an edit made after it.
fn is_undone_with(step: &Step, edit: &Edit) -> bool {
    step.edits.iter().any(|undo| sets_the_same(undo, edit) || removes_what_is_set(undo, edit))
}

/// Whether an edit removes the point or lane in which another sets a value.
fn removes_what_is_set(one: &Edit, other: &Edit) -> bool {
    use PassEdit as E;
    let (Edit::Pass(id, one), Edit::Pass(other_id, other)) = (one, other) else { return false };
    let (E::PointValue(point, _) | E::PointShape(point, _)) = other else { return false };
    let removed = match one {
        E::RemovePoint(removed) => removed == point,
        E::RemoveLane(removed) => *removed == point.lane,
        _ => false,
    };
    removed && id == other_id
}

/// Whether two edits replace the same value, so that undoing the first undoes both.
fn sets_the_same(one: &Edit, other: &Edit) -> bool {
    match (one, other) {
        (Edit::Title(_), Edit::Title(_))
        | (Edit::Key(_), Edit::Key(_))
        | (Edit::Transpose(_), Edit::Transpose(_))
        | (Edit::Form(_), Edit::Form(_)) => true,
        (Edit::Track(id, one), Edit::Track(other_id, other)) => {
            id == other_id && discriminant(one) == discriminant(other)
        }
        (Edit::Groove(id, one), Edit::Groove(other_id, other)) => {
            id == other_id && sets_same_of_groove(one, other)
        }
        (Edit::MoveTrack(one, _), Edit::MoveTrack(other, _)) => one == other,
        (Edit::MoveSection(one, _), Edit::MoveSection(other, _)) => one == other,
        (Edit::Section(letter, one), Edit::Section(other_letter, other)) => {
            letter == other_letter && sets_same_of_section(one, other)
        }
        (Edit::Pass(id, one), Edit::Pass(other_id, other)) => {
            id == other_id && sets_same_of_pass(one, other)
        }
        _ => false,
    }
}

fn sets_same_of_groove(one: &GrooveEdit, other: &GrooveEdit) -> bool {
    use GrooveEdit as E;
    match (one, other) {
        (E::Name(_), E::Name(_)) => true,
        (E::Step(one, _), E::Step(other, _)) => one == other,
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
        (E::Fermata(one, _), E::Fermata(other, _)) | (E::Chord(one, _), E::Chord(other, _)) => {
            one == other
        }
        (E::Mute(one, _), E::Mute(other, _)) | (E::Move(one, _), E::Move(other, _)) => one == other,
        _ => false,
    }
}

fn sets_same_of_pass(one: &PassEdit, other: &PassEdit) -> bool {
    use PassEdit as E;
    match (one, other) {
        (E::Name(_), E::Name(_))
        | (E::Feel(_), E::Feel(_))
        | (E::Length(_), E::Length(_))
        | (E::Covers(_), E::Covers(_)) => true,
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

#[cfg(test)]
mod tests;
