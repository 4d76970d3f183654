//! The walker: what lies along a route, read from any tick on.
//!
//! In: a song, the entries of a route and a tick. Out, in order: visits to sections, rounds, bars,
//! beats, and tempo steps with their nanoseconds. Ears, files, the listing, predictions and the
//! ruler all read a route here, so they cannot disagree about where a bar starts.
//!
//! Everything is an iterator that starts at the tick it is given and looks no further than it is
//! asked: a visit without an end goes round for ever, and costs nothing until somebody reads on.
//! What has to be counted from the route's start (its bars and rounds) is in [`Counts`].

mod counts;
mod landmarks;

pub use counts::{Counts, Position};
pub use landmarks::Landmark;

use crate::route::index_at;
use crate::{Entry, Route};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, Ns, Place, Span, Tempo, Tick, Timeline};
use std::sync::Arc;

/// A song along a route. Cheap to make and to copy: it holds two references.
#[derive(Debug, Clone, Copy)]
pub struct Walk<'s> {
    song: &'s Song,
    entries: &'s [Entry],
}

/// One visit to a section, from its entry until it is left.
#[derive(Debug, Clone, Copy)]
pub struct Visit<'s> {
    /// The entry of the route.
    pub entry: Entry,
    /// The section.
    pub section: &'s Arc<Section>,
}

/// One time through a section.
#[derive(Debug, Clone, Copy)]
pub struct Round<'s> {
    /// The visit it belongs to.
    pub visit: Visit<'s>,
    /// Which round of the visit it is, from 0.
    pub index: i64,
    /// Its first tick.
    pub start: Tick,
    /// The tick after its last: earlier than a whole round where the section is left before.
    pub end: Tick,
}

/// One bar.
#[derive(Debug, Clone, Copy)]
pub struct Bar<'s> {
    /// Its section.
    pub section: Letter,
    /// Its number in the section, from 1.
    pub number: u32,
    /// Its metre.
    pub metre: &'s Metre,
    /// Its first tick.
    pub start: Tick,
    /// The tick after its last: earlier than a whole bar where the section is left before.
    pub end: Tick,
}

/// One beat: where a click goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Beat {
    /// Its tick.
    pub at: Tick,
    /// Whether it is beat one of its bar.
    pub first: bool,
}

/// A tempo, and the moment it starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TempoStep {
    /// The tick it starts at.
    pub at: Tick,
    /// When that is: nanoseconds since the route's first tick, rounded down once.
    pub ns: Ns,
    /// The tempo from there on.
    pub tempo: Tempo,
}

impl<'s> Visit<'s> {
    /// The rounds that are not over at `from`. The section is played from its entry, so the first
    /// round starts there.
    pub fn rounds(self, from: Tick) -> impl Iterator<Item = Round<'s>> + use<'s> {
        let rounds = (self.round(from).index..).map(move |index| self.numbered(index));
        rounds.take_while(move |round| round.start < self.entry.until)
    }

    /// The round that a tick lies in, as if the visit had no end; before the entry, the first.
    pub fn round(self, at: Tick) -> Round<'s> {
        let length = self.section.length();
        let index = (at - self.entry.at).max(Tick::ZERO).cycle(length).0;
        self.numbered(index)
    }

    fn numbered(self, index: i64) -> Round<'s> {
        let length = self.section.length();
        let start = self.entry.at + length * index;
        Round { visit: self, index, start, end: (start + length).min(self.entry.until) }
    }

    /// The tick from the top of the round that a tick of the visit lies in; 0 before the entry.
    pub fn inside(&self, at: Tick) -> Tick {
        at.max(self.entry.at) - self.round(at).start
    }

    /// The bars that are not over at `from`.
    fn bars(self, from: Tick) -> impl Iterator<Item = Bar<'s>> + use<'s> {
        let Visit { entry, section } = self;
        let map = &section.metre;
        let first = map.bar_at((from - entry.at).max(Tick::ZERO));
        let bars = (first..).map(move |bar| {
            let number = (bar - 1).rem_euclid(i64::from(map.bars())) as u32 + 1;
            let (start, end) = (map.bar_start(bar), map.bar_start(bar + 1));
            let (start, end) = (entry.at + start, (entry.at + end).min(entry.until));
            Bar { section: section.letter, number, metre: map.metre_of(bar), start, end }
        });
        bars.take_while(move |bar| bar.start < entry.until)
    }

    /// Its tempo changes from `from` on, and its first tempo at each top.
    fn tempi(self, from: Tick) -> impl Iterator<Item = (Tick, Tempo)> + use<'s> {
        self.rounds(from).flat_map(move |round| {
            let steps = self.section.tempo.steps_from(from - round.start);
            let steps = steps.map(move |(at, tempo)| (round.start + at, tempo));
            steps.take_while(move |&(at, _)| at < round.end)
        })
    }
}

impl Bar<'_> {
    /// Its beats: fewer than its metre has where the section is left before.
    pub fn beats(self) -> impl Iterator<Item = Beat> {
        let Bar { metre, start, end, .. } = self;
        let count = i64::from(metre.count());
        let beat = metre.beat();
        let beats = (0..count).map(move |k| Beat { at: start + beat * k, first: k == 0 });
        beats.take_while(move |beat| beat.at < end)
    }
}

