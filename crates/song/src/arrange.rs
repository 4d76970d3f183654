//! Operations on sections, form, key and tempo: what an arranger asks for, as a commit.
//!
//! In: a song, a section and a bar or a number of bars. Out: a [`Commit`] that makes the change in one
//! step, or a fragment of a sentence that says why it cannot be made and what would help. Nothing is
//! changed here, and no operation changes what another section plays: a pass that sections share is
//! copied where they have to differ.
//!
//! Where bars are cut, a note belongs to the bars in which it begins, and rings on into what follows. A
//! start within half a grid step before a cut is meant for the bar after it, as at a seam.

mod form;
mod frame;
mod inside;
mod join;
mod key;
mod length;
mod lift;
mod own;
mod pieces;
mod sections;
mod speed;
mod split;
mod tempo;
mod window;

use crate::{
    Commit, Edit, Ids, Label, Laid, Layer, Letter, Pass, Section, SectionEdit, SharedPass, Song,
    TrackId, replace_chords,
};
use chaconne_time::Tick;
use frame::Bars;
use std::sync::Arc;

pub use form::set_form;
pub use inside::{fermatas_text, layer_out_of_beats, set_fermata, set_metre, set_metres};
pub use join::join_sections;
pub use key::{set_key, set_transpose};
pub use length::{Part, double, fill_bars, halve, set_bars};
pub use lift::lift_bars;
pub use own::own_layers;
pub use sections::{
    Beside, NewSection, add_section, copy_section, move_section, remove_section, rename_section,
    vary_section,
};
pub use speed::{Speed, change_speed};
pub use split::split_section;
pub use tempo::{remove_ramp, set_ramp, set_tempo, set_tempo_at, stretch_tempi};

/// Why a section is left as it is, and what would help: a fragment of a sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ArrangeError(String);

/// What is said if nothing would change.
const NO_CHANGE: &str = "it is like that already";

impl ArrangeError {
    /// Whether the only reason is that nothing would change.
    pub fn is_no_change(&self) -> bool {
        self.0 == NO_CHANGE
    }
}

impl From<String> for ArrangeError {
    fn from(why: String) -> ArrangeError {
        ArrangeError(why)
    }
}

fn refused<T>(why: impl Into<String>) -> Result<T, ArrangeError> {
    Err(ArrangeError(why.into()))
}

/// A section of the song.
fn found(song: &Song, letter: Letter) -> Result<&Arc<Section>, ArrangeError> {
    song.section(letter).ok_or_else(|| {
        let letters: Vec<String> =
            song.sections.iter().map(|section| section.letter.to_string()).collect();
        ArrangeError(format!("there is no section {letter}; sections: {}", letters.join(", ")))
    })
}

/// The name of a track, for a message.
fn track_name(song: &Song, track: TrackId) -> String {
    song.track(track).map_or_else(String::new, |track| track.name.clone())
}

/// A layer of a section as it will be.
enum Place {
    /// A layer that it has already.
    Kept(Layer),
    /// A layer with a pass that is made for it.
    Made(Pass, bool),
}

/// The id for a pass made from another one for the same section: the same, unless another section
/// goes on playing the old one.
fn own_id(song: &Song, pass: &SharedPass, ids: &mut Ids) -> crate::PassId {
    if song.is_shared(pass.id) { ids.pass() } else { pass.id }
}

/// The edits that give a section these bars and these layers. Its other layers are removed; those that
/// are kept stay in their order.
fn rebuild(section: &Section, bars: Bars, stack: Vec<Place>) -> Vec<Edit> {
    let letter = section.letter;
    let edit = |edit| Edit::Section(letter, edit);
    let is_kept = |layer: &&Layer| {
        stack.iter().any(|place| matches!(place, Place::Kept(kept) if kept.pass == layer.pass))
    };
    let gone = section.layers.iter().filter(|layer| !is_kept(layer));
    let mut edits: Vec<Edit> = gone.map(|layer| edit(SectionEdit::Remove(layer.pass))).collect();
    let chords = replace_chords(section, &bars.chords).edits;
    let (tempo, metre) = (bars.tempo, bars.metre);
    let fermata = |at: &Tick, on: bool| edit(SectionEdit::Fermata(*at, on));
    let is_in = |at: &&Tick, all: &[Tick]| all.contains(at);
    let over = section.fermatas.iter().filter(|at| !is_in(at, &bars.fermatas));
    let new = bars.fermatas.iter().filter(|at| !is_in(at, &section.fermatas));
    // Chords and tempi must fit the bars at every step, and so must the layers that stay.
    let is_removal = |edit: &Edit| matches!(edit, Edit::Section(_, SectionEdit::Chord(_, None)));
    let (fewer, more): (Vec<Edit>, Vec<Edit>) = chords.into_iter().partition(is_removal);
    edits.extend(over.map(|at| fermata(at, false)));
    edits.extend(fewer);
    if metre != section.metre {
        edits.push(edit(SectionEdit::Metre(metre)));
    }
    if tempo != section.tempo {
        edits.push(edit(SectionEdit::Tempo(tempo)));
    }
    edits.extend(more);
    edits.extend(new.map(|at| fermata(at, true)));
    for (at, place) in stack.into_iter().enumerate() {
        if let Place::Made(pass, mute) = place {
            edits.push(edit(SectionEdit::Lay { at, pass: Laid::New(pass.into()), mute }));
        }
    }
    edits
}

/// The commit of these edits, once it is known that the song takes them.
fn commit(song: &Song, label: Label, edits: Vec<Edit>) -> Result<Commit, ArrangeError> {
    if edits.is_empty() {
        return refused(NO_CHANGE);
    }
    let commit = Commit::new(label, edits);
    let tried = commit.clone().apply(&mut song.clone());
    tried.map_err(|error| ArrangeError(error.to_string()))?;
    Ok(commit)
}

#[cfg(test)]
mod tests;
