//! The time axis of the form: which columns each entry has.
//!
//! In: the entries with their bars, the columns there are, and the entry that must be visible. Out:
//! cells. The scale is the finest with which the whole form fits; if none does, one page of it.

use chaconne_song::Letter;

/// The first column; the one before it stays empty.
const LEFT: u16 = 1;

/// An entry of the form on the axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    /// The index of the entry, from 0.
    pub entry: usize,
    /// Its section.
    pub letter: Letter,
    /// The column of the line before it.
    pub column: u16,
    /// The columns after that line.
    pub width: u16,
    /// The number of its first bar along the form, from 1.
    pub first_bar: u64,
    bars: u32,
}

/// How many columns a bar has, or how many bars a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Scale {
    Columns(u16),
    Bars(u32),
}

/// The entries that are visible.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Axis {
    /// The entries, from left to right.
    pub cells: Vec<Cell>,
    /// The column after the last one.
    pub end: u16,
    /// Whether entries after the last one are left out.
    pub is_cut: bool,
    scale: Scale,
}

impl Scale {
    /// Every scale, the finest first.
    fn all() -> impl Iterator<Item = Scale> {
        let columns = [16, 12, 8, 6, 4, 3, 2, 1].map(Scale::Columns);
        columns.into_iter().chain((1..=10).map(|power| Scale::Bars(1 << power)))
    }

    /// The columns of an entry, without the line before it.
    fn width(self, (letter, bars): (Letter, u32)) -> u16 {
        let columns = match self {
            Scale::Columns(columns) => u64::from(columns) * u64::from(bars),
            Scale::Bars(each) => u64::from(bars.div_ceil(each)),
        };
        u16::try_from(columns).unwrap_or(u16::MAX - 1).max(letter.as_str().len() as u16)
    }
}

impl Axis {
    /// The axis of a form in so many columns, with the entry `focus` visible.
    pub fn new(entries: &[(Letter, u32)], columns: u16, focus: usize) -> Axis {
        let room = u64::from(columns.saturating_sub(1));
        let total = |scale: Scale| -> u64 {
            entries.iter().map(|&entry| u64::from(scale.width(entry)) + 1).sum()
        };
        let fits = Scale::all().find(|&scale| total(scale) <= room);
        let scale = fits.unwrap_or(Scale::Bars(4));
        let mut axis = Axis { cells: Vec::new(), end: LEFT, is_cut: false, scale };
        let mut first_bar = 1;
        for (entry, &(letter, bars)) in entries.iter().enumerate() {
            let width = scale.width((letter, bars));
            if u64::from(axis.end - LEFT) + u64::from(width) + 1 > room && !axis.cells.is_empty() {
                if entry > focus {
                    axis.is_cut = true;
                    break;
                }
                (axis.cells, axis.end) = (Vec::new(), LEFT);
            }
            let width = width.min(columns.saturating_sub(2));
            axis.cells.push(Cell { entry, letter, column: axis.end, width, first_bar, bars });
            axis.end += width + 1;
            first_bar += u64::from(bars);
        }
        axis
    }

    /// The column of the first line.
    pub fn start(&self) -> u16 {
        LEFT
    }

    /// The columns in which the bars of an entry begin, after its first, if each has more than one.
    pub fn bar_columns(&self, cell: &Cell) -> impl Iterator<Item = u16> + use<> {
        let each = match self.scale {
            Scale::Columns(columns) if columns > 1 => columns,
            _ => cell.width.max(1),
        };
        let (first, end) = (cell.column + 1, cell.column + 1 + cell.width);
        (1..cell.bars as u16).map(move |bar| first + bar * each).take_while(move |&at| at < end)
    }

    /// The column of a moment: so many bars into an entry, and `into` of `length` ticks into that bar.
    /// `None` if the entry is not visible.
    pub fn column(&self, entry: usize, bars: u32, into: i64, length: i64) -> Option<u16> {
        let cell = self.cells.iter().find(|cell| cell.entry == entry)?;
        let ticks = i64::from(bars) * length + into.clamp(0, length - 1);
        let columns = match self.scale {
            Scale::Columns(columns) => ticks * i64::from(columns) / length,
            Scale::Bars(each) => ticks / (i64::from(each) * length),
        };
        let columns = columns.clamp(0, i64::from(cell.width) - 1);
        Some(cell.column + 1 + columns as u16)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn form(text: &str, bars: u32) -> Vec<(Letter, u32)> {
        text.split(' ').map(|letter| (letter.parse().unwrap(), bars)).collect()
    }

    #[test]
    fn entries_are_as_wide_as_their_bars() {
        let axis = Axis::new(&[form("A B", 4), form("A", 8)].concat(), 78, 0);
        let widths: Vec<u16> = axis.cells.iter().map(|cell| cell.width).collect();
        assert_eq!((widths, axis.cells[2].first_bar), (vec![16, 16, 32], 9));
        let bars: Vec<u16> = axis.bar_columns(&axis.cells[0]).collect();
        assert_eq!(bars, [6, 10, 14]);
        // Bar 2, half of it gone: one bar and a half of four columns each.
        assert_eq!(axis.column(1, 1, 1920, 3840), Some(axis.cells[1].column + 1 + 6));
        assert_eq!(axis.column(3, 0, 0, 3840), None);
    }

    #[test]
    fn a_form_that_is_too_long_is_shown_in_pages() {
        let long = vec![(Letter::A, 4); 1000];
        let axis = Axis::new(&long, 78, 500);
        assert!(axis.cells.iter().any(|cell| cell.entry == 500) && axis.is_cut);
        assert!(axis.end <= 78);
        let last = Axis::new(&long, 78, 999);
        assert_eq!((last.cells.last().unwrap().entry, last.is_cut), (999, false));
    }

    proptest! {
        #[test]
        fn the_entry_in_focus_is_always_visible_inside_the_room(
            entries in prop::collection::vec((0usize..800, 1u32..999), 1..300),
            columns in 10u16..300,
            focus in 0usize..300,
        ) {
            let letters: Vec<Letter> = Letter::all().take(800).collect();
            let entries: Vec<(Letter, u32)> =
                entries.into_iter().map(|(letter, bars)| (letters[letter], bars)).collect();
            let focus = focus.min(entries.len() - 1);
            let axis = Axis::new(&entries, columns, focus);
            prop_assert!(axis.cells.iter().any(|cell| cell.entry == focus));
            prop_assert!(axis.end < columns + LEFT);
            for cell in &axis.cells {
                for bars in 0..entries[cell.entry].1 {
                    let column = axis.column(cell.entry, bars, 3839, 3840).unwrap();
                    prop_assert!(column > cell.column && column <= cell.column + cell.width);
                }
            }
        }
    }
}