impl<'s> Walk<'s> {
    /// A walk along the entries of a route, in order of time and without a gap. Entries of
    /// sections that the song does not have are passed over.
    pub fn new(song: &'s Song, entries: &'s [Entry]) -> Walk<'s> {
        Walk { song, entries }
    }

    /// A walk along a route.
    pub fn along(song: &'s Song, route: &'s Route) -> Walk<'s> {
        Walk::new(song, &route.entries)
    }

    /// The route's first tick; 0 where it has none.
    pub fn start(&self) -> Tick {
        self.entries.first().map_or(Tick::ZERO, |entry| entry.at)
    }

    /// The visit in force at a tick; before the route's start, the first.
    pub fn visit_at(&self, at: Tick) -> Option<Visit<'s>> {
        let entry = *self.entries.get(index_at(self.entries, at))?;
        Some(Visit { entry, section: self.song.section(entry.section)? })
    }

    /// The visits that are not over at `from`.
    pub fn visits(self, from: Tick) -> impl Iterator<Item = Visit<'s>> + use<'s> {
        let Walk { song, entries } = self;
        let past = entries.partition_point(|entry| entry.until <= from);
        entries[past..].iter().filter_map(move |&entry| {
            let section = song.section(entry.section)?;
            Some(Visit { entry, section })
        })
    }

    /// The rounds that are not over at `from`.
    pub fn rounds(self, from: Tick) -> impl Iterator<Item = Round<'s>> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.rounds(from))
    }

    /// The bars that are not over at `from`.
    pub fn bars(self, from: Tick) -> impl Iterator<Item = Bar<'s>> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.bars(from))
    }

    /// The beats from `from` on. Those before the route's start are the count-in's: they have the
    /// metre of the section it leads into, and are counted back from its bar one.
    pub fn beats(self, from: Tick) -> impl Iterator<Item = Beat> + use<'s> {
        let bars = self.bars(from).flat_map(Bar::beats);
        self.count_in(from).chain(bars).skip_while(move |beat| beat.at < from)
    }

    fn count_in(self, from: Tick) -> impl Iterator<Item = Beat> + use<'s> {
        let start = self.start();
        let first = self.visits(start).next().filter(|_| from < start);
        first.into_iter().flat_map(move |visit| {
            let metre = visit.section.metre.first();
            let (beat, count) = (metre.beat(), i64::from(metre.count()));
            let before = (start - from).round_up(beat).0 / beat.0;
            (-before..0)
                .map(move |k| Beat { at: start + beat * k, first: k.rem_euclid(count) == 0 })
        })
    }

    /// Every tempo from `from` on that the route sets: at each change, and at each top. The tempo
    /// in force at `from` is not among them unless it is set there ([`Walk::tempo_at`] has it).
    pub fn tempi(self, from: Tick) -> impl Iterator<Item = (Tick, Tempo)> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.tempi(from))
    }

    /// The tempo at a tick; before the route's start, its first. `None` where the route is empty.
    pub fn tempo_at(&self, at: Tick) -> Option<Tempo> {
        let visit = self.visit_at(at)?;
        Some(visit.section.tempo.at(visit.inside(at)))
    }

    /// The changes of tempo before `to` and their moments, the first tempo first. A tempo that is
    /// set again without a change is left out; so an end is needed, else a loop in one tempo would
    /// be searched for ever.
    pub fn tempo_steps(self, to: Tick) -> impl Iterator<Item = TempoStep> + use<'s> {
        let start = self.start();
        let mut line: Option<Timeline> = None;
        self.tempi(start).take_while(move |&(at, _)| at < to).filter_map(move |(at, tempo)| {
            let Some(line) = &mut line else {
                line = Some(Timeline::new(at, 0, tempo));
                return Some(TempoStep { at, ns: 0, tempo });
            };
            if line.tempo_at(at) == tempo {
                return None;
            }
            line.push(at, tempo);
            line.prune(at);
            Some(TempoStep { at, ns: line.ns_at(at), tempo })
        })
    }

    /// When the ticks up to `to` fall, the route's first tick at 0 ns.
    pub fn timeline(self, to: Tick) -> Timeline {
        let mut steps = self.tempo_steps(to);
        let first = steps.next().map_or(Tempo::DEFAULT, |step| step.tempo);
        let mut line = Timeline::new(self.start(), 0, first);
        steps.for_each(|step| line.push(step.at, step.tempo));
        line
    }

    /// When a tick falls, in nanoseconds since the route's first tick; negative before it.
    pub fn ns_at(self, at: Tick) -> Ns {
        let first = self.tempo_at(self.start()).unwrap_or(Tempo::DEFAULT);
        let mut line = Timeline::new(self.start(), 0, first);
        for (from, tempo) in self.tempi(self.start()).take_while(|&(from, _)| from <= at) {
            line.push(from, tempo);
            line.prune(from);
        }
        line.ns_at(at)
    }

    /// Section starts, metres and tempi inside `span`, in order; at its start, the metre and tempo
    /// in force. Metres and tempi that change nothing are left out.
    pub fn landmarks(self, span: Span) -> Vec<(Tick, Landmark)> {
        landmarks::inside(self, span)
    }

    /// Where a tick of the count-in lies, which began at `began`: its bars have the metre of the
    /// section it leads into, and are counted up from 1. `None` where the route is empty.
    pub fn count_in_place(self, began: Tick, at: Tick) -> Option<Place> {
        let metre = self.visit_at(began)?.section.metre.first();
        let (bar, into) = (at - began).cycle(metre.bar());
        let (beat, tick) = into.cycle(metre.beat());
        Some(Place { bar: bar + 1, beat: beat as u8 + 1, tick: tick.0 as u32 })
    }

    /// Where a tick lies along the route, counted from its start. For many ticks make
    /// [`Walk::counts`] once.
    pub fn position(self, at: Tick) -> Option<Position> {
        counts::position(self, at)
    }

    /// The route's visits with their bars and rounds counted from its start.
    pub fn counts(self) -> Counts<'s> {
        Counts::new(self)
    }
}

#[cfg(test)]
mod tests;
