//! A span of what a pass plays, as a pass of its own.
//!
//! In: a pass, and a span of the first round of a section in which it goes round. Out: a pass that plays
//! in its own first round what the pass plays in that span. A note longer than that goes into a second
//! pass, long enough for it, so that it rings on and nothing is cut. Gestures of controllers that go on
//! over an edge go on from their value there.

use super::{ArrangeError, refused};
use crate::lane::glide;
use crate::revise::free_ids;
use crate::rules::LONGEST_PASS;
use crate::{
    Channel, Content, Control, Feel, Lane, LaneId, Note, NoteId, Notes, Pass, Point, Section,
    Shape, Song, SysEx, at_rest,
};
use chaconne_time::{NoteValue, Span, TICKS_PER_QUARTER, Tick};
use std::collections::BTreeMap;

/// The most notes and messages that are made of one pass.
const MOST: usize = 200_000;
/// Strokes of one drum closer than this are a roll and stay together, in microseconds (common practice;
/// no source).
const ROLL_MICROS: i64 = 50_000;

/// A span of a section, and what is on either side of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Window<'a> {
    /// The section in which the pass goes round.
    pub section: &'a Section,
    /// The feel of the pass there, its track's if it has none.
    pub feel: Feel,
    /// The first tick.
    pub from: Tick,
    /// The tick after the last.
    pub to: Tick,
    /// Whether the span begins with the section, so that what is early for it belongs to it.
    pub opens: bool,
    /// Whether it ends with the section, so that nothing is early for what follows.
    pub ends: bool,
    /// The length of the round: no cycle begins after it.
    pub round: Tick,
    /// Whether gestures end with the span, with their controllers at rest, and do not go on behind it.
    pub closed: bool,
    /// The bars that the new pass is to fill a whole number of times.
    pub bars: Tick,
}

/// Whether a pass begins again at each of these ticks, and nothing of it belongs to another cycle there, so
/// that it can be cut as it is. A note may be early by half a grid step.
pub(super) fn begins_at(pass: &Pass, feel: &Feel, ticks: &[Tick]) -> bool {
    let inside = |lane: &Lane| lane.span.from >= Tick::ZERO && lane.span.to <= pass.length;
    pass.lanes().iter().all(inside)
        && pass.covers.iter().all(|cover| cover.from >= Tick::ZERO)
        && pass.notes().iter().all(|note| note.stroke().start >= -half_step(feel))
        && ticks.iter().all(|at| at.0 % pass.length.0.max(1) == 0)
}

/// Half a grid step, or half a sixteenth without a grid.
fn half_step(feel: &Feel) -> Tick {
    Tick(feel.grid.unwrap_or(NoteValue::SIXTEENTH).ticks().0 / 2)
}

