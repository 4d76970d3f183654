//! What stands inside a section and leaves its notes where they are: metre and fermatas.

use super::{ArrangeError, NO_CHANGE, commit, found, refused};
use crate::{Commit, Edit, Label, Letter, Section, SectionEdit, Song, Track};
use chaconne_time::{Metre, MetreChange, MetreMap, Place, Tick};
use std::sync::Arc;

/// Sets the metre from the start of a bar on, up to the next change of metre; a pickup stays. The section keeps
/// its number of bars, and notes, tempi, fermatas and chords keep their tick.
///
/// # Errors
/// If the section has no such bar, or a layer would not be a whole number of beats long: the reason.
pub fn set_metre(
    song: &Song,
    letter: Letter,
    bar: u32,
    metre: Metre,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let bars = section.metre.bars();
    if !(1..=bars).contains(&bar) {
        return refused(format!("section {letter} has bars 1 to {bars}, not {bar}"));
    }
    let pickup = section.metre.pickup().is_some();
    if pickup && bar == bars {
        return refused(format!("bar {bars} of section {letter} completes its pickup"));
    }
    // The metre of a section with a pickup begins at its second bar.
    let bar = if pickup { bar.max(2) } else { bar };
    // Typed anew, the same metre keeps its grouping.
    if section.metre.metre_of(bar.into()).to_string() == metre.to_string() {
        return refused(NO_CHANGE);
    }
    let change = MetreChange { bar, metre };
    let map = if pickup {
        after_pickup(&section.metre, change)?
    } else {
        with_change(&section.metre, change)?
    };
    with_bars(song, section, map)
}

/// Sets all metres of a section as they are typed: `4/4, 7/8 from 5`, `pickup 1/4, 3/4`. The section keeps its
/// number of bars, with one more for a new pickup, and notes, tempi, fermatas and chords keep their tick.
///
/// # Errors
/// If the text is no list of metres, or they or a layer do not fit the bars: the reason.
pub fn set_metres(song: &Song, letter: Letter, typed: &str) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let map = typed_metres(&section.metre, section.metre.bars(), typed)?;
    with_bars(song, section, map)
}

/// Metres as they are typed, over so many bars. A metre that `known` has keeps its grouping.
pub(super) fn typed_metres(
    known: &MetreMap,
    bars: u32,
    typed: &str,
) -> Result<MetreMap, ArrangeError> {
    known.retyped(bars, typed).map_err(|error| ArrangeError(error.to_string()))
}

fn with_bars(song: &Song, section: &Section, map: MetreMap) -> Result<Commit, ArrangeError> {
    if let Some(track) = layer_out_of_beats(song, section, &map) {
        return refused(format!(
            "a layer of {} would not end on a beat of the new bars: change its length first",
            track.name
        ));
    }
    let edit = Edit::Section(section.letter, SectionEdit::Metre(map.clone()));
    let edits = (map != section.metre).then_some(edit);
    commit(song, Label::Bars, edits.into_iter().collect())
}

/// A map with one change more; one that then changes nothing is left out.
fn with_change(map: &MetreMap, change: MetreChange) -> Result<MetreMap, ArrangeError> {
    let changes = changed(map.changes().to_vec(), change);
    MetreMap::with_changes(map.bars(), changes).map_err(|error| ArrangeError(error.to_string()))
}

/// The same for a map with a pickup, whose first and last bar follow from it.
fn after_pickup(map: &MetreMap, change: MetreChange) -> Result<MetreMap, ArrangeError> {
    let whole = map.changes().iter().filter(|old| (2..map.bars()).contains(&old.bar));
    let metre = change.metre.clone();
    let mut text = format!("pickup {}", map.first());
    for MetreChange { bar, metre } in changed(whole.cloned().collect(), change) {
        text += &if bar == 2 { format!(", {metre}") } else { format!(", {metre} from {bar}") };
    }
    let with = MetreMap::new(1, metre).and_then(|new| new.then(map));
    typed_metres(with.as_ref().unwrap_or(map), map.bars(), &text)
}

fn changed(mut changes: Vec<MetreChange>, change: MetreChange) -> Vec<MetreChange> {
    changes.retain(|old| old.bar != change.bar);
    let at = changes.partition_point(|old| old.bar < change.bar);
    changes.insert(at, change);
    changes.dedup_by(|next, before| next.metre == before.metre);
    changes
}

/// The track of a layer that would not be a whole number of beats long if its section had these bars.
pub fn layer_out_of_beats<'s>(
    song: &'s Song,
    section: &Section,
    metre: &MetreMap,
) -> Option<&'s Arc<Track>> {
    let mut layers = song.layers(section);
    let (_, pass) = layers.find(|(_, pass)| metre.place(pass.length).tick != 0)?;
    song.track(pass.track)
}

/// Puts a fermata on the beat at a place, or removes the one that stands there.
///
/// # Errors
/// If the section has no such beat, or nothing would change: the reason.
pub fn set_fermata(
    song: &Song,
    letter: Letter,
    place: Place,
    on: bool,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    let shown = short(place);
    // One past the last bar, kept from when the section was longer, can be removed.
    let bars = if on { section.metre.bars() } else { MetreMap::MAX_BARS };
    if !(1..=i64::from(bars)).contains(&place.bar) {
        return refused(format!("section {letter} has bars 1 to {bars}, so no beat {shown}"));
    }
    let Ok(at) = section.metre.tick(place) else {
        let metre = section.metre.metre_of(place.bar);
        return refused(format!(
            "bar {} of section {letter} is in {metre}, so it has no beat {shown}",
            place.bar
        ));
    };
    match (section.fermatas.contains(&at), on) {
        (true, true) => refused(format!("section {letter} has a fermata at {shown} already")),
        (false, false) => refused(no_fermata(section, &shown)),
        _ => {
            let label = if on { Label::Fermata } else { Label::RemoveFermata };
            commit(song, label, vec![Edit::Section(letter, SectionEdit::Fermata(at, on))])
        }
    }
}

fn no_fermata(section: &Section, shown: &str) -> String {
    let letter = section.letter;
    match fermatas_text(section) {
        none if none.is_empty() => format!("section {letter} has no fermatas"),
        all => format!("section {letter} has no fermata at {shown}; fermatas: {all}"),
    }
}

/// Where the fermatas of a section stand, as they are typed: `4.4 8.4`.
pub fn fermatas_text(section: &Section) -> String {
    let place = |&at: &Tick| short(section.metre.place(at));
    section.fermatas.iter().map(place).collect::<Vec<_>>().join(" ")
}

/// A place as it is typed: without its tick if that is 0.
fn short(place: Place) -> String {
    let Place { bar, beat, tick } = place;
    if tick == 0 { format!("{bar}.{beat}") } else { place.to_string() }
}
