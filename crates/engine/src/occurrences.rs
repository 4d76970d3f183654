//! When the notes of a pass sound along a route, cycle by cycle.

use crate::bake::Sounding;
use crate::plan::{Cover, Item, Since};
use crate::{Entry, Voice};
use chaconne_song::{Channel, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;

/// One sounding of one note, in transport ticks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Occurrence {
    pub on: Tick,
    pub off: Tick,
    pub channel: Channel,
    pub key: U7,
    pub velocity: U7,
    pub release: U7,
    pub voice: Voice,
}

/// An entry of the route as the performer sees it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stay {
    pub entry: Entry,
    /// Nothing of it sounds before this tick. Early notes of a cycle that starts here or later sound
    /// here, so they are not lost if the music starts at this tick.
    pub floor: Tick,
    /// The tick at which the music begins. Of what comes before it sounds only what is meant for it: what
    /// starts within half a grid step before it, and early notes of cycles that start there or later. Without
    /// a count-in they sound where it begins.
    pub music: Tick,
    /// Whether another entry follows where this one ends.
    pub goes_on: bool,
    /// When a live jump after this stay releases everything that sounds; [`Tick::MAX`] if none does.
    pub next_jump: Tick,
}

/// The cycles of a pass or a cover in a stay.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cycles {
    origin: Tick,
    length: Tick,
    /// The span in which cycles may start.
    starts: Span,
    floor: Tick,
}

impl Cycles {
    /// The cycles of a pass of this length; none if it does not sound in this stay yet.
    pub fn of(length: Tick, since: Option<&Since>, stay: &Stay) -> Cycles {
        let whole = Span::new(stay.entry.at, stay.entry.until);
        let plain = Cycles { origin: stay.entry.at, length, starts: whole, floor: stay.floor };
        let Some(since) = since else { return plain };
        // The round in which the pass was recorded may have been cut short by a jump since.
        let is_later = stay.entry.at > since.entry && since.from < Tick::MAX;
        let from = if is_later { whole.from } else { whole.from.max(since.from) };
        let starts = Span::new(from, whole.to.min(since.until));
        // The origin applies only to the stay in which the pass was recorded.
        match since.origin.filter(|_| since.entry == stay.entry.at) {
            Some(origin) => Cycles { origin, starts, floor: plain.floor.max(since.from), ..plain },
            None => Cycles { starts, ..plain },
        }
    }

    /// The starts of the cycles whose content touches `span`, in order. The content of a cycle reaches
    /// from `first` to `last` after its start, both included.
    pub fn touching(
        &self,
        first: Tick,
        last: Tick,
        span: Span,
    ) -> impl DoubleEndedIterator<Item = Tick> + use<> {
        let (origin, length) = (self.origin, self.length.max(Tick(1)));
        let low = (span.from - last).max(self.starts.from);
        let high = (span.to - first).min(self.starts.to);
        // The number of the first cycle that starts at a tick or later.
        let number = |at: Tick| (at - origin).round_up(length).cycle(length).0;
        (number(low)..number(high)).map(move |cycle| origin + length * cycle)
    }
}

/// Finds the notes of an item that start inside `span`.
pub(crate) fn starting(item: &Item, stay: &Stay, span: Span, found: &mut Vec<Occurrence>) {
    let (first, last) = item.baked.reach();
    let mut cycles = Cycles::of(item.baked.length, item.since.as_ref(), stay);
    cycles.floor = cycles.floor.max(item.key.floor);
    for cycle in cycles.touching(first, last + item.baked.half, span) {
        // Nothing is heard before the floor: what is early for it, or meant for music that begins there, is heard
        // at the floor.
        let heard = |note: &Sounding| (cycle + note.on).max(cycles.floor);
        let notes = &item.baked.notes;
        let low = notes.partition_point(|note| heard(note) < span.from);
        let high = notes.partition_point(|note| heard(note) < span.to);
        for note in notes.get(low..high).unwrap_or_default() {
            if belongs(note, cycle, stay) {
                found.extend(occurrence(item, stay, note, cycle, (cycle + note.on, heard(note))));
            }
        }
    }
    at_the_end(item, stay, &cycles, span, found);
}

/// Whether a note sounds in a stay. A note that feel moves to the end of the stay sounds at that seam,
/// whatever section follows.
fn belongs(note: &Sounding, cycle: Tick, stay: &Stay) -> bool {
    let until = stay.entry.until;
    cycle + note.on < until || stay.goes_on && cycle + note.played < until
}

/// Finds the notes that feel would move to the end of the form or past it. They sound where they were
/// played.
fn at_the_end(item: &Item, stay: &Stay, cycles: &Cycles, span: Span, found: &mut Vec<Occurrence>) {
    let until = stay.entry.until;
    // Those that it moves to the end were played near it.
    if stay.goes_on || span.to <= until - item.baked.late {
        return;
    }
    let last = item.baked.reach().1;
    for cycle in cycles.touching(Tick::ZERO, last, Span::new(until, until)) {
        let notes = &item.baked.notes;
        let first = notes.partition_point(|note| cycle + note.on < until);
        for note in notes.get(first..).unwrap_or_default() {
            let at = cycle + note.played;
            if span.contains(at) && at < until {
                found.extend(occurrence(item, stay, note, cycle, (at, at)));
            }
        }
    }
}

