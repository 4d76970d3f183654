//! Edits of a section: its fields and its chords. Module `layers` edits its layers.

use super::{Edit, EditError, SectionEdit, layers, swap};
use crate::{Chord, ChordSymbol, Letter, Section, Song, rules};
use chaconne_time::{MetreMap, TempoMap, Tick};

pub(super) fn apply(song: &mut Song, letter: Letter, edit: SectionEdit) -> Result<Edit, EditError> {
    use SectionEdit as E;
    let inverse = match edit {
        E::Letter(to) => return rename(song, letter, to),
        E::Name(name) => E::Name(swap(&mut section_mut(song, letter)?.name, name)),
        E::Key(key) => E::Key(swap(&mut section_mut(song, letter)?.key, key)),
        E::Transpose(to) => E::Transpose(swap(&mut section_mut(song, letter)?.transpose, to)),
        E::Metre(metre) => set_metre(song, letter, metre)?,
        E::Tempo(tempo) => set_tempo(song, letter, tempo)?,
        E::Fermata(at, on) => set_fermata(song, letter, at, on)?,
        E::Chord(at, symbol) => set_chord(song, letter, at, symbol)?,
        E::Lay { at, pass, mute } => layers::lay(song, letter, at, pass, mute)?,
        E::Remove(pass) => layers::remove(song, letter, pass)?,
        E::Move(pass, to) => layers::shift(song, letter, pass, to)?,
        E::Mute(pass, mute) => layers::mute(song, letter, pass, mute)?,
        E::Replace(pass, by) => layers::replace(song, letter, pass, by)?,
    };
    Ok(Edit::Section(letter, inverse))
}

pub(super) fn section_mut(song: &mut Song, letter: Letter) -> Result<&mut Section, EditError> {
    song.section_mut(letter).ok_or(EditError::NoSection(letter))
}

/// Changes the letter of a section, in the form too.
fn rename(song: &mut Song, letter: Letter, to: Letter) -> Result<Edit, EditError> {
    if song.section(to).is_some() && song.section(letter).is_some() {
        return Err(EditError::Taken(format!("section {to}")));
    }
    section_mut(song, letter)?.letter = to;
    song.form = std::mem::take(&mut song.form).renamed(letter, to);
    Ok(Edit::Section(to, SectionEdit::Letter(letter)))
}

/// Sets bars and metres. Every pass must be a whole number of the new beats long.
fn set_metre(song: &mut Song, letter: Letter, metre: MetreMap) -> Result<SectionEdit, EditError> {
    let section = song.section(letter).ok_or(EditError::NoSection(letter))?;
    song.layers(section).try_for_each(|(_, pass)| layers::pass_fits(&metre, pass))?;
    rules::tempo(&metre, &section.tempo).map_err(EditError::Unfit)?;
    rules::fermatas(&metre, &section.fermatas).map_err(EditError::Unfit)?;
    rules::chords(&metre, &section.chords).map_err(EditError::Unfit)?;
    let section = section_mut(song, letter)?;
    Ok(SectionEdit::Metre(swap(&mut section.metre, metre)))
}

fn set_tempo(song: &mut Song, letter: Letter, tempo: TempoMap) -> Result<SectionEdit, EditError> {
    let section = section_mut(song, letter)?;
    rules::tempo(&section.metre, &tempo).map_err(EditError::Unfit)?;
    Ok(SectionEdit::Tempo(swap(&mut section.tempo, tempo)))
}

fn set_fermata(
    song: &mut Song,
    letter: Letter,
    at: Tick,
    on: bool,
) -> Result<SectionEdit, EditError> {
    let section = section_mut(song, letter)?;
    rules::placed(&section.metre, "fermata", at).map_err(EditError::Unfit)?;
    let place = section.fermatas.binary_search(&at);
    match place {
        Ok(index) if !on => drop(section.fermatas.remove(index)),
        Err(index) if on => section.fermatas.insert(index, at),
        _ => {}
    }
    Ok(SectionEdit::Fermata(at, place.is_ok()))
}

fn set_chord(
    song: &mut Song,
    letter: Letter,
    at: Tick,
    symbol: Option<ChordSymbol>,
) -> Result<SectionEdit, EditError> {
    let section = section_mut(song, letter)?;
    rules::placed(&section.metre, "chord", at).map_err(EditError::Unfit)?;
    let place = section.chords.binary_search_by_key(&at, |chord| chord.at);
    let before = place.ok().and_then(|index| section.chords.get(index)).map(|chord| chord.symbol);
    match (place, symbol) {
        (Ok(index), Some(symbol)) => section.chords[index].symbol = symbol,
        (Ok(index), None) => drop(section.chords.remove(index)),
        (Err(index), Some(symbol)) => section.chords.insert(index, Chord { at, symbol }),
        (Err(_), None) => {}
    }
    Ok(SectionEdit::Chord(at, before))
}
