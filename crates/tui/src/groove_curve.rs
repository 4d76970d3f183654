//! A groove as a curve over a bar: how late or early it makes what begins there, and how loud.
//!
//! In: a groove, how much of it is given, the section that it is shown in, a bar, and how many columns there are.
//! Out: what each column shows, in milliseconds of that section and in percent. It is what `perform` applies.

use crate::numbers::decimal;
use crate::text::plural;
use chaconne_engine::{bar_given, groove_loudness, groove_timing};
use chaconne_song::{GivenGroove, Groove, Lean, Section, Song, StepAt};
use chaconne_time::{TICKS_PER_QUARTER, Tick};

/// More columns for a step would show no more.
const WIDEST: u16 = 6;

/// A bar of a groove.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GrooveCurve {
    /// What each column shows.
    pub columns: Vec<CurveColumn>,
    /// How many columns a step has.
    pub wide: u16,
    /// How many steps share a column; 1 if there is room for all.
    pub each: u32,
    /// How early or late the groove is at most, in any of its bars, in microseconds.
    pub furthest: i64,
    /// How loud it is at most, in percent.
    pub loudest: i64,
}

/// What a column of the curve shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CurveColumn {
    /// The beat that begins here.
    pub beat: Option<u8>,
    /// How late the groove makes what begins here, in microseconds.
    pub late: i64,
    /// How loud the step is that begins here, in percent; `None` if nothing was played on it, or if none begins.
    pub loudness: Option<i64>,
}

impl GrooveCurve {
    /// The curve of a bar of the groove, from 1, in at most so many columns.
    pub fn new(
        groove: &Groove,
        given: &GivenGroove,
        section: &Section,
        bar: u32,
        room: u16,
    ) -> GrooveCurve {
        let (start, end) = bounds(section, bar);
        let grid = groove.grid.ticks();
        let steps = ((end - start).0.max(1) as u64).div_ceil(grid.0.max(1) as u64) as u32;
        let room = room.max(1);
        let each = steps.div_ceil(room.into());
        let wide = (u32::from(room) / steps.max(1)).clamp(1, WIDEST.into()) as u16;
        let shown = Shown { groove, given, section, bar, start, end };
        let cells = u32::from(wide) * steps.div_ceil(each);
        // The last step of the bar may be short.
        let begins = |cell: &u32| shown.tick(*cell, wide.into(), each) < end;
        let column = |cell| shown.column(cell, wide, each);
        let extremes = extremes(groove, section);
        let furthest = extremes.early.max(extremes.late) * i64::from(given.timing);
        let louder = |lean: &Lean| (i64::from(lean.loudness) - 100) * i64::from(given.loudness);
        let loudest = groove.steps.values().map(|lean| 100 + louder(lean) / 100).max();
        GrooveCurve {
            columns: (0..cells).filter(begins).map(column).collect(),
            wide,
            each,
            furthest: furthest / 100,
            loudest: loudest.unwrap_or(100),
        }
    }
}

/// What the columns are made from.
struct Shown<'g> {
    groove: &'g Groove,
    given: &'g GivenGroove,
    section: &'g Section,
    bar: u32,
    start: Tick,
    end: Tick,
}

