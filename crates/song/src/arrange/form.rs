//! The form: set, and what becomes of it when a section becomes two, two become one, or one is removed.

use super::{ArrangeError, commit, found, refused};
use crate::{Commit, Edit, Ending, Form, FormEntry, FormGroup, FormPart, Label, Letter, Song};

/// Sets the form; an empty one leaves the song without.
///
/// # Errors
/// If it names a section that the song does not have, or nothing would change: the reason.
pub fn set_form(song: &Song, form: Form) -> Result<Commit, ArrangeError> {
    form.letters().into_iter().try_for_each(|letter| found(song, letter).map(|_| ()))?;
    let edit = (form != song.form).then_some(Edit::Form(form));
    commit(song, Label::Form, edit.into_iter().collect())
}

/// Whether a section ever follows itself.
pub(super) fn follows_itself(form: &Form, letter: Letter) -> bool {
    form.unrolled().windows(2).any(|pair| pair == [letter, letter])
}

/// The form with `second` after every `first`, each time it is played.
pub(super) fn with_second(
    form: &Form,
    first: Letter,
    second: Letter,
) -> Result<Form, ArrangeError> {
    let pair = || vec![FormEntry::once(first), FormEntry::once(second)];
    let split = |entry: FormEntry| match entry {
        FormEntry { part: FormPart::Section(letter), times } if letter == first => match times {
            1 => pair(),
            _ => vec![group(pair(), times)],
        },
        other => vec![other],
    };
    let form =
        Form { entries: mapped(&form.entries, &|all| all.into_iter().flat_map(split).collect()) };
    form.check().map_err(|error| ArrangeError(error.to_string()))?;
    Ok(form)
}

/// The form without `second`, which must always follow `first`, and `first` never be without it.
pub(super) fn without_second(
    form: &Form,
    first: Letter,
    second: Letter,
) -> Result<Form, ArrangeError> {
    let played = form.unrolled();
    let alone = played.iter().enumerate().any(|(at, &letter)| {
        (letter == first && played.get(at + 1) != Some(&second))
            || (letter == second && (at == 0 || played[at - 1] != first))
    });
    let apart = || {
        refused(format!(
            "the form '{form}' does not always play {second} right after {first}: write it so that it \
             does, or keep both sections"
        ))
    };
    if alone {
        return apart();
    }
    let joined = Form { entries: mapped(&form.entries, &|all| paired(all, first, second)) };
    let heard: Vec<Letter> = joined
        .unrolled()
        .into_iter()
        .flat_map(|letter| if letter == first { vec![first, second] } else { vec![letter] })
        .collect();
    if heard != played {
        return apart();
    }
    Ok(joined)
}

/// A list of entries in which `first` stands for the two where they follow each other.
fn paired(all: Vec<FormEntry>, first: Letter, second: Letter) -> Vec<FormEntry> {
    let (one, two) = (FormEntry::once(first), FormEntry::once(second));
    let mut kept: Vec<FormEntry> = Vec::new();
    for entry in all {
        let follows = entry == two && kept.last() == Some(&one);
        match entry {
            _ if follows => {}
            FormEntry { part: FormPart::Group(inner), times } if is_only(&inner, &one) => {
                kept.push(FormEntry { times, ..one.clone() });
            }
            other => kept.push(other),
        }
    }
    kept
}

fn is_only(group: &FormGroup, entry: &FormEntry) -> bool {
    group.endings.is_empty() && group.entries.len() == 1 && group.entries.first() == Some(entry)
}

fn group(entries: Vec<FormEntry>, times: u32) -> FormEntry {
    FormEntry { part: FormPart::Group(FormGroup { entries, endings: Vec::new() }), times }
}

/// Every list of entries changed, those inside groups first.
fn mapped(
    entries: &[FormEntry],
    change: &impl Fn(Vec<FormEntry>) -> Vec<FormEntry>,
) -> Vec<FormEntry> {
    let inner = |entry: &FormEntry| match &entry.part {
        FormPart::Section(_) => entry.clone(),
        FormPart::Group(group) => {
            let ending = |ending: &Ending| Ending {
                times: ending.times.clone(),
                entries: mapped(&ending.entries, change),
            };
            let group = FormGroup {
                entries: mapped(&group.entries, change),
                endings: group.endings.iter().map(ending).collect(),
            };
            FormEntry { part: FormPart::Group(group), times: entry.times }
        }
    };
    change(entries.iter().map(inner).collect())
}
