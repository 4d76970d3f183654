//! The commits that add and change sections. Each is one step of undo.
//!
//! In: the song, and what a form says. Out: a commit that the song accepts, or the field that is wrong
//! and a sentence about it.

use crate::form::SectionSpec;
use crate::text;
use chaconne_song::{
    Commit, Edit, EditError, Letter, Section, SectionEdit, Song, layer_out_of_beats,
};
use chaconne_time::{MetreMap, Place, TempoMap, Tick};
use std::sync::Arc;

/// What is wrong with a field of a form.
pub type Wrong = (usize, String);

/// A new section right below the one at `at`.
pub fn new_section(spec: &SectionSpec, at: usize) -> Result<Commit, Wrong> {
    let mut section = Section::new(spec.letter, spec.metre.clone(), spec.tempo);
    section.name = spec.name.clone();
    (section.key, section.transpose) = (spec.key, spec.transpose);
    section.fermatas = fermatas(&section.metre, spec)?;
    let add = Edit::AddSection { at: at + 1, section: Arc::new(section), passes: Vec::new() };
    Ok(Commit::of(add))
}

/// The edits that make a section what the form says; what was left as it was is not changed.
pub fn changed_section(song: &Song, spec: &SectionSpec, letter: Letter) -> Result<Commit, Wrong> {
    let gone = || (SectionSpec::LETTER, format!("There is no section {letter} any more."));
    let section = song.section(letter).ok_or_else(gone)?;
    let mut edits = Vec::new();
    if spec.name != section.name {
        edits.push(SectionEdit::Name(spec.name.clone()));
    }
    let metre = &spec.metre;
    if *metre != section.metre {
        edits.push(SectionEdit::Metre(metre.clone()));
    }
    let tempo = section.tempo.first();
    // The form shows a tempo with three decimals; unless it was changed, it stays exact.
    if spec.tempo.to_string() != tempo.to_string() {
        let map: TempoMap = section.tempo.scaled(tempo, spec.tempo);
        edits.push(SectionEdit::Tempo(map));
    }
    if spec.key != section.key {
        edits.push(SectionEdit::Key(spec.key));
    }
    if spec.transpose != section.transpose {
        edits.push(SectionEdit::Transpose(spec.transpose));
    }
    let wanted = fermatas(metre, spec)?;
    let is_in = |all: &[Tick], at: &Tick| all.contains(at);
    let over = section.fermatas.iter().filter(|at| !is_in(&wanted, at));
    edits.extend(over.map(|&at| SectionEdit::Fermata(at, false)));
    let new = wanted.iter().filter(|at| !is_in(&section.fermatas, at));
    edits.extend(new.map(|&at| SectionEdit::Fermata(at, true)));
    if spec.letter != letter {
        edits.push(SectionEdit::Letter(spec.letter));
    }
    let edits = edits.into_iter().map(|edit| Edit::Section(letter, edit)).collect();
    Ok(Commit::of_all(edits))
}

/// The ticks of the fermatas.
fn fermatas(metre: &MetreMap, spec: &SectionSpec) -> Result<Vec<Tick>, Wrong> {
    let tick = |&place: &Place| {
        let known = metre.tick(place).ok().filter(|_| (1..=999).contains(&place.bar));
        known.ok_or_else(|| {
            let Place { bar, beat, .. } = place;
            (SectionSpec::FERMATAS, format!("Bar {bar} has no beat {beat} for a fermata."))
        })
    };
    spec.fermatas.iter().map(tick).collect()
}

/// The commit, if the song accepts it.
pub fn is_accepted(song: &Song, spec: &SectionSpec, commit: Commit) -> Result<Commit, Wrong> {
    let refused = match commit.clone().apply(&mut Song::clone(song)) {
        Ok(_) => return Ok(commit),
        Err(refused) => refused,
    };
    let unfit = spec.of.and_then(|letter| layer_that_does_not_fit(song, spec, letter));
    Err(match (refused, unfit) {
        (EditError::Taken(_), _) => {
            let error = format!("Section {} exists already: use another letter.", spec.letter);
            (SectionSpec::LETTER, error)
        }
        (_, Some(error)) => (SectionSpec::METRE, error),
        (error, None) => (SectionSpec::BARS, text::sentence(&error.to_string())),
    })
}

/// Which track has a layer in a section that would not be whole beats long.
fn layer_that_does_not_fit(song: &Song, spec: &SectionSpec, letter: Letter) -> Option<String> {
    let section = song.section(letter)?;
    let track = &layer_out_of_beats(song, section, &spec.metre)?.name;
    let metre = spec.metre.written();
    Some(format!("A layer of {track} is not a whole number of beats long in {metre}."))
}