impl Shown<'_> {
    /// A column, where a step has so many columns, or so many steps share one.
    fn column(&self, cell: u32, wide: u16, each: u32) -> CurveColumn {
        let (grid, at) = (self.groove.grid.ticks().0, self.tick(cell, wide.into(), each));
        let wide = i64::from(wide);
        let first = cell / wide as u32 * each + 1;
        let begins = i64::from(cell) % wide == 0;
        // Of the steps that share a column the one that is furthest from the grid.
        let steps = (first..first + each).filter(|_| begins);
        let played = steps.filter_map(|step| self.lean(step)).max_by_key(|(_, late)| late.0.abs());
        let (at, late) = played.unwrap_or_else(|| (at, self.late(at)));
        let loud = || groove_loudness(self.groove, self.given, at, &self.section.metre) / 100;
        CurveColumn {
            beat: self.beat(cell, i64::from(each) * grid, wide),
            late: self.micros(late),
            loudness: played.map(|_| loud()),
        }
    }

    /// Where a column begins.
    fn tick(&self, cell: u32, wide: i64, each: u32) -> Tick {
        let grid = self.groove.grid.ticks().0;
        self.start + Tick(i64::from(cell) * i64::from(each) * grid / wide)
    }

    /// Where a step of the bar is, and how late the groove makes it; `None` if nothing was played on it.
    fn lean(&self, step: u32) -> Option<(Tick, Tick)> {
        let at = self.start + self.groove.grid.ticks() * i64::from(step - 1);
        self.groove.steps.get(&StepAt { bar: self.bar, step }).filter(|_| at < self.end)?;
        Some((at, self.late(at)))
    }

    fn late(&self, at: Tick) -> Tick {
        groove_timing(self.groove, self.given, at, &self.section.metre)
    }

    fn micros(&self, late: Tick) -> i64 {
        micros(late, self.section, self.start)
    }

    /// The beat that begins in a column which stands for so many ticks, divided by `wide`.
    fn beat(&self, cell: u32, ticks: i64, wide: i64) -> Option<u8> {
        let edge = |cell: i64| self.start + Tick((cell * ticks + wide - 1) / wide);
        let (from, to) = (edge(cell.into()), edge(i64::from(cell) + 1).min(self.end));
        let place = self.section.metre.place(from);
        let beat = self.section.metre.metre_at(from).beat();
        if place.tick == 0 {
            return Some(place.beat);
        }
        let next = from + beat - Tick(place.tick.into());
        (next < to).then(|| self.section.metre.place(next).beat)
    }
}

/// The first tick of the bar to which one of a groove is given, and the one after its last.
fn bounds(section: &Section, bar: u32) -> (Tick, Tick) {
    let bar = bar_given(bar, &section.metre);
    (section.metre.bar_start(bar), section.metre.bar_start(bar + 1))
}

/// A time in ticks as microseconds of the tempo at a tick of a section, rounded half up.
fn micros(late: Tick, section: &Section, at: Tick) -> i64 {
    let (_, into) = at.cycle(section.metre.length());
    let micros = i64::from(section.tempo.at(into).micros());
    (2 * late.0 * micros + TICKS_PER_QUARTER).div_euclid(2 * TICKS_PER_QUARTER)
}

/// How early and how late a groove is at most, in microseconds; neither is negative.
struct Extremes {
    early: i64,
    late: i64,
}

fn extremes(groove: &Groove, section: &Section) -> Extremes {
    let all = || {
        let late =
            |(at, lean): (&StepAt, &Lean)| micros(lean.timing, section, bounds(section, at.bar).0);
        groove.steps.iter().map(late)
    };
    Extremes { early: -all().min().unwrap_or(0).min(0), late: all().max().unwrap_or(0).max(0) }
}

/// Milliseconds with one decimal: `12.4`.
pub fn ms(micros: i64) -> String {
    decimal(((2 * micros + 100).div_euclid(200)) as i32)
}

/// How long a groove is: `1 bar of 1/16`.
pub fn length_words(groove: &Groove) -> String {
    format!("{} {} of {}", groove.bars, plural(groove.bars as usize, "bar"), groove.grid)
}

/// How many steps of a groove were played, and how far they are from the grid: `16 steps, up to 5.2 ms early and
/// 12.4 ms late`.
pub fn extent_words(groove: &Groove, section: &Section) -> String {
    let count = groove.steps.len();
    let Extremes { early, late } = extremes(groove, section);
    let far = match (early, late) {
        (0, 0) => "all on the grid".to_string(),
        (early, 0) => format!("up to {} ms early", ms(early)),
        (0, late) => format!("up to {} ms late", ms(late)),
        (early, late) => format!("up to {} ms early and {} ms late", ms(early), ms(late)),
    };
    format!("{count} {}, {far}", plural(count, "step"))
}

/// What a groove is given to: `Bass, hats of Drums`.
pub fn given_words(song: &Song, groove: &Groove) -> String {
    let words = |to: chaconne_song::GivenTo| match to.pass {
        None => to.track.name.clone(),
        Some(pass) if pass.name.is_empty() => format!("a layer of {}", to.track.name),
        Some(pass) => format!("{} of {}", pass.name, to.track.name),
    };
    song.given(groove.id).map(words).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests;
