//! Grooves: how they are taken from a performance, and what they give to a moment of another.
//!
//! Taken: in each bar the loudest stroke near a step speaks for it, as the loudest speaks for a roll; the
//! groove has the median over the bars. Given: between two steps the timing is interpolated, so a step on
//! which nothing was played gets the timing between its neighbours; the loudness is that of the nearest
//! step, and unchanged if nothing was played there.

use crate::feel::nearest;
use crate::human::rounded;
use chaconne_song::{GivenGroove, Groove, GrooveId, Lean, Pass, StepAt, Stroke, Swing};
use chaconne_time::{MetreMap, NoteValue, Tick};
use std::collections::BTreeMap;

/// How to take a groove.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HowToTake {
    /// The id of the groove.
    pub id: GrooveId,
    /// What it is called.
    pub name: String,
    /// The distance of its steps.
    pub grid: NoteValue,
    /// After how many bars it repeats, 1..=[`Groove::MAX_BARS`].
    pub bars: u32,
}

/// The groove of a performance: the passes of one part in a section with this metre, each note where
/// edits have put it, without feel. `None` if they have no notes.
pub fn take_groove<'p>(
    passes: impl IntoIterator<Item = &'p Pass>,
    how: HowToTake,
    metre: &MetreMap,
) -> Option<Groove> {
    let grid = how.grid.ticks();
    let bars = how.bars.clamp(1, Groove::MAX_BARS);
    // What speaks for each step in each bar: how late it is, and how loud.
    let mut heard: BTreeMap<StepAt, Vec<(Tick, i64)>> = BTreeMap::new();
    for pass in passes {
        let mut loudest: BTreeMap<Tick, Stroke> = BTreeMap::new();
        for stroke in pass.notes().iter().map(chaconne_song::Note::stroke) {
            let place = nearest(stroke.start, grid, Swing::STRAIGHT, metre);
            let rank = |stroke: &Stroke| (stroke.velocity, stroke.start, stroke.key);
            let best = loudest.entry(place).or_insert(stroke);
            if rank(&stroke) > rank(best) {
                *best = stroke;
            }
        }
        for (place, stroke) in loudest {
            let at = step_of(place, grid, bars, metre);
            let velocity = i64::from(stroke.velocity.get());
            heard.entry(at).or_default().push((stroke.start - place, velocity));
        }
    }
    let all = || heard.values().flatten().map(|(_, velocity)| velocity);
    let (sum, count) = (all().sum::<i64>(), all().count() as i64);
    let lean = |all: &Vec<(Tick, i64)>| lean(all, sum, count);
    let steps: BTreeMap<StepAt, Lean> = heard.iter().map(|(at, all)| (*at, lean(all))).collect();
    let HowToTake { id, name, grid, .. } = how;
    (count > 0).then_some(Groove { id, name, grid, bars, steps })
}

/// The step of a groove at a point of the grid.
fn step_of(place: Tick, grid: Tick, bars: u32, metre: &MetreMap) -> StepAt {
    let bar = metre.bar_at(place);
    let into = (place - metre.whole_bar_start(bar)).0;
    StepAt { bar: groove_bar(bar, bars, metre), step: (into / grid.0) as u32 + 1 }
}

/// Which bar of a groove of so many bars, from 1, is given to a bar of a section. The first bar after a pickup is
/// given the first.
pub fn groove_bar(bar: i64, bars: u32, metre: &MetreMap) -> u32 {
    let first = 1 + i64::from(metre.pickup().is_some());
    (bar - first).rem_euclid(i64::from(bars.max(1))) as u32 + 1
}

/// The first bar of a section, a pickup aside, to which a bar of a groove, from 1, is given.
pub fn bar_given(bar: u32, metre: &MetreMap) -> i64 {
    i64::from(bar) + i64::from(metre.pickup().is_some())
}

/// How a step leans, given what spoke for it in each bar; the mean velocity is `sum` over `count`.
fn lean(heard: &[(Tick, i64)], sum: i64, count: i64) -> Lean {
    let percent = |(_, velocity): &(Tick, i64)| rounded(100 * velocity * count, sum).min(loudest());
    let (timing, timing_spread) = middle(heard.iter().map(|(late, _)| late.0).collect());
    let (loudness, loudness_spread) = middle(heard.iter().map(percent).collect());
    Lean {
        timing: Tick(timing),
        timing_spread: Tick(timing_spread),
        loudness: loudness as u16,
        loudness_spread: loudness_spread as u16,
    }
}

