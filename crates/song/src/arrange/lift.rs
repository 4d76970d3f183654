//! Some bars of a section as a section of their own.

use super::frame::Bars;
use super::pieces::Wanted;
use super::split::stacked;
use super::{ArrangeError, commit, found, refused};
use crate::{Commit, Edit, Label, Letter, Section, SharedPass, Song};
use std::sync::Arc;

/// Copies `bars` bars of a section, from the bar `from` on, into a new section after it with the next
/// free letter. It plays what the section plays there in its first round. The section stays as it is,
/// and the form too. Layers that begin again at both ends are shared.
///
/// # Errors
/// If the section does not have these bars: the reason.
pub fn lift_bars(
    song: &Song,
    letter: Letter,
    from: u32,
    bars: u32,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let last = section.metre.bars();
    if from < 1 || bars < 1 || from.saturating_add(bars) > last + 1 {
        return refused(format!(
            "section {letter} has {last} bars: begin at bar 1 or later and end with bar {last} at the \
             latest"
        ));
    }
    let Some(new) = song.free_letter() else { return refused("no letter is free") };
    let mut ids = song.ids();
    let wanted = Wanted { first: from, bars, beyond: false, length: None };
    let mut id = |_: &SharedPass, _: usize| ids.pass();
    let (layers, passes) = stacked(song, section, wanted, &mut id)?;
    let Bars { metre, tempo, fermatas, chords } = Bars::of(section).slice(from, bars)?;
    let name = String::new();
    let made = Section {
        letter: new,
        name,
        metre,
        tempo,
        fermatas,
        chords,
        layers,
        ..(**section).clone()
    };
    let at = song.sections.iter().position(|section| section.letter == letter).unwrap_or(0);
    let add = Edit::AddSection { at: at + 1, section: Arc::new(made), passes };
    commit(song, Label::LiftBars, vec![add])
}
