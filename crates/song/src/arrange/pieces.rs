//! The layers of a section over a part of its bars.

use super::window::{Window, begins_at, feel_of};
use super::{ArrangeError, Place, own_id, refused, track_name};
use crate::{Layer, Pass, Section, SharedPass, Song};
use chaconne_time::Tick;

/// A layer over a part of the bars of its section.
pub(super) enum Piece {
    /// It begins again at either end, so the pass serves as it is.
    Whole,
    /// These passes, lowest first, which still have the id of the one they were made from.
    Made(Vec<Pass>),
}

/// The bars of a section that are wanted: the first, and how many.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    pub first: u32,
    pub bars: u32,
    /// Whether passes longer than the section go on behind its last bar.
    pub beyond: bool,
    /// How long they are, if the last of them gets shorter to make up for a pickup.
    pub length: Option<Tick>,
}

/// A layer over these bars.
pub(super) fn piece(
    song: &Song,
    section: &Section,
    pass: &SharedPass,
    wanted: Wanted,
) -> Result<Piece, ArrangeError> {
    let mut window = Window::of(section, feel_of(song, pass), wanted.first, wanted.bars);
    if let Some(length) = wanted.length {
        (window.to, window.bars) = (window.from + length, length);
    }
    // Where a section ends before its pass does, the pass need not begin again there.
    let ends = if window.ends { window.from } else { window.to };
    let ends = if wanted.beyond { ends } else { window.to };
    if begins_at(pass, &window.feel, &[window.from, ends]) {
        return Ok(Piece::Whole);
    }
    if wanted.beyond && window.ends {
        window.to = window.to.max(pass.length);
    }
    window.passes(pass).map(Piece::Made)
}

/// The layers of a section over its first bars, in its own stack: passes keep their ids unless another
/// section plays them.
pub(super) fn first_bars(
    song: &Song,
    section: &Section,
    bars: u32,
    ids: &mut crate::Ids,
) -> Result<Vec<Place>, ArrangeError> {
    let mut stack = Vec::new();
    for (layer, pass) in song.layers(section) {
        match piece(song, section, pass, Wanted { first: 1, bars, beyond: false, length: None })? {
            Piece::Whole => stack.push(Place::Kept(*layer)),
            Piece::Made(made) => stack.extend(owned(song, pass, layer, made, ids)),
        }
    }
    Ok(stack)
}

/// Passes made from one as layers of its own section: the first has the id of the old one unless
/// another section goes on playing that.
pub(super) fn owned(
    song: &Song,
    of: &SharedPass,
    layer: &Layer,
    made: Vec<Pass>,
    ids: &mut crate::Ids,
) -> Vec<Place> {
    let mut place = |(index, pass): (usize, Pass)| {
        let id = if index == 0 { own_id(song, of, ids) } else { ids.pass() };
        Place::Made(Pass { id, ..pass }, layer.mute)
    };
    made.into_iter().enumerate().map(&mut place).collect()
}

/// Refuses if a layer does not begin again with the section: it would be cut at another place in each
/// round.
pub(super) fn all_go_round_with(song: &Song, section: &Section) -> Result<(), ArrangeError> {
    for (_, pass) in song.layers(section) {
        if section.length().0 % pass.length.0.max(1) != 0 {
            return refused(format!(
                "a layer of {} does not go into the {} bars of section {} a whole number of times, and \
                 the section is played several times in a row: change the length of the layer first",
                track_name(song, pass.track),
                section.metre.bars(),
                section.letter
            ));
        }
    }
    Ok(())
}

/// Refuses if a layer has anything that begins after the last bar of its section.
pub(super) fn none_goes_on(song: &Song, section: &Section) -> Result<(), ArrangeError> {
    let end = section.length();
    for (_, pass) in song.layers(section) {
        let strokes = pass.notes().iter().map(|note| note.stroke().start);
        let messages = pass.sysex().iter().map(|message| message.at);
        let moves = pass.lanes().iter().flat_map(|lane| lane.points.iter().map(|point| point.at));
        let last = strokes.chain(messages).chain(moves).max().unwrap_or(Tick::ZERO);
        if pass.length > end && last >= end {
            return refused(format!(
                "a layer of {} goes on after the last bar of section {}: cut it to {} bars first",
                track_name(song, pass.track),
                section.letter,
                section.metre.bars()
            ));
        }
    }
    Ok(())
}
