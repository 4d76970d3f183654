//! Two layers become one.
//!
//! In: a section and one of its layers. Out: a commit that puts one pass in the place of that layer and
//! the next one of its track below, and sounds as both did. How each note was played is kept. Layers that
//! one pass cannot stand for are refused with the reason. Other sections keep what they share.

use super::ReviseError;
use crate::{
    Channel, Commit, Content, Edit, Feel, Label, Laid, Lane, Layer, Letter, Note, NoteId, Notes,
    Pass, PassId, Section, SectionEdit, SharedPass, Song, Swing, SysEx, U7, is_roll,
};
use chaconne_time::{MetreMap, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// The most notes and messages that a merge makes.
const MOST: usize = 200_000;

/// Merges a layer into the next one of its track below it. The new pass is called `id`.
///
/// # Errors
/// If there is none below, or one pass cannot sound as both do: the reason.
pub fn merge_layers(
    song: &Song,
    letter: Letter,
    upper: PassId,
    id: PassId,
) -> Result<Commit, ReviseError> {
    let section = song.section(letter).ok_or(ReviseError::NoLower)?;
    let track = song.pass(upper).ok_or(ReviseError::NoLower)?.track;
    let stack: Vec<(&Layer, &SharedPass)> = song.layers_of(section, track).collect();
    let at = stack.iter().position(|(layer, _)| layer.pass == upper);
    let below = at.and_then(|at| at.checked_sub(1)).ok_or(ReviseError::NoLower)?;
    let [(lower_layer, lower), (upper_layer, upper)] = [stack[below], stack[below + 1]];
    if lower_layer.mute != upper_layer.mute {
        return Err(ReviseError::OneMuted);
    }
    if !upper.covers.is_empty() {
        return Err(ReviseError::Covers);
    }
    let usual = song.track(track).map(|track| track.feel);
    if lower.feel.or(usual) != upper.feel.or(usual) {
        return Err(ReviseError::Feels);
    }
    let length = common_length(lower, upper)?;
    // Groove and human variation count from the start of each cycle, and the shorter pass would have
    // fewer of them.
    let feel = lower.feel.or(usual);
    let counts = feel.is_some_and(|feel| feel.groove.is_some() || feel.human.is_on());
    if counts && lower.length != upper.length {
        return Err(ReviseError::FeelLengths);
    }
    if let Some(feel) = feel
        && lower.length != upper.length
        && !is_one_grid(&feel, lower.length.min(upper.length), &section.metre)
    {
        return Err(ReviseError::GridLengths);
    }
    if moves_the_same(lower, upper) {
        return Err(ReviseError::SameController);
    }
    // A gesture ends with its cycle, and covers must not overlap.
    let plain = |pass: &&SharedPass| pass.lanes().is_empty() && pass.covers.is_empty();
    if ![lower, upper].iter().all(|pass| pass.length == length || plain(pass)) {
        return Err(ReviseError::ShortGesture);
    }
    let count = |pass: &SharedPass| {
        let once = pass.notes().len() + pass.sysex().len();
        once.saturating_mul(shifts(pass, length).count())
    };
    if count(lower).saturating_add(count(upper)) > MOST {
        return Err(ReviseError::Full);
    }
    let cycles: Vec<Vec<Note>> =
        [lower, upper].into_iter().flat_map(|pass| unrolled(pass, length)).collect();
    if feel.is_some_and(|feel| feel.is_on() && feel.rolls) && makes_rolls(&cycles, section) {
        return Err(ReviseError::NewRoll);
    }
    let mut notes = cycles.concat();
    for (note, id) in std::iter::zip(&mut notes, 1..) {
        note.id = NoteId(id);
    }
    let lanes: Vec<Lane> =
        [lower, upper].into_iter().flat_map(|pass| pass.lanes()).cloned().collect();
    let messages = |pass: &SharedPass| -> Vec<SysEx> {
        let later = |shift: Tick| {
            pass.sysex()
                .iter()
                .map(move |message| SysEx { at: message.at + shift, ..message.clone() })
        };
        shifts(pass, length).flat_map(later).collect()
    };
    let sysex = [lower, upper].into_iter().flat_map(messages).collect();
    let mut pass = Pass {
        name: if lower.name.is_empty() { upper.name.clone() } else { lower.name.clone() },
        feel: lower.feel,
        covers: lower.covers.clone(),
        content: Content::Notes(Notes { notes, lanes, sysex }),
        ..Pass::empty(id, track, length)
    };
    pass.sort();
    let edits = vec![
        Edit::Section(letter, SectionEdit::Remove(upper.id)),
        Edit::Section(letter, SectionEdit::Replace(lower.id, Laid::New(Arc::new(pass)))),
    ];
    Ok(Commit::new(Label::MergePasses, edits))
}

/// The length after which both start together again: that of the longer one, if the other goes into it.
fn common_length(one: &Pass, other: &Pass) -> Result<Tick, ReviseError> {
    let (long, short) = (one.length.max(other.length), one.length.min(other.length));
    match long.0 % short.0.max(1) == 0 {
        true => Ok(long),
        false => Err(ReviseError::Lengths),
    }
}

/// Whether both move one controller of one channel: the upper one's gestures would no longer win.
fn moves_the_same(one: &Pass, other: &Pass) -> bool {
    let moved = |pass: &Pass| -> BTreeSet<_> {
        pass.lanes().iter().map(|lane| (lane.channel, lane.control)).collect()
    };
    !moved(one).is_disjoint(&moved(other))
}

/// By how much each cycle of a pass is later than the first, within a length.
fn shifts(pass: &Pass, length: Tick) -> impl Iterator<Item = Tick> + use<> {
    let own = pass.length;
    (0..length.0 / own.0.max(1)).map(move |cycle| own * cycle)
}

/// The notes of all cycles of a pass within a length, cycle by cycle.
fn unrolled(pass: &Pass, length: Tick) -> impl Iterator<Item = Vec<Note>> {
    shifts(pass, length).map(|shift| {
        let later = pass.notes().iter().map(|note| {
            let mut note = *note;
            note.played.start += shift;
            note.placed.start = note.placed.start.map(|start| start + shift);
            note
        });
        later.collect()
    })
}

/// Whether every cycle of the shorter pass has the grid points that a pass over the whole section has there. The
/// grid starts again with each bar and with each cycle, and swing moves every second point.
fn is_one_grid(feel: &Feel, short: Tick, metre: &MetreMap) -> bool {
    let Some(grid) = feel.grid else { return true };
    let period = if feel.swing == Swing::STRAIGHT { grid.ticks() } else { grid.ticks() * 2 };
    let fits = |length: Tick| length.cycle(period).1 == Tick::ZERO;
    fits(short) && metre.changes().iter().all(|change| fits(change.metre.bar()))
}

/// Whether strokes of one drum in different cycles or passes are as close as those of a roll, which feel moves as
/// one.
fn makes_rolls(cycles: &[Vec<Note>], section: &Section) -> bool {
    let stroke = |cycle: usize, note: &Note| {
        let stroke = note.stroke();
        (note.channel, stroke.key, stroke.start, cycle)
    };
    let mut strokes: Vec<(Channel, U7, Tick, usize)> = cycles
        .iter()
        .enumerate()
        .flat_map(|(cycle, notes)| notes.iter().map(move |note| stroke(cycle, note)))
        .collect();
    strokes.sort_unstable();
    strokes.windows(2).any(|pair| {
        let [(channel, key, start, cycle), (next_channel, next_key, next, next_cycle)] = pair
        else {
            return false;
        };
        let same_drum = (channel, key) == (next_channel, next_key);
        let tempo = section.tempo.at(start.cycle(section.length()).1);
        same_drum && cycle != next_cycle && is_roll(*next - *start, tempo)
    })
}
