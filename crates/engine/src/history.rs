//! What can be taken back, and made again.

use chaconne_song::{Edit, EditError, SectionEdit, Song};

/// A change that was made, by the edit that takes it back.
#[derive(Debug, Clone)]
struct Step {
    label: &'static str,
    /// In the order in which they are applied.
    inverse: Vec<Edit>,
}

/// The changes of a session, newest last; without limit.
#[derive(Debug, Clone, Default)]
pub(crate) struct History {
    undo: Vec<Step>,
    redo: Vec<Step>,
    /// Before which step a pass belongs that is still to come.
    expected: Option<usize>,
}

impl History {
    /// Makes a change that can be taken back.
    pub fn make(
        &mut self,
        song: &mut Song,
        label: &'static str,
        edits: Vec<Edit>,
    ) -> Result<(), EditError> {
        let inverse = Edit::apply_all(edits, song)?;
        self.undo.push(Step { label, inverse });
        self.redo.clear();
        Ok(())
    }

    /// From here on, changes are made after a pass that is not there yet. None of them may be of
    /// what a new pass changes: the song's passes.
    pub fn expect_pass(&mut self) {
        self.expected.get_or_insert(self.undo.len());
    }

    /// The pass has come, or will not.
    pub fn expect_nothing(&mut self) {
        self.expected = None;
    }

    /// Makes a change, as one that came before those since a pass was expected.
    pub fn make_expected(
        &mut self,
        song: &mut Song,
        label: &'static str,
        edits: Vec<Edit>,
    ) -> Result<(), EditError> {
        let inverse = Edit::apply_all(edits, song)?;
        let place = self.expected.map_or(self.undo.len(), |place| place.min(self.undo.len()));
        self.undo.insert(place, Step { label, inverse });
        self.redo.clear();
        self.expected = self.expected.map(|_| place + 1);
        Ok(())
    }

    /// Makes a change that the newest step, of the same label, takes back with the rest; where
    /// there is no such step it makes one. Only for edits that replace one whole value.
    pub fn go_on(
        &mut self,
        song: &mut Song,
        label: &'static str,
        edit: Edit,
    ) -> Result<(), EditError> {
        let same = |step: &Step| {
            step.label == label
                && matches!(&step.inverse[..], [inverse] if sets_the_same(inverse, &edit))
        };
        let since = self.expected.is_none_or(|place| place < self.undo.len());
        if since && self.redo.is_empty() && self.undo.last().is_some_and(same) {
            edit.apply(song)?;
            return Ok(());
        }
        self.make(song, label, vec![edit])
    }

    /// Takes back the newest change; says which it was.
    pub fn undo(&mut self, song: &mut Song) -> Result<Option<&'static str>, EditError> {
        self.expected = None;
        let Some(step) = self.undo.pop() else { return Ok(None) };
        let label = step.label;
        let inverse = Edit::apply_all(step.inverse, song)?;
        self.redo.push(Step { label, inverse });
        Ok(Some(label))
    }

    /// Makes the last undone change again; says which it was.
    pub fn redo(&mut self, song: &mut Song) -> Result<Option<&'static str>, EditError> {
        let Some(step) = self.redo.pop() else { return Ok(None) };
        let label = step.label;
        let inverse = Edit::apply_all(step.inverse, song)?;
        self.undo.push(Step { label, inverse });
        Ok(Some(label))
    }

    /// The edits that would take back the newest change.
    pub fn newest(&self) -> Option<&[Edit]> {
        self.undo.last().map(|step| &step.inverse[..])
    }

    /// What undo would take back.
    pub fn undo_label(&self) -> Option<&'static str> {
        self.undo.last().map(|step| step.label)
    }

    /// What redo would make again.
    pub fn redo_label(&self) -> Option<&'static str> {
        self.redo.last().map(|step| step.label)
    }
}

/// Whether two edits each set the one value that the other sets.
fn sets_the_same(one: &Edit, other: &Edit) -> bool {
    match (one, other) {
        (
            Edit::Section(one, SectionEdit::Tempo(_)),
            Edit::Section(other, SectionEdit::Tempo(_)),
        ) => one == other,
        _ => false,
    }
}