/// A note of a cycle that starts at `at` and is heard from `on`; `None` if it is silent, or would sound
/// before the music begins.
fn occurrence(
    item: &Item,
    stay: &Stay,
    note: &Sounding,
    cycle: Tick,
    (at, on): (Tick, Tick),
) -> Option<Occurrence> {
    let meant = cycle + note.meant;
    if at < stay.music && cycle < stay.music && !is_meant(item, stay, cycle, meant) {
        return None;
    }
    if !item.key.has(at, meant + item.baked.half, cycle) {
        return None;
    }
    Some(Occurrence {
        on,
        off: end(item, stay, (at, meant), on, note.length)?,
        channel: item.channel_of(note.channel),
        key: note.key,
        velocity: note.velocity,
        release: note.release,
        voice: Voice { pass: item.baked.pass, note: note.note, cycle },
    })
}

/// Whether a note that is meant for `at` and starts before the music begins is meant for its beginning: its cycle
/// goes on there, and `at` is at most half a grid step before. At the start of a cycle, what is meant for it has a negative start.
fn is_meant(item: &Item, stay: &Stay, cycle: Tick, at: Tick) -> bool {
    let end = (cycle + item.baked.length).min(stay.entry.until);
    stay.music < end && stay.music <= at + item.baked.half
}

/// Finds the notes of an item that sound at `at`: they start at or before it and end after it.
pub(crate) fn sounding(item: &Item, stay: &Stay, at: Tick, found: &mut Vec<Occurrence>) {
    let mut all = Vec::new();
    let longest = item.baked.notes.iter().map(|note| note.length).max().unwrap_or(Tick::ZERO);
    starting(item, stay, Span::new(at - longest, at + Tick(1)), &mut all);
    found.extend(all.into_iter().filter(|note| note.off > at));
}

/// When a note that starts at `at` (meant for `meant`, heard from `on`) ends; `None` if it is covered, or
/// silenced before it is heard.
fn end(
    item: &Item,
    stay: &Stay,
    (at, meant): (Tick, Tick),
    on: Tick,
    length: Tick,
) -> Option<Tick> {
    // A note that starts within half a grid step before a cover counts as inside it. Groove and human
    // variation do not move it in or out.
    let judged = meant + item.baked.half;
    // An early note that is heard later keeps its full length.
    let mut off = on + length;
    for cover in item.covers.iter() {
        let (covered, next) = covered(cover, stay, judged, at);
        if covered {
            return None;
        }
        off = off.min(next);
    }
    off = off.min(if stay.entry.cut && on < stay.entry.until {
        stay.entry.until
    } else {
        stay.next_jump
    });
    // When a newer round silences the pass, its long notes end too.
    off = off.min(item.since.map_or(Tick::MAX, |since| since.until));
    // Where the key changes, what sounds in the old one ends.
    off = off.min(item.key.span.to);
    (on < off).then_some(off)
}

/// Whether an item is covered at a tick.
pub(crate) fn is_covered(item: &Item, stay: &Stay, at: Tick) -> bool {
    item.covers.iter().any(|cover| covered(cover, stay, at, at).0)
}

/// Adds the ticks of a span at which covers of an item begin and end.
pub(crate) fn cover_edges(item: &Item, stay: &Stay, span: Span, ticks: &mut BTreeSet<Tick>) {
    for cover in item.covers.iter() {
        let cycles = cover.cycles(stay);
        let (first, last) = cover.reach();
        for cycle in cycles.touching(first, last, span) {
            let edges = |inside: &Span| [cycle + inside.from, cycle + inside.to];
            ticks.extend(cover.spans.iter().flat_map(edges));
        }
    }
}

impl Cover {
    /// The first and the last edge, from the cycle's start. A pass may cover what comes shortly before
    /// its cycles, because its first note may be early.
    fn reach(&self) -> (Tick, Tick) {
        let first = self.spans.first().map_or(Tick::ZERO, |span| span.from);
        let last = self.spans.last().map_or(Tick::ZERO, |span| span.to);
        (first.min(Tick::ZERO), last.max(self.length))
    }

    /// A cover silences other passes in the round in which it was made, one cycle before its own notes
    /// are heard again.
    fn cycles(&self, stay: &Stay) -> Cycles {
        let since = self.since.map(|since| Since { from: since.covers_from, ..since });
        Cycles::of(self.length, since.as_ref(), stay)
    }
}

/// Whether a cover includes `judged`, and the next tick after `at` at which it begins.
fn covered(cover: &Cover, stay: &Stay, judged: Tick, at: Tick) -> (bool, Tick) {
    let cycles = cover.cycles(stay);
    // A cover made in this run may begin long after the note.
    let span = Span::new(at.min(judged), judged.max(cycles.starts.from) + cover.length * 2);
    let (first, last) = cover.reach();
    let mut next = Tick::MAX;
    for cycle in cycles.touching(first, last, span) {
        for inside in &cover.spans {
            let (start, stop) = (cycle + inside.from, cycle + inside.to);
            if start <= judged && judged < stop {
                return (true, next);
            }
            if start > at {
                next = next.min(start);
            }
        }
    }
    (false, next)
}

/// The system-exclusive messages of an item inside `span`.
pub(crate) fn messages(item: &Item, stay: &Stay, span: Span) -> Vec<(Tick, std::sync::Arc<[u8]>)> {
    if item.baked.sysex.is_empty() {
        return Vec::new();
    }
    let cycles = Cycles::of(item.baked.length, item.since.as_ref(), stay);
    let mut found = Vec::new();
    for cycle in cycles.touching(-item.baked.length, item.baked.length, span) {
        for (at, bytes) in &item.baked.sysex {
            let at = cycle + *at;
            if span.contains(at) && at < stay.entry.until {
                found.push((at, std::sync::Arc::clone(bytes)));
            }
        }
    }
    found
}

#[cfg(test)]
mod tests;
