//! One section becomes two.

use super::frame::Bars;
use super::pieces::{self, Piece, Wanted};
use super::{ArrangeError, commit, form, found, rebuild, refused};
use crate::{Commit, Edit, Form, Label, Layer, Letter, Pass, Section, SharedPass, Song};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Splits a section before a bar, counted from 1. The bars from there on become a section with the next
/// free letter, and the form plays both wherever it played the one, so that it sounds as before. A song
/// without a form gets one if it was this section that it played.
///
/// # Errors
/// If the section has no such bar after its first, or a layer goes on from round to round: the reason.
pub fn split_section(song: &Song, letter: Letter, bar: u32) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let bars = section.metre.bars();
    if !(2..=bars).contains(&bar) {
        return refused(match bars {
            1 => format!("section {letter} has only one bar, so it cannot be split"),
            _ => format!("section {letter} has {bars} bars: split it at a bar from 2 to {bars}"),
        });
    }
    // Without a form, the section is repeated for as long as it is played.
    if song.form.is_empty() || form::follows_itself(&song.form, letter) {
        pieces::all_go_round_with(song, section)?;
    }
    let Some(new) = song.free_letter() else { return refused("no letter is free") };
    let mut ids = song.ids();
    let whole = Bars::of(section);
    let stack = pieces::first_bars(song, section, bar - 1, &mut ids)?;
    let kept: BTreeSet<_> = stack
        .iter()
        .map(|place| match place {
            super::Place::Kept(layer) => layer.pass,
            super::Place::Made(pass, _) => pass.id,
        })
        .collect();
    let mut edits = rebuild(section, whole.slice(1, bar - 1)?, stack);
    let wanted = Wanted { first: bar, bars: bars + 1 - bar, beyond: true, length: None };
    // A pass of the second bars only goes there with its id.
    let mut id = |pass: &SharedPass, nth: usize| {
        let moves = nth == 0 && !song.is_shared(pass.id) && !kept.contains(&pass.id);
        if moves { pass.id } else { ids.pass() }
    };
    let (layers, passes) = stacked(song, section, wanted, &mut id)?;
    let Bars { metre, tempo, fermatas, chords } = whole.slice(bar, bars + 1 - bar)?;
    let section =
        Section { letter: new, metre, tempo, fermatas, chords, layers, ..(**section).clone() };
    let at = song.sections.iter().position(|section| section.letter == letter).unwrap_or(0);
    edits.push(Edit::AddSection { at: at + 1, section: Arc::new(section), passes });
    edits.extend(new_form(song, letter, new)?.map(Edit::Form));
    commit(song, Label::SplitSection, edits)
}

/// The form after a split, if it changes.
fn new_form(song: &Song, letter: Letter, new: Letter) -> Result<Option<Form>, ArrangeError> {
    let first = song.sections.first().map(|section| section.letter);
    if song.form.is_empty() {
        return Ok((first == Some(letter)).then(|| Form::of([letter, new])));
    }
    let form = form::with_second(&song.form, letter, new)?;
    Ok(Some(form).filter(|form| *form != song.form))
}

/// The layers of some bars for a section of its own, and the passes that are made for it. `id` gives the
/// id of the nth pass that is made from one.
pub(super) fn stacked(
    song: &Song,
    section: &Section,
    wanted: Wanted,
    id: &mut impl FnMut(&SharedPass, usize) -> crate::PassId,
) -> Result<(Vec<Layer>, Vec<SharedPass>), ArrangeError> {
    let (mut layers, mut passes): (Vec<Layer>, Vec<SharedPass>) = Default::default();
    for (layer, pass) in song.layers(section) {
        match pieces::piece(song, section, pass, wanted)? {
            Piece::Whole => layers.push(*layer),
            Piece::Made(made) => {
                for (nth, made) in made.into_iter().enumerate() {
                    let made = Pass { id: id(pass, nth), ..made };
                    layers.push(Layer { pass: made.id, ..*layer });
                    passes.push(Arc::new(made));
                }
            }
        }
    }
    Ok((layers, passes))
}
