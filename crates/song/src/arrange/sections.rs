//! Sections as wholes: added, copied, varied, renamed, moved and removed.

use super::inside::typed_metres;
use super::{ArrangeError, commit, found, refused};
use crate::{Commit, Edit, Label, Layer, Letter, Section, SectionEdit, SharedPass, Song};
use chaconne_time::Tempo;
use std::sync::Arc;

/// A section to add; what is `None` is as in the section that it follows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NewSection {
    /// Its letter; `None` for the first that is free.
    pub letter: Option<Letter>,
    /// Its name; may be empty.
    pub name: String,
    /// How many bars it has, 1..=999.
    pub bars: Option<u32>,
    /// Its metres as they are typed: `4/4`, `pickup 1/4, 4/4`, `4/4, 7/8 from 5`.
    pub metre: Option<String>,
    /// Its tempo in thousandths of a beat per minute, as its metre counts its beats.
    pub milli_beats: Option<u64>,
    /// The section that it follows in the list; `None` for the last.
    pub after: Option<Letter>,
}

/// Where a section is moved in the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beside {
    /// Right before this section.
    Before(Letter),
    /// Right after this section.
    After(Letter),
}

/// Adds a section without layers and chords. The form stays as it is.
///
/// # Errors
/// If its letter is in use, or a number is out of range: the reason.
pub fn add_section(song: &Song, new: &NewSection) -> Result<Commit, ArrangeError> {
    let told = |error: chaconne_time::TimeError| ArrangeError(error.to_string());
    let last = || song.sections.last().map_or(Letter::A, |section| section.letter);
    let like = found(song, new.after.unwrap_or_else(last))?;
    let letter = match new.letter {
        Some(letter) => unused(song, letter)?,
        None => free_letter(song)?,
    };
    let bars = new.bars.unwrap_or(like.metre.bars());
    let metre = match &new.metre {
        Some(typed) => typed_metres(&like.metre, bars, typed)?,
        None => like.metre.resized(bars).map_err(told)?,
    };
    let tempo = match new.milli_beats {
        Some(milli) => Tempo::of_milli_beats(milli, metre.first().tempo_unit()).map_err(told)?,
        None => like.tempo.first(),
    };
    let section = Section { name: new.name.clone(), ..Section::new(letter, metre, tempo) };
    add(song, like.letter, section, Vec::new(), Label::NewSection)
}

/// Copies a section to a new one right after it, with the next free letter. The two share their layers,
/// and the form stays as it is.
///
/// # Errors
/// If there is no such section, or no letter is free: the reason.
pub fn copy_section(song: &Song, letter: Letter) -> Result<Commit, ArrangeError> {
    let like = found(song, letter)?;
    let section = Section { letter: free_letter(song)?, ..Section::clone(like) };
    add(song, letter, section, Vec::new(), Label::CopySection)
}

/// Copies a section as [`copy_section`] does, but with layers and a name of its own.
///
/// # Errors
/// If there is no such section, or no letter is free: the reason.
pub fn vary_section(song: &Song, letter: Letter) -> Result<Commit, ArrangeError> {
    let like = found(song, letter)?;
    let mut ids = song.ids();
    let own = |(layer, pass): (&Layer, &SharedPass)| {
        let mut pass = pass.clone();
        Arc::make_mut(&mut pass).id = ids.pass();
        (Layer { pass: pass.id, ..*layer }, pass)
    };
    let (layers, passes) = song.layers(like).map(own).unzip();
    let (new, name) = (free_letter(song)?, name_of_variation(song, like));
    let section = Section { letter: new, name, layers, ..Section::clone(like) };
    add(song, letter, section, passes, Label::Variation)
}

/// The name of a variation: that of the section it is like with the first number that is free, from 2 on;
/// *variation of A* for one without a name.
fn name_of_variation(song: &Song, like: &Section) -> String {
    let is_free = |name: &String| song.sections.iter().all(|section| section.name != *name);
    let (stem, first) = match like.name.rsplit_once(' ') {
        Some((stem, number)) if number.parse::<u16>().is_ok() => (stem.to_string(), 2),
        _ if like.name.is_empty() => (format!("variation of {}", like.letter), 1),
        _ => (like.name.clone(), 2),
    };
    let numbered =
        |number: u32| if number == 1 { stem.clone() } else { format!("{stem} {number}") };
    (first..).map(numbered).find(is_free).unwrap_or_default()
}

/// Gives a section another letter, in the form too, or another name, or both.
///
/// # Errors
/// If the letter is in use, or nothing would change: the reason.
pub fn rename_section(
    song: &Song,
    letter: Letter,
    to: Option<Letter>,
    name: Option<&str>,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let to = to.filter(|&to| to != letter).map(|to| unused(song, to)).transpose()?;
    let name = name.filter(|&name| name != section.name);
    let named = name.map(|name| SectionEdit::Name(name.to_string()));
    let edits = named.into_iter().chain(to.map(SectionEdit::Letter));
    let edits: Vec<Edit> = edits.map(|edit| Edit::Section(letter, edit)).collect();
    let label = Commit::of_all(edits.clone()).label;
    commit(song, label, edits)
}

/// Moves a section in the list; the form stays as it is.
///
/// # Errors
/// If there is no such section, or it is there already: the reason.
pub fn move_section(song: &Song, letter: Letter, to: Beside) -> Result<Commit, ArrangeError> {
    found(song, letter)?;
    let (Beside::Before(other) | Beside::After(other)) = to;
    found(song, other)?;
    if other == letter {
        return refused(format!("section {letter} cannot be moved beside itself"));
    }
    let mut order: Vec<Letter> = song.sections.iter().map(|section| section.letter).collect();
    let from = order.iter().position(|&one| one == letter).unwrap_or(0);
    order.remove(from);
    let beside = order.iter().position(|&one| one == other).unwrap_or(0);
    let at = if matches!(to, Beside::After(_)) { beside + 1 } else { beside };
    let edit = (at != from).then_some(Edit::MoveSection(letter, at));
    commit(song, Label::MoveSection, edit.into_iter().collect())
}

/// Removes a section, and if `from_form` its entries in the form too.
///
/// # Errors
/// If it is the only section, or the form still plays it: the reason.
pub fn remove_section(
    song: &Song,
    letter: Letter,
    from_form: bool,
) -> Result<Commit, ArrangeError> {
    found(song, letter)?;
    let mut edits = Vec::new();
    if song.form.contains(letter) && from_form {
        edits.push(Edit::Form(song.form.without(letter)));
    }
    edits.push(Edit::RemoveSection(letter));
    commit(song, Label::RemoveSection, edits)
}

/// The commit that adds a section after another.
fn add(
    song: &Song,
    after: Letter,
    section: Section,
    passes: Vec<SharedPass>,
    label: Label,
) -> Result<Commit, ArrangeError> {
    let at = song.sections.iter().position(|section| section.letter == after).unwrap_or(0);
    let add = Edit::AddSection { at: at + 1, section: Arc::new(section), passes };
    commit(song, label, vec![add])
}

/// A letter that no section has yet.
fn unused(song: &Song, letter: Letter) -> Result<Letter, ArrangeError> {
    match (song.section(letter), song.free_letter()) {
        (None, _) => Ok(letter),
        (Some(_), Some(free)) => {
            refused(format!("section {letter} exists already: use another letter, such as {free}"))
        }
        (Some(_), None) => refused(format!("section {letter} exists already")),
    }
}

fn free_letter(song: &Song) -> Result<Letter, ArrangeError> {
    song.free_letter().ok_or_else(|| ArrangeError("no letter is free".into()))
}