fn loudest() -> i64 {
    i64::from(Groove::LOUDEST)
}

/// The median of numbers, and the median of their distances from it, rounded half up.
fn middle(numbers: Vec<i64>) -> (i64, i64) {
    let middle = median(numbers.clone());
    (middle, median(numbers.into_iter().map(|number| (number - middle).abs()).collect()))
}

/// The median: of an even count the mean of the two in the middle, rounded half up.
fn median(mut numbers: Vec<i64>) -> i64 {
    numbers.sort_unstable();
    let half = numbers.len() / 2;
    match numbers.len() {
        0 => 0,
        count if count % 2 == 1 => numbers[half],
        _ => rounded(numbers[half - 1] + numbers[half], 2),
    }
}

/// How much later a given groove makes something at a tick of a section with this metre.
pub fn groove_timing(groove: &Groove, given: &GivenGroove, at: Tick, metre: &MetreMap) -> Tick {
    Tick(rounded(timing_at(groove, at, metre) * i64::from(given.timing), 100 * PARTS))
}

/// By what a given groove multiplies the velocity of something at a tick of a section with this metre, in
/// parts of 10,000.
pub fn groove_loudness(groove: &Groove, given: &GivenGroove, at: Tick, metre: &MetreMap) -> i64 {
    let place = nearest(at, groove.grid.ticks(), Swing::STRAIGHT, metre);
    let step = step_of(place, groove.grid.ticks(), groove.bars, metre);
    let percent = groove.steps.get(&step).map_or(100, |lean| i64::from(lean.loudness));
    (10_000 + (percent - 100) * i64::from(given.loudness)).max(0)
}

/// Timings between steps are counted in parts of a tick.
const PARTS: i64 = 1000;

/// How late a groove is at a tick, in thousandths of a tick: between two steps that were played, on the
/// straight line from one to the other.
fn timing_at(groove: &Groove, at: Tick, metre: &MetreMap) -> i64 {
    let (before, after) = (step_before(groove, at, metre), step_after(groove, at, metre));
    match (before, after) {
        (Some((from, early)), Some((to, late))) => {
            let change = PARTS * (late - early).0 * (at - from).0;
            PARTS * early.0 + rounded(change, (to - from).0.max(1))
        }
        (Some((_, only)), None) | (None, Some((_, only))) => PARTS * only.0,
        (None, None) => 0,
    }
}

/// The last step at or before a tick on which something was played: where it is, and how late.
fn step_before(groove: &Groove, at: Tick, metre: &MetreMap) -> Option<(Tick, Tick)> {
    let bar = metre.bar_at(at);
    // After all of its bars the groove repeats.
    (bar - i64::from(groove.bars)..=bar).rev().find_map(|bar| {
        let mut steps = steps_in(groove, bar, metre);
        steps.rfind(|(place, _)| *place <= at)
    })
}

/// The first step after a tick on which something was played.
fn step_after(groove: &Groove, at: Tick, metre: &MetreMap) -> Option<(Tick, Tick)> {
    let bar = metre.bar_at(at);
    (bar..=bar + i64::from(groove.bars)).find_map(|bar| {
        let mut steps = steps_in(groove, bar, metre);
        steps.find(|(place, _)| *place > at)
    })
}

/// The steps of a groove in a bar: where each is, and how late. A short bar has the first of them, a pickup the
/// last.
fn steps_in(
    groove: &Groove,
    bar: i64,
    metre: &MetreMap,
) -> impl DoubleEndedIterator<Item = (Tick, Tick)> {
    let (start, end, whole) =
        (metre.bar_start(bar), metre.bar_start(bar + 1), metre.whole_bar_start(bar));
    let of = groove_bar(bar, groove.bars, metre);
    let grid = groove.grid.ticks();
    let last = ((end - whole).0 + grid.0 - 1) / grid.0;
    let step = |step: i64| StepAt { bar: of, step: step.clamp(1, u32::MAX.into()) as u32 };
    let all = groove.steps.range(step(1)..=step(last));
    let placed = all.map(move |(at, lean)| (whole + grid * i64::from(at.step - 1), lean.timing));
    placed.filter(move |(place, _)| *place >= start)
}

#[cfg(test)]
mod tests;
