//! The time axis: which stretch of music is on the screen, and in which column each tick falls.
//!
//! In: bars, a grain (the time that one mark stands for), the columns there are, and the tick that
//! must be visible. Out: a [`Scale`]: marks with their ticks and columns, and bar lines.
//! [`TimeAxis`] is the part that stays from frame to frame: the cursor, how far it is zoomed, and
//! the page that was turned to. Every view draws through it, from a whole form down to a single
//! tick.
//!
//! Bars are shown whole, a page of them at a time if not all fit. Only a bar that is wider than
//! the screen is cut, into pages of its own.

mod bars;
mod grain;

use chaconne_time::Tick;

pub use bars::Bars;
pub use grain::{Grain, Level};

/// The length of a sixteenth.
pub const SIXTEENTH: Tick = Tick(240);

/// What the view shows, kept from frame to frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct TimeAxis {
    /// The tick that must be visible, counted from the start of what the view shows.
    cursor: Tick,
    /// Steps from the grain that fits: negative for finer marks, positive for coarser ones.
    zoom: i8,
    /// A tick of the page that was turned to by hand.
    page: Option<Tick>,
}

impl TimeAxis {
    /// Moves the cursor, and leaves a page turned to by hand. Returns whether anything changed.
    pub fn follow(&mut self, at: Tick) -> bool {
        if at == self.cursor {
            return false;
        }
        (self.cursor, self.page) = (at, None);
        true
    }

    /// Turns to the page that holds a tick, until the cursor moves.
    pub fn turn_to(&mut self, at: Tick) {
        self.page = Some(at);
    }

    /// Zooms to the level `wanted`; `fit` is the level without zoom.
    pub fn zoom_to(&mut self, wanted: Level, fit: Level) {
        self.zoom = wanted.steps_from(fit);
    }

    /// The tick that has to be on the page.
    pub fn in_sight(&self) -> Tick {
        self.page.unwrap_or(self.cursor)
    }

    /// The level to draw at; `fit` is the level without zoom.
    pub fn level(&self, fit: Level) -> Level {
        fit.step(self.zoom)
    }
}

/// Time laid out in columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scale {
    /// What a mark stands for.
    pub grain: Grain,
    /// How many columns a mark has, at least 1.
    pub wide: u16,
    /// The marks, in order; each starts where the one before ends. At least one.
    pub marks: Vec<Mark>,
    /// The bar lines, each before the first mark of its bars.
    pub lines: Vec<BarLine>,
    /// How many bars there are, visible or not.
    pub bars: i64,
    /// Where the last bar ends.
    pub length: Tick,
}

/// A column that stands for a stretch of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// The first tick.
    pub start: Tick,
    /// The tick after the last.
    pub end: Tick,
    /// Its first column, from the left end of the scale.
    pub column: u16,
    /// Whether a beat starts in it.
    pub on_beat: bool,
}

/// A line before a bar, or before a few of them if a mark stands for whole bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BarLine {
    /// The number of its bar, from 1.
    pub number: i64,
    /// How many bars follow it up to the next line.
    pub bars: i64,
    /// The column.
    pub column: u16,
    /// How many marks follow it.
    pub marks: usize,
    /// Whether the page begins inside its bar.
    pub inside: bool,
    /// Whether the page ends inside its bar.
    pub cut: bool,
}

impl Scale {
    /// Wider marks would tear the bars apart.
    const WIDEST: u16 = 8;

    /// The page of `bars` that holds the tick `at`, in `columns` of marks of a grain.
    pub fn page(bars: &Bars, grain: Grain, columns: u16, at: Tick) -> Scale {
        let from = bars.page_start(grain, columns, at);
        Scale::from(bars, (grain, 1), columns, from)
    }

    /// All of `bars`, if they fit into so many columns.
    pub fn whole(bars: &Bars, grain: Grain, columns: u16) -> Option<Scale> {
        (bars.columns(grain) <= i64::from(columns))
            .then(|| Scale::from(bars, (grain, 1), columns, Tick::ZERO))
    }

    /// All of `bars`, if they fit, with marks as wide as so many columns allow. A line after the last bar
    /// fits, too, if the marks are wider than one column.
    pub fn spread(bars: &Bars, grain: Grain, columns: u16) -> Option<Scale> {
        let (least, marks) = (bars.columns(grain), bars.marks(grain));
        let fits = |wide: &u16| {
            let more = marks.saturating_mul(i64::from(*wide) - 1);
            least.saturating_add(more) < i64::from(columns)
        };
        match (2..=Self::WIDEST).rev().find(fits) {
            Some(wide) => Some(Scale::from(bars, (grain, wide), columns, Tick::ZERO)),
            None => Scale::whole(bars, grain, columns),
        }
    }

