//! The bars of what a view shows: one time through a section, or a whole form.
//!
//! In: bars in order, as the walker gives them. Out: where each of them starts and ends. Equal bars
//! in a row are kept as one run, so that a form of thousands of bars costs no more than its changes
//! of metre.

use super::Grain;
use chaconne_engine as engine;
use chaconne_time::Tick;

/// Bars in order, numbered from 1, from tick 0 on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Bars {
    runs: Vec<Run>,
}

/// Equal bars that follow each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Run {
    /// The number of the first one.
    first: i64,
    /// How many, at least one.
    count: i64,
    /// Where the first one starts.
    start: Tick,
    /// How long each is.
    bar: Tick,
    /// How long a beat is.
    beat: Tick,
}

/// A bar.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bar {
    /// Its first tick.
    pub start: Tick,
    /// The tick after its last.
    pub end: Tick,
    /// How long a beat is.
    pub beat: Tick,
}

impl Bar {
    /// Whether a beat starts between two ticks of the bar, the first of them included.
    pub fn has_beat_in(&self, from: Tick, to: Tick) -> bool {
        let beats = ceil((from - self.start).0, self.beat.0);
        self.start + self.beat * beats < to
    }
}

impl Run {
    fn end(&self) -> Tick {
        self.start + self.bar * self.count
    }

    /// The columns of one of its bars: a line and its marks.
    fn columns(&self, cell: Tick) -> i64 {
        1 + ceil(self.bar.0, cell.0)
    }
}

impl Bars {
    /// The bars along a route, in order.
    pub fn along<'s>(walk: impl Iterator<Item = engine::Bar<'s>>) -> Bars {
        let mut bars = Bars::default();
        walk.for_each(|bar| bars.add(1, bar.end - bar.start, bar.metre.beat()));
        bars
    }

    /// Adds equal bars at the end. Bars and beats have a length.
    pub fn add(&mut self, count: i64, bar: Tick, beat: Tick) {
        let (first, start) = (self.count() + 1, self.length());
        match self.runs.last_mut().filter(|run| (run.bar, run.beat) == (bar, beat)) {
            Some(run) => run.count += count,
            None => self.runs.push(Run { first, count, start, bar, beat }),
        }
    }

    /// How many there are.
    pub fn count(&self) -> i64 {
        self.runs.last().map_or(0, |run| run.first + run.count - 1)
    }

    /// Where the last one ends.
    pub fn length(&self) -> Tick {
        self.runs.last().map_or(Tick::ZERO, Run::end)
    }

    /// A bar by its number; past the last one, an empty one at the end.
    pub fn bar(&self, number: i64) -> Bar {
        let run = self.runs.partition_point(|run| run.first <= number).max(1) - 1;
        let end = self.length();
        match self.runs.get(run).filter(|_| number <= self.count()) {
            Some(run) => {
                let start = run.start + run.bar * (number - run.first).max(0);
                Bar { start, end: start + run.bar, beat: run.beat }
            }
            None => Bar { start: end, end, beat: Tick(1) },
        }
    }

    /// The number of the bar that holds a tick; the first or the last for one outside.
    pub fn bar_at(&self, at: Tick) -> i64 {
        let run = self.runs.partition_point(|run| run.start <= at).max(1) - 1;
        let number = self.runs.get(run).map_or(1, |run| {
            run.first + ((at - run.start).0.max(0) / run.bar.0).min(run.count - 1)
        });
        number.max(1)
    }

    /// The columns of all bars.
    pub fn columns(&self, grain: Grain) -> i64 {
        match grain {
            Grain::Ticks(ticks) => {
                let of = |run: &Run| run.columns(Tick(ticks)).saturating_mul(run.count);
                self.runs.iter().map(of).fold(0, i64::saturating_add)
            }
            Grain::Bars(each) => {
                let marks = ceil(self.count(), i64::from(each));
                marks + ceil(marks, Grain::GROUP)
            }
        }
    }

    /// The marks of all bars.
    pub fn marks(&self, grain: Grain) -> i64 {
        match grain {
            Grain::Ticks(_) => self.columns(grain) - self.count(),
            Grain::Bars(each) => ceil(self.count(), i64::from(each)),
        }
    }

    /// Whether each bar by itself fits into so many columns.
    pub fn fit_one_by_one(&self, grain: Grain, columns: u16) -> bool {
        match grain {
            Grain::Ticks(ticks) => {
                self.runs.iter().all(|run| run.columns(Tick(ticks)) <= i64::from(columns))
            }
            Grain::Bars(_) => true,
        }
    }

    /// The start of the page that holds the tick `at`. Pages follow each other from tick 0: as many
    /// whole bars as fit, and a bar that does not fit in parts.
    pub(super) fn page_start(&self, grain: Grain, columns: u16, at: Tick) -> Tick {
        let number = self.bar_at(at);
        match grain {
            Grain::Bars(_) if self.columns(grain) <= i64::from(columns) => Tick::ZERO,
            Grain::Ticks(ticks) => self.tick_page(Tick(ticks), i64::from(columns), number, at),
            Grain::Bars(each) => {
                let groups = (i64::from(columns) / (Grain::GROUP + 1)).max(1);
                let page = groups * Grain::GROUP * i64::from(each);
                self.bar((number - 1) / page * page + 1).start
            }
        }
    }

    fn tick_page(&self, cell: Tick, columns: i64, number: i64, at: Tick) -> Tick {
        // The first bar of the page, and the columns taken on it so far.
        let (mut first, mut taken) = (1, 0);
        for run in self.runs.iter().take_while(|run| run.first <= number) {
            let each = run.columns(cell);
            if each > columns {
                // A bar this wide has pages of its own, and the next bar starts a new page.
                (first, taken) = (run.first + (number - run.first).min(run.count), columns);
                if number < run.first + run.count {
                    return self.part_of(number, cell, columns, at);
                }
                continue;
            }
            // The bars still on this page, then whole pages.
            let here = ((columns - taken) / each).min(run.count);
            let per_page = columns / each;
            let into = number.min(run.first + run.count - 1) - run.first;
            if into >= here {
                let pages = (into - here) / per_page;
                first = run.first + here + pages * per_page;
                taken = (into - here - pages * per_page + 1) * each;
            } else {
                taken += (into + 1) * each;
            }
        }
        self.bar(first.min(number)).start
    }

    /// The part of a bar that does not fit, in pages of as many marks as do.
    fn part_of(&self, number: i64, cell: Tick, columns: i64, at: Tick) -> Tick {
        let bar = self.bar(number);
        let page = cell * (columns - 1).max(1);
        let into = (at.clamp(bar.start, bar.end - Tick(1)) - bar.start).0;
        bar.start + page * (into / page.0)
    }
}

/// A division rounded up; neither is negative.
pub(super) fn ceil(what: i64, by: i64) -> i64 {
    what.saturating_add(by - 1) / by
}