impl<'a> Window<'a> {
    /// The window from bar `first` on, of `bars` bars, for passes of this feel.
    pub fn of(section: &'a Section, feel: Feel, first: u32, bars: u32) -> Window<'a> {
        let tick = |bar: u32| section.metre.bar_start(i64::from(bar));
        let (from, to) = (tick(first), tick(first + bars));
        let (opens, ends) = (first == 1, first + bars > section.metre.bars());
        let (round, closed, bars) = (section.length(), false, to - from);
        Window { section, feel, from, to, opens, ends, round, closed, bars }
    }

    /// What a pass plays here, as one pass, or two if notes are longer than that. They have the id of
    /// the pass. Empty if it plays nothing here.
    pub fn passes(&self, pass: &Pass) -> Result<Vec<Pass>, ArrangeError> {
        let cycles = self.cycles(pass);
        let count = pass.notes().len() + pass.sysex().len() + pass.covers.len();
        if count.saturating_mul(cycles.len()) > MOST {
            return refused("one of its layers would get more than 200000 notes");
        }
        let length = (self.to - self.from).round_up(self.bars);
        let (notes, long): (Vec<Note>, Vec<Note>) =
            self.notes(pass, &cycles)?.into_iter().partition(|note| fits(note, length));
        let content = Content::Notes(Notes {
            notes: notes.into_iter().map(|note| settled(note, length)).collect(),
            lanes: self.lanes(pass, &cycles, length),
            sysex: self.sysex(pass, &cycles, length),
        });
        let covers = self.covers(pass, &cycles, length);
        let mut made = vec![Pass { length, covers, content, ..pass.clone() }];
        if let Some(longest) = long.iter().map(reach).max() {
            let length = longest.round_up(self.bars);
            let notes = long.into_iter().map(|note| settled(note, length)).collect();
            let content = Content::Notes(Notes { notes, ..Notes::default() });
            made.push(Pass { length, covers: Vec::new(), content, ..pass.clone() });
        }
        made.retain(|pass| !pass.is_empty() || !pass.covers.is_empty());
        made.iter_mut().for_each(Pass::sort);
        Ok(made)
    }

    /// The starts of the cycles that the first round has. A pass longer than the section has one.
    fn cycles(&self, pass: &Pass) -> Vec<Tick> {
        let (length, end) = (pass.length.0.max(1), self.round.0);
        let past = if self.ends { end } else { self.to.0 + pass.length.0 };
        (0..).map(|cycle| Tick(cycle * length)).take_while(|at| at.0 < end.min(past)).collect()
    }

    /// The notes that begin here, counted from its start.
    fn notes(&self, pass: &Pass, cycles: &[Tick]) -> Result<Vec<Note>, ArrangeError> {
        let judged = self.judged(pass);
        let mut all: Vec<(Note, bool)> = Vec::new();
        let mut taken = vec![false; pass.notes().len()];
        for &cycle in cycles {
            for (index, note) in pass.notes().iter().enumerate() {
                let (at, meant) = (cycle + note.stroke().start, cycle + judged[index]);
                let after = self.opens || meant >= self.from;
                let before = if self.ends { at < self.to } else { meant < self.to };
                if after && before {
                    all.push((shifted(*note, cycle - self.from), taken[index]));
                    taken[index] = true;
                }
            }
        }
        let again = all.iter().filter(|(_, again)| *again).count();
        let free = free_ids(pass, again).map_err(|error| ArrangeError(error.to_string()))?;
        let mut free = free.into_iter();
        let fresh = |(note, again): (Note, bool)| match again {
            true => Note { id: free.next().unwrap_or(NoteId(1)), ..note },
            false => note,
        };
        Ok(all.into_iter().map(fresh).collect())
    }

    /// Where each note of a cycle counts: half a grid step later than it starts, and a roll where its
    /// last stroke does.
    fn judged(&self, pass: &Pass) -> Vec<Tick> {
        let half = half_step(&self.feel);
        let mut order: Vec<usize> = (0..pass.notes().len()).collect();
        order.sort_by_key(|&index| (pass.notes()[index].stroke().start, index));
        let mut judged = vec![Tick::ZERO; order.len()];
        let mut next: BTreeMap<_, (Tick, Tick)> = BTreeMap::new();
        for &index in order.iter().rev() {
            let note = &pass.notes()[index];
            let (start, key) = (note.stroke().start, (note.channel, note.stroke().key));
            let inside = start.cycle(self.section.length()).1;
            let micros = i64::from(self.section.tempo.at(inside).micros());
            let rolls = self.feel.rolls && self.feel.grid.is_some();
            let same = next.get(&key).filter(|(later, _)| {
                rolls && (*later - start).0 * micros < ROLL_MICROS * TICKS_PER_QUARTER
            });
            judged[index] = same.map_or(start + half, |&(_, judged)| judged);
            next.insert(key, (start, judged[index]));
        }
        judged
    }

    fn sysex(&self, pass: &Pass, cycles: &[Tick], length: Tick) -> Vec<SysEx> {
        let here = |at: Tick| (self.opens || at >= self.from) && at < self.to;
        let all = cycles.iter().flat_map(|&cycle| {
            pass.sysex().iter().filter(move |message| here(cycle + message.at)).map(
                move |message| {
                    let at = (cycle + message.at - self.from).max(Tick(1) - length);
                    SysEx { at, ..message.clone() }
                },
            )
        });
        all.collect()
    }

    /// Where lower layers are silent here; covers that touch are one.
    fn covers(&self, pass: &Pass, cycles: &[Tick], length: Tick) -> Vec<Span> {
        let low = if self.opens { -length } else { Tick::ZERO };
        let high = self.to - self.from;
        let mut all: Vec<Span> = Vec::new();
        for &cycle in cycles {
            for cover in &pass.covers {
                let by = cycle - self.from;
                let span = Span::new((cover.from + by).max(low), (cover.to + by).min(high));
                match all.last_mut().filter(|last| span.from < last.to) {
                    _ if span.is_empty() => {}
                    Some(last) => last.to = last.to.max(span.to),
                    None => all.push(span),
                }
            }
        }
        all
    }

    /// The gestures here.
    fn lanes(&self, pass: &Pass, cycles: &[Tick], length: Tick) -> Vec<Lane> {
        let mut groups: BTreeMap<(Channel, Control), Vec<&Lane>> = BTreeMap::new();
        for lane in pass.lanes() {
            groups.entry((lane.channel, lane.control)).or_default().push(lane);
        }
        let mut made: BTreeMap<LaneId, Lane> = BTreeMap::new();
        for mut lanes in groups.into_values() {
            lanes.sort_by_key(|lane| first_move(lane));
            for lane in self.gestures(pass, cycles, &lanes, length) {
                made.insert(lane.id(), lane);
            }
        }
        made.into_values().collect()
    }

    /// The gestures of one controller here, in order of their first moves.
    fn gestures(&self, pass: &Pass, cycles: &[Tick], lanes: &[&Lane], length: Tick) -> Vec<Lane> {
        let mut all: Vec<Lane> = Vec::new();
        for &cycle in cycles {
            all.extend(lanes.iter().map(|lane| later(lane, cycle - self.from)));
            // Where a cycle ends, what its last gesture left goes back to rest.
            let (last, end) = (all.last(), cycle + pass.length - self.from);
            let rest = last.and_then(|lane| back_to_rest(lane, lanes, end));
            all.extend(rest.filter(|_| cycles.last() != Some(&cycle)));
        }
        all.sort_by_key(first_move);
        let goes_on = self.ends && cycles.len() == 1 && !self.closed;
        let high = if goes_on { Tick::MAX } else { self.to - self.from };
        let low = if self.opens { -length } else { Tick::ZERO };
        let high = high.min(length * 1000).min(LONGEST_PASS * 2);
        let begun = all.partition_point(|lane| first_move(lane) <= low);
        let before = begun.checked_sub(1).and_then(|index| all.get(index));
        let carried = before.and_then(|lane| match lane.span.to > low {
            true => clipped(lane, Span::new(low, high)),
            false => left_by(lane).filter(|_| !self.opens && self.is_in_cycle(pass, lane)),
        });
        let inside = all[begun..].iter().filter_map(|lane| clipped(lane, Span::new(low, high)));
        let mut kept: Vec<Lane> = carried.into_iter().chain(inside).collect();
        let rest = kept.last().and_then(|last| back_to_rest(last, lanes, self.to - self.from));
        kept.extend(rest.filter(|_| self.closed));
        kept
    }

    /// Whether a lane that has ended before the span belongs to the cycle that goes on into it.
    fn is_in_cycle(&self, pass: &Pass, lane: &Lane) -> bool {
        let start = -self.from.cycle(pass.length).1;
        first_move(lane) >= start
    }
}

/// How long a pass must be at least to hold a note.
fn reach(note: &Note) -> Tick {
    let stroke = note.stroke();
    stroke.length.max(note.played.length).max(Tick(1) - stroke.start)
}

fn fits(note: &Note, length: Tick) -> bool {
    reach(note) <= length
}

/// A note as much later, as played and as placed.
fn shifted(mut note: Note, by: Tick) -> Note {
    note.played.start += by;
    note.placed.start = note.placed.start.map(|start| start + by);
    note
}

/// A note that was moved from so far away that the pass does not reach there counts as played where it
/// is.
fn settled(mut note: Note, length: Tick) -> Note {
    let inside = -length < note.played.start && note.played.start < length;
    if let Some(start) = note.placed.start.filter(|_| !inside) {
        (note.played.start, note.placed.start) = (start, None);
    }
    note
}

fn first_move(lane: &Lane) -> Tick {
    lane.points.first().map_or(lane.span.from, |point| point.at)
}

/// A lane as much later.
pub(super) fn later(lane: &Lane, by: Tick) -> Lane {
    Lane {
        span: Span::new(lane.span.from + by, lane.span.to + by),
        points: lane.points.iter().map(|point| Point { at: point.at + by, ..*point }).collect(),
        ..*lane
    }
}

/// A lane of one move, which a gesture that has ended left where it is.
fn left_by(lane: &Lane) -> Option<Lane> {
    let value = lane.points.last()?.value;
    // It ends at the start of the span, so that it is over there, as it was.
    let span = Span::new(Tick(-1), Tick::ZERO);
    (at_rest(lane.control) != Some(value)).then(|| Lane {
        span,
        points: vec![Point::step(span.from, value)],
        ..*lane
    })
}

/// A lane of one move that puts a controller back at the end of a cycle, where `last` left it away.
fn back_to_rest(last: &Lane, lanes: &[&Lane], end: Tick) -> Option<Lane> {
    let left = last.points.last()?.value;
    let first = lanes.first().and_then(|lane| lane.points.first());
    let rest = at_rest(last.control).or(first.map(|point| point.value))?;
    let span = Span::new(end, end + Tick(1));
    (last.span.to <= end && left != rest).then(|| Lane {
        span,
        points: vec![Point::step(end, rest)],
        ..*last
    })
}

/// The part of a lane inside a span. A glide over an edge becomes the moves that it makes.
fn clipped(lane: &Lane, span: Span) -> Option<Lane> {
    let (from, to) = (lane.span.from.max(span.from), lane.span.to.min(span.to));
    let mut moves: Vec<Point> = Vec::new();
    for (index, &point) in lane.points.iter().enumerate() {
        let next = lane.points.get(index + 1).filter(|_| point.shape != Shape::Step);
        let over = next
            .filter(|next| (point.at < from && from < next.at) || (point.at < to && to <= next.at));
        match over {
            Some(&next) => {
                moves.push(Point::step(point.at, point.value));
                moves.extend(glide(lane.control, point, next));
            }
            None => moves.push(point),
        }
    }
    let begun = moves.partition_point(|point| point.at < from);
    let end = moves.partition_point(|point| point.at < to);
    let has_own = moves.get(begun).is_some_and(|point| point.at == from);
    let entry = begun.checked_sub(1).and_then(|index| moves.get(index)).filter(|_| !has_own);
    let entry = entry.map(|point| Point::step(from, point.value));
    let inside = moves.get(begun..end.max(begun)).unwrap_or_default().iter().copied();
    let points: Vec<Point> = entry.into_iter().chain(inside).collect();
    let first = points.first()?.at;
    let begins = if span.from <= lane.span.from { from } else { first };
    (begins < to).then_some(Lane { span: Span::new(begins, to), points, ..*lane })
}

/// The feel of a pass: its own, or its track's.
pub(super) fn feel_of(song: &Song, pass: &Pass) -> Feel {
    let usual = || song.track(pass.track).map(|track| track.feel);
    pass.feel.or_else(usual).unwrap_or(Feel::off(false))
}