    /// As much as fits into `columns` from a tick at which a mark starts. Marks wider than a column must
    /// all fit.
    fn from(bars: &Bars, (grain, wide): (Grain, u16), columns: u16, from: Tick) -> Scale {
        let mut scale = Scale {
            grain,
            wide,
            marks: Vec::new(),
            lines: Vec::new(),
            bars: bars.count(),
            length: bars.length(),
        };
        match grain {
            Grain::Ticks(ticks) => scale.lay_ticks(bars, Tick(ticks), columns, from),
            Grain::Bars(each) => scale.lay_bars(bars, i64::from(each), columns, from),
        }
        scale
    }

    fn lay_ticks(&mut self, bars: &Bars, cell: Tick, columns: u16, from: Tick) {
        let mut number = bars.bar_at(from);
        while number <= bars.count() {
            let bar = bars.bar(number);
            let start = if self.marks.is_empty() { from.max(bar.start) } else { bar.start };
            let room = i64::from(columns) - i64::from(self.columns()) - 1;
            let wanted = bars::ceil((bar.end - start).0, cell.0);
            if wanted > room && !self.marks.is_empty() {
                return;
            }
            let marks = wanted.min(room.max(1));
            self.add_line(number, 1, marks);
            if let Some(line) = self.lines.last_mut() {
                (line.inside, line.cut) = (start > bar.start, marks < wanted);
            }
            for index in 0..marks {
                let begin = start + cell * index;
                let end = (begin + cell).min(bar.end);
                self.add_mark(begin, end, bar.has_beat_in(begin, end));
            }
            number += 1;
        }
    }

    fn lay_bars(&mut self, bars: &Bars, each: i64, columns: u16, from: Tick) {
        let mut number = bars.bar_at(from);
        while number <= bars.count() {
            let room = i64::from(columns) - i64::from(self.columns()) - 1;
            let left = bars::ceil(bars.count() - number + 1, each);
            let marks = left.min(Grain::GROUP).min(room);
            if marks < left.min(Grain::GROUP) && !self.marks.is_empty() {
                return;
            }
            let marks = marks.max(1);
            let next = (number + marks * each).min(bars.count() + 1);
            self.add_line(number, next - number, marks);
            for index in 0..marks {
                let first = number + index * each;
                let last = (first + each).min(bars.count() + 1);
                self.add_mark(bars.bar(first).start, bars.bar(last).start, true);
            }
            number = next;
        }
    }

    fn add_line(&mut self, number: i64, bars: i64, marks: i64) {
        let (column, marks) = (self.columns(), marks.max(0) as usize);
        self.lines.push(BarLine { number, bars, column, marks, inside: false, cut: false });
    }

    fn add_mark(&mut self, start: Tick, end: Tick, on_beat: bool) {
        let line = self.lines.last().map_or(0, |line| line.column);
        let after = self.marks.last().map_or(0, |mark| mark.column.saturating_add(self.wide));
        let column = after.max(line.saturating_add(1));
        self.marks.push(Mark { start, end, column, on_beat });
    }

    /// The columns of bar lines and marks. The closing line is drawn if there is room.
    pub fn columns(&self) -> u16 {
        self.marks.last().map_or(0, |mark| mark.column.saturating_add(self.wide))
    }

    /// The first visible tick.
    pub fn start(&self) -> Tick {
        self.marks.first().map_or(Tick::ZERO, |mark| mark.start)
    }

    /// The tick after the last visible one.
    pub fn end(&self) -> Tick {
        self.marks.last().map_or(Tick::ZERO, |mark| mark.end)
    }

    /// The mark that holds a tick, if it is on the page.
    pub fn mark_of(&self, at: Tick) -> Option<usize> {
        if at < self.start() || at >= self.end() {
            return None;
        }
        self.marks.partition_point(|mark| mark.start <= at).checked_sub(1)
    }

    /// Whether all of the music is visible.
    pub fn is_whole(&self) -> bool {
        self.start() == Tick::ZERO && self.end() == self.length
    }

    /// How early a note may be and still be drawn in the mark after it: just under half a mark,
    /// and never more than half a sixteenth.
    pub fn early(&self) -> Tick {
        let half = match self.grain {
            Grain::Ticks(ticks) => (ticks - 1) / 2,
            Grain::Bars(_) => i64::MAX,
        };
        Tick(half.min((SIXTEENTH.0 - 1) / 2))
    }

    /// The visible bars in words: `4 bars`, `bars 9 to 12 of 24`, `part of bar 2 of 4`.
    pub fn bars_words(&self) -> String {
        let (Some(first), Some(last)) = (self.lines.first(), self.lines.last()) else {
            return String::new();
        };
        let (from, to, of) = (first.number, last.number + last.bars - 1, self.bars);
        match (self.is_whole(), from == to) {
            (true, true) => "1 bar".to_string(),
            (true, false) => format!("{of} bars"),
            (false, true) if self.cuts_a_bar() => format!("part of bar {from} of {of}"),
            (false, true) => format!("bar {from} of {of}"),
            (false, false) => format!("bars {from} to {to} of {of}"),
        }
    }

    /// Whether a bar is wider than the page.
    fn cuts_a_bar(&self) -> bool {
        self.lines.iter().any(|line| line.inside || line.cut)
    }
}

#[cfg(test)]
mod tests;
