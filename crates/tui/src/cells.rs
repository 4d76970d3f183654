//! What the view of the notes shows: a cell for each row and mark.
//!
//! In: a sheet, the rows, a scale, and which notes are selected. Out: cells. A note lies where it is
//! heard, in the mark it is nearest to; where it was played is marked too, if that is another cell. The
//! cells are kept for as long as nothing in them changes, so that a rolling song costs nothing here.

use crate::axis::Scale;
use crate::sheet::{Lying, Sheet};
use chaconne_song::{NoteRef, PassId, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What a cell shows, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Cell {
    /// Nothing.
    #[default]
    Empty,
    /// A note was played here, and is heard elsewhere.
    Played,
    /// A note goes on.
    Held(Look),
    /// A note is struck; 0..=7 by how hard it sounds.
    Struck(Look, u8),
}

/// How a note looks; the last wins.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Look {
    /// Its layer is silent, or a layer above covers it.
    Silent,
    /// As any other.
    Plain,
    /// It is selected.
    Selected,
}

/// What the cells are made from.
pub struct Source<'a> {
    /// The notes.
    pub sheet: &'a Arc<Sheet>,
    /// The keys of the rows.
    pub rows: &'a [U7],
    /// The columns.
    pub scale: &'a Scale,
    /// Where the axis begins, from the entry into the section.
    pub base: Tick,
    /// The selected notes, and a number that changes with them.
    pub selected: (&'a BTreeSet<NoteRef>, u64),
    /// The layers that do not sound.
    pub silent: BTreeSet<PassId>,
}

impl Source<'_> {
    /// Whether a note does not sound.
    pub fn is_silent(&self, lying: &Lying) -> bool {
        let layer = lying.layer;
        self.silent.contains(&layer.pass.id)
            || layer.is_covered(lying.meant, self.base, &self.silent)
    }
}

/// Cells, and what they were made from.
#[derive(Debug, Default)]
pub struct KeptCells {
    kept: Option<Kept>,
}

#[derive(Debug)]
struct Kept {
    sheet: Arc<Sheet>,
    rows: Vec<U7>,
    scale: Scale,
    base: Tick,
    marked: u64,
    silent: BTreeSet<PassId>,
    cells: Vec<Vec<Cell>>,
}

impl KeptCells {
    /// The cells, a list for each row.
    pub fn of(&mut self, source: &Source) -> &[Vec<Cell>] {
        let same = self.kept.as_ref().is_some_and(|kept| {
            Arc::ptr_eq(&kept.sheet, source.sheet)
                && kept.rows == source.rows
                && kept.scale == *source.scale
                && kept.base == source.base
                && kept.marked == source.selected.1
                && kept.silent == source.silent
        });
        if !same {
            self.kept = None;
        }
        let fresh = || Kept {
            sheet: source.sheet.clone(),
            rows: source.rows.to_vec(),
            scale: source.scale.clone(),
            base: source.base,
            marked: source.selected.1,
            silent: source.silent.clone(),
            cells: cells(source),
        };
        &self.kept.get_or_insert_with(fresh).cells
    }
}

/// Makes the cells.
pub fn cells(source: &Source) -> Vec<Vec<Cell>> {
    let mut cells = vec![vec![Cell::Empty; source.scale.marks.len()]; source.rows.len()];
    // What was played before the page may be heard on it, and the other way round.
    let margin = Tick(3840);
    let (start, end) = (source.scale.start(), source.scale.end());
    let page = Span::new(start - source.scale.early(), end - source.scale.early());
    for (row, &key) in source.rows.iter().enumerate() {
        for lying in source.sheet.touching(key, page, source.base) {
            note(source, &lying, &mut cells[row]);
        }
    }
    let wide = Span::new(start - margin, end + margin);
    for key in source.sheet.keys() {
        for lying in source.sheet.starting(key, wide, source.base) {
            played(source, &lying, &mut cells);
        }
    }
    cells
}

fn note(source: &Source, lying: &Lying, row: &mut [Cell]) {
    let scale = source.scale;
    let look = if source.selected.0.contains(&lying.name()) {
        Look::Selected
    } else if source.is_silent(lying) {
        Look::Silent
    } else {
        Look::Plain
    };
    let mut raise = |mark: usize, cell: Cell| row[mark] = row[mark].max(cell);
    let early = scale.early();
    if let Some(mark) = scale.mark_of(lying.on + early) {
        raise(mark, Cell::Struck(look, lying.velocity.get() / 16));
    }
    // It goes on in every later mark that it fills for at least half a mark.
    let last = lying.off - early - Tick(1);
    let first = scale.marks.partition_point(|mark| mark.start <= lying.on + early);
    let held = scale.marks[first..].iter().take_while(|mark| mark.start <= last).count();
    (first..first + held).for_each(|mark| raise(mark, Cell::Held(look)));
}

/// Marks where a note was played, if it is heard in another cell.
fn played(source: &Source, lying: &Lying, cells: &mut [Vec<Cell>]) {
    let (at, key) = (lying.played(), lying.note.played.key);
    let (scale, early) = (source.scale, source.scale.early());
    let mark = scale.mark_of(at + early);
    if key == lying.note.stroke().key && mark == scale.mark_of(lying.on + early) {
        return;
    }
    let row = source.rows.binary_search_by(|row| key.cmp(row)).ok();
    if let (Some(row), Some(mark)) = (row, mark) {
        cells[row][mark] = cells[row][mark].max(Cell::Played);
    }
}
