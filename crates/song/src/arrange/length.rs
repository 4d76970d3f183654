//! Sections and layers of other lengths: cut, lengthened, doubled, halved.

use super::frame::Bars;
use super::pieces::{Piece, Wanted, owned, piece};
use super::window::{Window, feel_of};
use super::{ArrangeError, Place, commit, found, rebuild, refused, track_name};
use crate::{Commit, Ids, Label, Layer, Letter, Pass, PassId, Section, SharedPass, Song, TrackId};
use chaconne_time::{MetreMap, Tick};

/// What of a section to change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// The section with all its layers.
    Section,
    /// The layers of a track in it; the bars of the section stay.
    Track(TrackId),
    /// One layer of it; the bars of the section stay.
    Layer(PassId),
}

impl Part {
    pub(super) fn includes(self, pass: &Pass) -> bool {
        match self {
            Part::Section => true,
            Part::Track(track) => pass.track == track,
            Part::Layer(id) => pass.id == id,
        }
    }
}

/// Gives a section or layers of it another number of bars. What begins after the new end is removed.
/// New bars have the metre of the last one. In them short loops go on, and layers as long as the section
/// was are silent. Layers that go on from round to round stay as they are if a section changes.
///
/// # Errors
/// If there is nothing to change, or the number is not 1 to 999: the reason.
pub fn set_bars(
    song: &Song,
    letter: Letter,
    part: Part,
    bars: u32,
) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    if !(1..=MetreMap::MAX_BARS).contains(&bars) {
        return refused(format!("a section has 1 to {} bars, not {bars}", MetreMap::MAX_BARS));
    }
    if part != Part::Section {
        let length = section.metre.bar_start(i64::from(bars) + 1);
        return lengthen(song, section, part, Label::PassLength, |_| Ok(length));
    }
    if bars == section.metre.bars() {
        return refused(format!("section {letter} has {bars} bars already"));
    }
    let frame = Bars::of(section).resized(bars)?;
    let longer = Section { metre: frame.metre.clone(), ..(**section).clone() };
    let (old, new) = (section.length(), longer.length());
    let (mut ids, mut stack) = (song.ids(), Vec::new());
    for (layer, pass) in song.layers(section) {
        let goes_round = old.0 % pass.length.0 == 0;
        if !goes_round || new.0 % pass.length.0 == 0 && pass.length < old {
            stack.push(Place::Kept(*layer));
            continue;
        }
        let made = if new < old {
            match piece(
                song,
                section,
                pass,
                Wanted { first: 1, bars, beyond: false, length: Some(new) },
            )? {
                Piece::Whole => {
                    stack.push(Place::Kept(*layer));
                    continue;
                }
                Piece::Made(made) => made,
            }
        } else if pass.length == old {
            vec![Pass { length: new, ..(**pass).clone() }]
        } else {
            Window::of(&longer, feel_of(song, pass), 1, bars).passes(pass)?
        };
        stack.extend(owned(song, pass, layer, made, &mut ids));
    }
    commit(song, Label::SectionBars, rebuild(section, frame, stack))
}

/// Doubles a section or layers of it: twice the bars, with the content twice, so that it sounds the same
/// as it goes round. In a section, loops and layers that other sections share go round twice as they
/// are.
///
/// # Errors
/// If there is nothing to double, or it would be longer than 999 bars: the reason.
pub fn double(song: &Song, letter: Letter, part: Part) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    if part != Part::Section {
        return repeat(song, section, part);
    }
    let bars = section.metre.bars() * 2;
    if bars > MetreMap::MAX_BARS {
        return refused(format!(
            "section {letter} would have {bars} bars, and a section has at most {}",
            MetreMap::MAX_BARS
        ));
    }
    let once = Bars::of(section);
    let frame = once.then(&once)?;
    let whole = |pass: &SharedPass| pass.length == section.length() && !song.is_shared(pass.id);
    let stack = repeated(song, section, &whole)?;
    commit(song, Label::DoubleSection, rebuild(section, frame, stack))
}

/// Gives a section another number of bars: fewer as [`set_bars`] does, and more by repeating what is there as
/// often as it takes.
///
/// # Errors
/// If there is nothing to change, the number is not 1 to 999, or it would take more than 999 bars to repeat
/// it so often: the reason.
pub fn fill_bars(song: &Song, letter: Letter, bars: u32) -> Result<Commit, ArrangeError> {
    let (mut longer, mut edits, mut label) = (song.clone(), Vec::new(), Label::SectionBars);
    let mut count = found(song, letter)?.metre.bars();
    if !(1..=MetreMap::MAX_BARS).contains(&bars) || bars <= count {
        return set_bars(song, letter, Part::Section, bars);
    }
    if bars == 2 * count {
        label = Label::DoubleSection;
    }
    while count < bars {
        let commit = double(&longer, letter, Part::Section)?;
        edits.extend(commit.edits.iter().cloned());
        commit.apply(&mut longer).map_err(|error| ArrangeError(error.to_string()))?;
        count *= 2;
    }
    if count > bars {
        edits.extend(set_bars(&longer, letter, Part::Section, bars)?.edits);
    }
    commit(song, label, edits)
}

