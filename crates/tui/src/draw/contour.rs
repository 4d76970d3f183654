//! The notes of a track or layer in a few rows, high keys above low ones: what a tall screen has room for
//! in place of one row of marks.
//!
//! In: the stage, which layers, and the rows there are. Out: rows of notes along the axis with the names of
//! their keys, and how many rows each track gets.

use super::timeline::{Shape, Stage};
use super::{Pen, notes_view};
use crate::cells::{Cell, Source};
use crate::key_names::{Naming, key_name, short_key_name};
use crate::picture::Pictures;
use crate::screen::Stack;
use crate::sheet::Sheet;
use crate::text;
use chaconne_song::{SharedPass, U7};
use chaconne_time::Tick;
use std::collections::BTreeSet;
use std::ops::Range;

/// In fewer rows, keys far from each other would share one.
const LEAST: usize = 3;
/// The columns of the name of a key: as many as the longest has.
pub const NAME: u16 = crate::key_names::LONGEST;

/// How many rows of notes, below its head, each of so many tracks gets in so many rows, at most `most`;
/// `None` if the screen is not tall enough for any.
pub fn rows_each(shape: Shape, room: usize, count: usize, most: usize) -> Option<u16> {
    let each = (room.checked_div(count)?).checked_sub(1)?.min(most);
    (shape == Shape::Beside && each >= LEAST).then_some(each as u16)
}

/// How many rows a track or layer needs for each of its keys to have one.
pub fn wanted(passes: &[(SharedPass, bool)], pitched: bool) -> usize {
    let keys = passes.iter().flat_map(|(pass, _)| pass.notes()).map(|note| note.stroke().key);
    let used: BTreeSet<U7> = keys.collect();
    match (used.first(), used.last()) {
        (Some(low), Some(high)) if pitched => usize::from(high.get() - low.get()) + 1,
        _ => used.len(),
    }
}

/// Draws the notes of a layer, or of all.
pub(super) fn draw(
    pen: &mut Pen,
    stage: &Stage,
    (stack, only): (&Stack, Option<usize>),
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    let status = &stage.sight.state.status;
    let Some(section) = status.song.section(stage.section.letter) else { return };
    let kept = pictures.lane(stack, only, section);
    let sheet = kept.sheet.clone();
    let bands = bands(&keys(stage, &sheet, only), stack.track.pitched, rows.len());
    let all: Vec<U7> = bands.iter().flatten().copied().collect();
    let none = BTreeSet::new();
    let source = Source {
        sheet: &sheet,
        rows: &all,
        scale: &stage.scale,
        base: base(stage),
        selected: (&none, 0),
        silent: sheet.silent(&status.solo_passes),
    };
    let mut cells = kept.cells.of(&source).iter();
    for (band, y) in bands.iter().zip(rows.clone()) {
        let mut row = vec![Cell::Empty; stage.scale.marks.len()];
        for of_key in cells.by_ref().take(band.len()) {
            std::iter::zip(&mut row, of_key).for_each(|(cell, other)| *cell = (*cell).max(*other));
        }
        // Where notes were played is a matter for the view of the notes.
        row.iter_mut().filter(|cell| **cell == Cell::Played).for_each(|cell| *cell = Cell::Empty);
        notes_view::row(pen, stage, &sheet, &row, false, y);
    }
    names(pen, stage, &bands, stage.naming(&stack.track), rows.start);
    if only.is_none() {
        unfinished(pen, stage, &sheet, &bands, rows.start);
    }
    beats(pen, stage, &bands, rows);
}

/// Where the axis begins: it shows one round of the section, the one that plays if this section does.
pub(super) fn base(stage: &Stage) -> Tick {
    let status = &stage.sight.state.status;
    match stage.section.letter == status.section {
        true => stage.section.length() * status.round as i64,
        false => Tick::ZERO,
    }
}

/// The keys that have notes, those of the unfinished round among them, the lowest first.
fn keys(stage: &Stage, sheet: &Sheet, only: Option<usize>) -> Vec<U7> {
    let status = &stage.sight.state.status;
    let armed = status.armed == Some(sheet.track.id) && only.is_none();
    let fresh = status.unfinished.as_ref().filter(|_| armed);
    let fresh = fresh.into_iter().flat_map(|pass| pass.notes()).map(|note| note.stroke().key);
    sheet.keys().chain(fresh).collect::<BTreeSet<U7>>().into_iter().collect()
}

/// The keys of each row, from the highest to the lowest. A pitched part has all keys between its lowest and
/// its highest, so that an interval looks as wide as it is; keys share a row if there are more of them.
fn bands(used: &[U7], pitched: bool, rows: usize) -> Vec<Vec<U7>> {
    let (Some(low), Some(high)) = (used.first(), used.last()) else { return vec![vec![]; rows] };
    let keys: Vec<U7> = match pitched {
        true => (low.get()..=high.get()).rev().filter_map(U7::new).collect(),
        false => used.iter().rev().copied().collect(),
    };
    let mut bands = vec![Vec::new(); rows];
    // A few keys are at the bottom of the rows.
    let above = rows.saturating_sub(keys.len());
    for (index, key) in keys.iter().enumerate() {
        bands[above + index * (rows - above) / keys.len()].push(*key);
    }
    bands
}

