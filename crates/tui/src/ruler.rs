//! The ruler: which bars are shown, and which stretch of time each mark stands for.
//!
//! In: the metres of a section, the columns there are, the bar to be seen. Out: columns for
//! ticks. The rule is: a mark is a sixteenth; where the whole section does not fit so, an eighth;
//! where that does not fit either, a quarter; where nothing fits, sixteenths again, a page of
//! whole bars at a time, and the page is the one that holds the bar to be seen.

use chaconne_time::{MetreMap, Tick};

/// The length of a sixteenth.
pub const SIXTEENTH: Tick = Tick(240);

/// How a section lies on its row of marks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ruler {
    /// The length of a mark; the last of a bar may be shorter.
    pub cell: Tick,
    /// The bars shown, in order.
    pub bars: Vec<Bar>,
    /// All marks shown.
    pub cells: usize,
    /// How many bars the section has.
    pub of: u32,
    /// The length of the section.
    pub length: Tick,
}

/// A bar on the ruler.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bar {
    /// Its number, from 1.
    pub number: i64,
    /// Where it starts, in ticks from the top.
    pub start: Tick,
    /// Where it ends.
    pub end: Tick,
    /// The first of its marks among all that are shown.
    pub first: usize,
    /// How many marks it has.
    pub cells: usize,
    /// The column of its bar line; its marks follow.
    pub column: u16,
    /// The length of a beat.
    pub beat: Tick,
}

impl Ruler {
    /// The whole section in `columns`, `cell` a mark; `None` where it does not fit.
    pub fn whole(metre: &MetreMap, cell: Tick, columns: u16) -> Option<Ruler> {
        let ruler = Ruler::from_bar(metre, cell, 1, columns);
        (ruler.bars.len() as u32 == metre.bars() && ruler.columns() <= columns).then_some(ruler)
    }

    /// The page of whole bars, `cell` a mark, that holds `bar`. Where not even one bar fits, its
    /// marks are doubled until it does.
    pub fn page(metre: &MetreMap, cell: Tick, columns: u16, bar: i64) -> Ruler {
        let bar = bar.clamp(1, i64::from(metre.bars()));
        let mut first = 1;
        let mut widest = 0;
        for number in 1..=bar {
            let wanted = cells_in(metre, cell, number) as u16 + 1;
            if widest + wanted > columns && number > first {
                (first, widest) = (number, 0);
            }
            widest += wanted;
        }
        let ruler = Ruler::from_bar(metre, cell, first, columns);
        if ruler.columns() > columns && cell.0 < 1 << 32 {
            return Ruler::page(metre, cell * 2, columns, bar);
        }
        ruler
    }

    /// As many bars from `first` on as fit into `columns`, but at least one.
    fn from_bar(metre: &MetreMap, cell: Tick, first: i64, columns: u16) -> Ruler {
        let mut ruler =
            Ruler { cell, bars: Vec::new(), cells: 0, of: metre.bars(), length: metre.length() };
        let mut column = 0u16;
        for number in first..=i64::from(metre.bars()) {
            let cells = cells_in(metre, cell, number);
            let next = usize::from(column) + 1 + cells;
            if next > usize::from(columns) && !ruler.bars.is_empty() {
                break;
            }
            ruler.bars.push(Bar {
                number,
                start: metre.bar_start(number),
                end: metre.bar_start(number + 1),
                first: ruler.cells,
                cells,
                column,
                beat: metre.metre_of(number).beat(),
            });
            ruler.cells += cells;
            column = next.min(usize::from(u16::MAX)) as u16;
        }
        ruler
    }

    /// The columns it takes: a bar line and the marks for each bar. The closing bar line is drawn
    /// where there is room.
    pub fn columns(&self) -> u16 {
        self.bars.last().map_or(0, |bar| bar.column.saturating_add(bar.cells as u16 + 1))
    }

    /// The mark that holds a tick from the top, where it is shown.
    pub fn cell_of(&self, at: Tick) -> Option<usize> {
        let bar = self.bars.iter().find(|bar| bar.start <= at && at < bar.end)?;
        Some(bar.first + ((at - bar.start).0 / self.cell.0) as usize)
    }

    /// The column of a mark.
    pub fn column_of(&self, cell: usize) -> Option<u16> {
        let bar = self.bars.iter().find(|bar| cell < bar.first + bar.cells)?;
        Some(bar.column + 1 + (cell - bar.first) as u16)
    }

    /// Whether a beat starts in a mark of a bar, counted from the bar's first.
    pub fn on_beat(&self, bar: &Bar, index: usize) -> bool {
        let start = self.cell.0 * index as i64;
        let next = start + self.cell.0;
        // The first beat at or after the start of the mark.
        let beat = (start + bar.beat.0 - 1) / bar.beat.0 * bar.beat.0;
        beat < next
    }

