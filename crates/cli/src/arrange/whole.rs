//! The operations of `section` on sections as wholes, and on what stands in them.

use super::{new_form, told};
use crate::args::{BesideOf, WholeOp};
use crate::exit::Failure;
use crate::say;
use chaconne_song::{
    Beside, Commit, Letter, NewSection, Section, Song, add_section, copy_section, move_section,
    remove_section, rename_section, set_fermata, set_metre, set_metres, vary_section,
};
use chaconne_time::{Metre, Place};

/// The commit of an operation. Listing makes none.
pub fn commit(song: &Song, op: &WholeOp) -> Result<Commit, Failure> {
    let commit = match op {
        WholeOp::List => return Ok(Commit::of_all(Vec::new())),
        WholeOp::Add { letter, name, bars, metre, tempo, after } => {
            let (name, metre) = (name.clone(), metre.clone());
            let (letter, bars, milli_beats, after) = (*letter, *bars, *tempo, *after);
            add_section(song, &NewSection { letter, name, bars, metre, milli_beats, after })
        }
        WholeOp::Copy { letter } => copy_section(song, *letter),
        WholeOp::Vary { letter } => vary_section(song, *letter),
        WholeOp::Rename { letter, to } => {
            rename_section(song, *letter, to.letter, to.name.as_deref())
        }
        WholeOp::Move { letter, to } => move_section(song, *letter, beside(song, *letter, to)?),
        WholeOp::Remove { letter, from_form } => {
            if song.form.contains(*letter) && !from_form {
                return Err(in_form(song, *letter));
            }
            remove_section(song, *letter, *from_form)
        }
        WholeOp::Metre { letter, metre, from } => {
            return metre_commit(song, *letter, metre, *from);
        }
        WholeOp::Fermata { letter, place, remove } => set_fermata(song, *letter, *place, !remove),
    };
    commit.map_err(told)
}

/// One metre from a bar on, or all metres of a section.
fn metre_commit(
    song: &Song,
    letter: Letter,
    typed: &str,
    from: Option<u32>,
) -> Result<Commit, Failure> {
    let commit = match (typed.parse::<Metre>(), from) {
        (Ok(metre), _) => set_metre(song, letter, from.unwrap_or(1), metre.counted()),
        (Err(_), None) => set_metres(song, letter, typed),
        (Err(error), Some(_)) => return Err(error.to_string().into()),
    };
    commit.map_err(told)
}

fn in_form(song: &Song, letter: Letter) -> Failure {
    format!(
        "section {letter} is in the form '{}'; --from-form removes it from there too",
        song.form
    )
    .into()
}

/// Where a section goes; the options exclude each other.
fn beside(song: &Song, letter: Letter, to: &BesideOf) -> Result<Beside, Failure> {
    let last = song.sections.iter().rev().map(|one| one.letter).find(|&one| one != letter);
    match (to.before, to.after, last) {
        (Some(before), ..) => Ok(Beside::Before(before)),
        (_, Some(after), _) => Ok(Beside::After(after)),
        (.., Some(last)) => Ok(Beside::After(last)),
        (.., None) => Err(format!("section {letter} is the only one").into()),
    }
}

/// What happened, in one line; `new` is the letter of a section that was added.
pub fn said(op: &WholeOp, song: &Song, changed: &Song, new: Letter) -> String {
    let section = |letter: Letter| changed.section(letter).map(|section| &**section);
    let form = new_form(song, changed);
    match op {
        WholeOp::List => String::new(),
        WholeOp::Add { .. } => {
            format!("section {new} added: {}", section(new).map_or(String::new(), facts))
        }
        WholeOp::Copy { letter } => {
            format!("section {letter} copied to the new section {new}, which shares its layers")
        }
        WholeOp::Vary { letter } => {
            let name = section(new).map_or("", |section| &section.name);
            format!(
                "section {letter} copied to the new section {new}, '{name}', with layers of its own"
            )
        }
        WholeOp::Rename { letter, to } => {
            let now = section(to.letter.unwrap_or(*letter));
            now.map_or(String::new(), |now| renamed(*letter, now)) + &form
        }
        WholeOp::Move { .. } => {
            let letters = changed.sections.iter().map(|section| section.letter.to_string());
            format!("sections: {}", letters.collect::<Vec<_>>().join(", "))
        }
        WholeOp::Remove { letter, .. } => format!("section {letter} removed{form}"),
        WholeOp::Metre { letter, .. } => section(*letter).map_or(String::new(), |now| {
            format!(
                "section {letter} is now in {}{}",
                now.metre.written(),
                out_of_step(changed, now)
            )
        }),
        WholeOp::Fermata { letter, place: Place { bar, beat, .. }, remove } => {
            let what = if *remove { "removed" } else { "added" };
            format!("fermata on beat {beat} of bar {bar} of section {letter} {what}")
        }
    }
}

fn renamed(was: Letter, now: &Section) -> String {
    let (name, letter) = (&*now.name, now.letter);
    match (name.is_empty(), letter == was) {
        (true, true) => format!("section {was} has no name now"),
        (true, false) => format!("section {was} is now {letter}"),
        (false, true) => format!("section {was} is now called '{name}'"),
        (false, false) => format!("section {was} is now {letter}, '{name}'"),
    }
}

/// Bars, metre and tempo of a section: `4 bars of 4/4, tempo 120`.
pub fn facts(section: &Section) -> String {
    let bars = say::counted(section.metre.bars().into(), "bar", "bars");
    format!("{bars} of {}, tempo {}", section.metre.written(), super::tempi_of(section))
}

/// Which tracks have layers that do not begin again with a section.
fn out_of_step(song: &Song, section: &Section) -> String {
    let length = section.length().0;
    let is_out =
        |track| song.layers_of(section, track).any(|(_, pass)| length % pass.length.0.max(1) != 0);
    let tracks = song.tracks.iter().filter(|track| is_out(track.id));
    let names: Vec<&str> = tracks.map(|track| &*track.name).collect();
    match names.is_empty() {
        true => String::new(),
        false => format!("; layers out of step with its bars: {}", names.join(", ")),
    }
}
