//! Notes that get a layer of their own.

use super::{NoteRef, Picked, ReviseError};
use crate::{
    Commit, Edit, Label, Laid, Note, Pass, PassEdit, PassId, SectionEdit, SharedPass, Song,
};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Notes that were moved into layers of their own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SplitOff {
    /// What moves them.
    pub commit: Commit,
    /// What they will be called.
    pub notes: BTreeSet<NoteRef>,
    /// The new passes.
    pub passes: Vec<PassId>,
}

impl Picked {
    /// Moves them into a new layer right above their own, of the same length and feel, in every section
    /// that contains it: what is heard stays the same. Controllers stay where they are. A layer of which
    /// all notes are picked is left alone.
    ///
    /// # Errors
    /// If there are none, or they are all the notes of their layers.
    pub fn split_off(&self, song: &Song) -> Result<SplitOff, ReviseError> {
        if self.is_empty() {
            return Err(ReviseError::Nothing);
        }
        let (mut ids, mut edits, mut notes) = (song.ids(), Vec::new(), BTreeSet::new());
        let (mut song, mut passes) = (song.clone(), Vec::new());
        let is_part = |(pass, notes): &&(SharedPass, Vec<Note>)| notes.len() < pass.notes().len();
        for (pass, picked) in self.passes.iter().filter(is_part) {
            let id = ids.pass();
            let new = split_off(&song, pass, id, picked);
            // The next one finds the layers where they are by then.
            for edit in &new {
                edit.clone().apply(&mut song).map_err(|_| ReviseError::Nothing)?;
            }
            edits.extend(new);
            notes.extend(picked.iter().map(|note| NoteRef { pass: id, note: note.id }));
            passes.push(id);
        }
        match edits.is_empty() {
            true => Err(ReviseError::OwnLayer),
            false => Ok(SplitOff { commit: Commit::new(Label::SplitLayer, edits), notes, passes }),
        }
    }
}

/// The edits that move notes of a pass into a new one.
fn split_off(song: &Song, pass: &Pass, id: PassId, picked: &[Note]) -> Vec<Edit> {
    let mut own = Pass { feel: pass.feel, ..Pass::empty(id, pass.track, pass.length) };
    own.notes_mut().notes = picked.to_vec();
    let mut laid = Laid::New(Arc::new(own));
    let mut edits = Vec::new();
    for section in song.sections_with(pass.id) {
        let layers = section.layers.iter().enumerate();
        for (at, layer) in layers.filter(|(_, layer)| layer.pass == pass.id) {
            let pass = std::mem::replace(&mut laid, Laid::Shared(id));
            let lay = SectionEdit::Lay { at: at + 1, pass, mute: layer.mute };
            edits.push(Edit::Section(section.letter, lay));
        }
    }
    let names = picked.iter().map(|note| note.id).collect();
    edits.push(Edit::Pass(pass.id, PassEdit::RemoveNotes(names)));
    edits
}