/// Halves a section or layers of it: the first half stays, what begins in the second is removed.
///
/// # Errors
/// If there is nothing to halve, or no half is a whole number of bars of a section or of beats of a
/// layer: the reason.
pub fn halve(song: &Song, letter: Letter, part: Part) -> Result<Commit, ArrangeError> {
    let section = found(song, letter)?;
    if part == Part::Section {
        // A pickup and the short last bar are one.
        let pickup = u32::from(section.metre.pickup().is_some());
        let bars = section.metre.bars() - pickup;
        if bars % 2 == 1 {
            return refused(format!(
                "section {letter} has {bars} bars, which is not an even number: 'bars' cuts it to any \
                 number"
            ));
        }
        return Ok(set_bars(song, letter, part, bars / 2 + pickup)?.called(Label::HalveSection));
    }
    lengthen(song, section, part, Label::HalveLayer, |pass| half_of(song, section, pass))
}

/// Half the length of a pass, which must be a whole number of beats.
pub(super) fn half_of(song: &Song, section: &Section, pass: &Pass) -> Result<Tick, ArrangeError> {
    let half = Tick(pass.length.0 / 2);
    if pass.length.0 % 2 == 1 || section.metre.place(half).tick != 0 {
        return refused(format!(
            "half of a layer of {} is not a whole number of beats",
            track_name(song, pass.track)
        ));
    }
    Ok(half)
}

/// The stack of a section with some layers made anew.
pub(super) fn with_new(
    song: &Song,
    section: &Section,
    part: Part,
    ids: &mut Ids,
    make: impl Fn(&SharedPass) -> Result<Option<Vec<Pass>>, ArrangeError>,
) -> Result<Vec<Place>, ArrangeError> {
    let mut stack = Vec::new();
    for (layer, pass) in song.layers(section) {
        let made = if part.includes(pass) { make(pass)? } else { None };
        match made {
            Some(made) => stack.extend(owned(song, pass, layer, made, ids)),
            None => stack.push(Place::Kept(*layer)),
        }
    }
    if !song.layers(section).any(|(_, pass)| part.includes(pass)) {
        return refused(format!("there is no such layer in section {}", section.letter));
    }
    Ok(stack)
}

/// Gives layers another length.
fn lengthen(
    song: &Song,
    section: &Section,
    part: Part,
    label: Label,
    length: impl Fn(&Pass) -> Result<Tick, ArrangeError>,
) -> Result<Commit, ArrangeError> {
    let make = |pass: &SharedPass| -> Result<Option<Vec<Pass>>, ArrangeError> {
        let to = length(pass)?;
        if to == pass.length {
            return Ok(None);
        }
        if to > pass.length {
            return Ok(Some(vec![Pass { length: to, ..(**pass).clone() }]));
        }
        let all = Window::of(section, feel_of(song, pass), 1, 1);
        let window = Window { to, round: pass.length, ends: false, bars: to, ..all };
        let made = window.passes(pass)?;
        // A layer without anything stays as an empty one: it was not asked to go.
        let empty = || vec![Pass { length: to, ..Pass::empty(pass.id, pass.track, to) }];
        Ok(Some(if made.is_empty() { empty() } else { made }))
    };
    let mut ids = song.ids();
    let stack = with_new(song, section, part, &mut ids, make)?;
    commit(song, label, rebuild(section, Bars::of(section), stack))
}

/// Doubles layers.
fn repeat(song: &Song, section: &Section, part: Part) -> Result<Commit, ArrangeError> {
    let make = |pass: &SharedPass| twice(song, section, pass).map(Some);
    let mut ids = song.ids();
    let stack = with_new(song, section, part, &mut ids, make)?;
    commit(song, Label::DoubleLayer, rebuild(section, Bars::of(section), stack))
}

/// The stack with the content of some passes twice.
fn repeated(
    song: &Song,
    section: &Section,
    wanted: &impl Fn(&SharedPass) -> bool,
) -> Result<Vec<Place>, ArrangeError> {
    let (mut ids, mut stack) = (song.ids(), Vec::new());
    for (layer, pass) in song.layers(section) {
        let layer: &Layer = layer;
        match wanted(pass) {
            true => {
                let made = twice(song, section, pass)?;
                stack.extend(owned(song, pass, layer, made, &mut ids));
            }
            false => stack.push(Place::Kept(*layer)),
        }
    }
    Ok(stack)
}

/// A pass with its content twice. An empty one stays empty.
fn twice(song: &Song, section: &Section, pass: &SharedPass) -> Result<Vec<Pass>, ArrangeError> {
    let to = pass.length * 2;
    let all = Window::of(section, feel_of(song, pass), 1, 1);
    let made = Window { to, round: to, ends: true, bars: to, ..all }.passes(pass)?;
    let empty = || vec![Pass { length: to, ..(**pass).clone() }];
    Ok(if made.is_empty() { empty() } else { made })
}