    /// Whether all bars of the section are shown.
    pub fn is_whole(&self) -> bool {
        self.bars.len() as u32 == self.of
    }

    /// What a mark stands for, in words.
    pub fn cell_word(&self) -> String {
        match self.cell.0 {
            240 => "1/16".to_string(),
            480 => "1/8".to_string(),
            960 => "1/4".to_string(),
            1920 => "1/2".to_string(),
            ticks => format!("{}/1", ticks / 3840),
        }
    }
}

fn cells_in(metre: &MetreMap, cell: Tick, bar: i64) -> usize {
    let length = metre.metre_of(bar).bar().0;
    ((length + cell.0 - 1) / cell.0) as usize
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::{Metre, MetreChange};
    use proptest::prelude::*;

    fn bars(count: u32, metre: &str) -> MetreMap {
        MetreMap::new(count, metre.parse().unwrap()).unwrap()
    }

    #[test]
    fn four_bars_of_four_quarters_are_sixty_four_sixteenths() {
        let ruler = Ruler::whole(&bars(4, "4/4"), SIXTEENTH, 80).unwrap();
        assert_eq!((ruler.cells, ruler.columns()), (64, 68));
        assert_eq!(ruler.cell_of(Tick(3840)), Some(16));
        assert_eq!(ruler.column_of(16), Some(18));
        assert_eq!(ruler.cell_of(Tick(15_360)), None);
        assert!(Ruler::whole(&bars(4, "4/4"), SIXTEENTH, 67).is_none());
    }

    #[test]
    fn a_bar_that_is_no_whole_number_of_sixteenths_ends_in_a_short_mark() {
        // 5/32 is 600 ticks: two sixteenths and a half.
        let ruler = Ruler::whole(&bars(2, "5/32"), SIXTEENTH, 80).unwrap();
        assert_eq!(ruler.bars[0].cells, 3);
        assert_eq!(ruler.cell_of(Tick(599)), Some(2));
        assert_eq!(ruler.cell_of(Tick(600)), Some(3));
    }

    #[test]
    fn pages_turn_by_whole_bars() {
        let metre = bars(16, "4/4");
        let shown = |bar| {
            let ruler = Ruler::page(&metre, SIXTEENTH, 80, bar);
            (ruler.bars[0].number, ruler.bars.len())
        };
        assert_eq!(shown(1), (1, 4));
        assert_eq!(shown(4), (1, 4));
        assert_eq!(shown(5), (5, 4));
        assert_eq!(shown(16), (13, 4));
        assert_eq!(shown(99), (13, 4));
    }

    #[test]
    fn a_bar_too_long_for_the_row_gets_coarser_marks() {
        let ruler = Ruler::page(&bars(3, "64/4"), SIXTEENTH, 40, 2);
        assert_eq!((ruler.bars.len(), ruler.bars[0].number), (1, 2));
        assert!(ruler.columns() <= 40 && ruler.cell > SIXTEENTH);
    }

    #[test]
    fn beats_are_marked_in_any_metre() {
        let ruler = Ruler::whole(&bars(1, "7/8"), SIXTEENTH, 80).unwrap();
        let beats = (0..14).filter(|&index| ruler.on_beat(&ruler.bars[0], index));
        assert_eq!(beats.collect::<Vec<_>>(), [0, 2, 4, 6, 8, 10, 12]);
        let coarse = Ruler::whole(&bars(1, "7/8"), SIXTEENTH * 4, 80).unwrap();
        assert!((0..4).all(|index| coarse.on_beat(&coarse.bars[0], index)));
    }

    proptest! {
        /// Every tick of the page has a mark, marks have their own columns, and all fit.
        #[test]
        fn marks_cover_the_page(
            count in 1u32..40,
            first in 1u8..=16,
            second in 1u8..=16,
            columns in 20u16..200,
            bar in 1i64..40,
        ) {
            let metre = |count| Metre::new(count, 8).unwrap();
            let mut changes = vec![MetreChange { bar: 1, metre: metre(first) }];
            if count > 2 {
                changes.push(MetreChange { bar: 3, metre: metre(second) });
            }
            let map = MetreMap::with_changes(count, changes).unwrap();
            let ruler = Ruler::page(&map, SIXTEENTH, columns, bar);
            prop_assert!(ruler.columns() <= columns);
            let seen = bar.min(i64::from(count));
            prop_assert!(ruler.bars.iter().any(|shown| shown.number == seen));
            let (from, to) = (ruler.bars[0].start, ruler.bars[ruler.bars.len() - 1].end);
            let mut last = None;
            for tick in (from.0..to.0).step_by(60) {
                let cell = ruler.cell_of(Tick(tick)).unwrap();
                let column = ruler.column_of(cell).unwrap();
                prop_assert!(last.is_none_or(|last| last <= column));
                last = Some(column);
            }
            prop_assert!(last.unwrap() < columns);
        }
    }
}