/// The names of the keys, left of the axis: of drums all, of pitches that share rows the highest and the
/// lowest.
fn names(pen: &mut Pen, stage: &Stage, bands: &[Vec<U7>], naming: Naming, top: u16) {
    let pitched = naming != Naming::Drums;
    let shared = bands.iter().any(|band| band.len() > 1);
    let first = bands.iter().position(|band| !band.is_empty()).unwrap_or(0);
    for ((index, band), y) in bands.iter().enumerate().zip(top..) {
        let named = match band[..] {
            [key] if !shared || !pitched => Some((key_name(key, naming), key)),
            [.., key] if pitched && index + 1 == bands.len() => Some((key_name(key, naming), key)),
            [key, ..] if pitched && index == first => Some((key_name(key, naming), key)),
            [key, ..] if !pitched => {
                let names: Vec<String> =
                    band.iter().map(|key| short_key_name(*key, naming)).collect();
                Some((text::clip(&names.join(" "), NAME.into(), pen.palette.signs.cut), key))
            }
            _ => None,
        };
        if let Some((name, key)) = named {
            let style = notes_view::key_style(pen, key, naming);
            pen.put_before(stage.left - 1, y, &name, style);
        }
    }
}

/// The beats in the lowest row, where nothing is struck.
fn beats(pen: &mut Pen, stage: &Stage, bands: &[Vec<U7>], rows: Range<u16>) {
    if bands.iter().all(Vec::is_empty) {
        for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
            let (x, faint) = (stage.left + mark.column, pen.palette.faint());
            pen.sign(x, rows.end - 1, pen.palette.signs.beat, faint);
        }
    }
}

/// The notes of the unfinished round, as rings.
pub(super) fn unfinished(pen: &mut Pen, stage: &Stage, sheet: &Sheet, bands: &[Vec<U7>], top: u16) {
    let status = &stage.sight.state.status;
    let armed = status.armed == Some(sheet.track.id);
    let here = stage.section.letter == status.section;
    let Some(pass) = status.unfinished.as_ref().filter(|_| armed && here) else { return };
    for note in pass.notes() {
        let stroke = note.stroke();
        let (_, at) = (stroke.start + stage.scale.early()).cycle(stage.section.length());
        let row = bands.iter().position(|band| band.contains(&stroke.key));
        if let (Some(mark), Some(row)) = (stage.scale.mark_of(at), row) {
            let x = stage.left + stage.scale.marks[mark].column;
            pen.sign(x, top + row as u16, pen.palette.signs.fresh, pen.palette.alarm());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn band(list: &[u8], pitched: bool, rows: usize) -> Vec<Vec<u8>> {
        let used: Vec<U7> = list.iter().map(|&key| U7::low_bits(key)).collect();
        let bands = bands(&used, pitched, rows);
        bands.iter().map(|band| band.iter().map(|key| key.get()).collect()).collect()
    }

    #[test]
    fn keys_lie_at_the_bottom_and_share_rows_if_there_are_more_of_them() {
        let one_each: [&[u8]; 4] = [&[], &[42], &[38], &[36]];
        assert_eq!(band(&[36, 38, 42], false, 4), one_each);
        assert_eq!(band(&[36, 38, 42], false, 2), [vec![42, 38], vec![36]]);
        assert_eq!(band(&[60, 62], true, 4), [vec![], vec![62], vec![61], vec![60]]);
        assert_eq!(band(&[60, 63], true, 2), [[63, 62], [61, 60]]);
        assert_eq!(band(&[], true, 2), [vec![], Vec::<u8>::new()]);
    }

    #[test]
    fn no_key_is_lost_whatever_the_rows() {
        for rows in 1..20 {
            let bands = band(&[21, 40, 77, 108], true, rows);
            let all: Vec<u8> = bands.iter().flatten().copied().collect();
            assert_eq!(all, (21..=108).rev().collect::<Vec<_>>(), "{rows}");
            assert_eq!(bands.len(), rows);
        }
    }

    #[test]
    fn a_track_gets_rows_only_if_three_of_them_fit_below_its_head() {
        assert_eq!(rows_each(Shape::Beside, 30, 4, 12), Some(6));
        assert_eq!(rows_each(Shape::Beside, 30, 1, 12), Some(12));
        assert_eq!(rows_each(Shape::Beside, 30, 7, 12), Some(3));
        assert_eq!(rows_each(Shape::Beside, 30, 8, 12), None);
        assert_eq!(rows_each(Shape::Above, 30, 2, 12), None);
        assert_eq!(rows_each(Shape::Beside, 30, 0, 12), None);
    }
}
