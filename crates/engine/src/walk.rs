//! The walker: it reads a route from any tick on.
//!
//! In: a song, the entries of a route and a tick. Out, in order: visits to sections, rounds, bars,
//! beats, and tempo steps with their nanoseconds. Playback, exports, the listing, predictions and the
//! ruler on the screen all use it, so they cannot disagree about where a bar starts.
//!
//! Everything is a lazy iterator that starts at the given tick, so a visit without end can be read as
//! far as needed. Bars and rounds counted from the route's start are in [`Counts`].
//!
//! Music may begin at the route's start or at any tick after it ([`Walk::beginning`]). What comes before is the
//! count-in, and here is the one place that knows what a count-in is: it belongs to the visit, the round and the
//! tempo that it leads into, and its beats count back from there.

mod counts;
mod landmarks;

pub use counts::{Counts, Position};
pub use landmarks::Landmark;

use crate::route::index_at;
use crate::{Entry, Route};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, Ns, Place, Span, Tempo, Tick, Timeline};
use std::sync::Arc;

/// A song along a route. Cheap to create and to copy: it holds two references.
#[derive(Debug, Clone, Copy)]
pub struct Walk<'s> {
    song: &'s Song,
    entries: &'s [Entry],
    /// The tick at which the music begins, if it is after the route's start.
    music: Tick,
}

/// One visit to a section, from its entry until it is left.
#[derive(Debug, Clone, Copy)]
pub struct Visit<'s> {
    /// The entry of the route.
    pub entry: Entry,
    /// The section.
    pub section: &'s Arc<Section>,
    /// The first tick of it that is played: its entry, or where the music begins in it.
    pub from: Tick,
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
    /// The tick after its last. The round is short if the section is left before its end.
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
    /// The tick after its last. The bar is short if the section is left before its end.
    pub end: Tick,
    /// Whether it is a pickup: the end of a bar, without a beat one.
    pub pickup: bool,
}

/// One beat of a metre, which a click marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Beat {
    /// Its tick.
    pub at: Tick,
    /// Whether it is beat one of its bar.
    pub first: bool,
}

/// A tempo, and when it starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TempoStep {
    /// The tick at which it starts.
    pub at: Tick,
    /// The same in nanoseconds since the route's first tick, rounded down.
    pub ns: Ns,
    /// The tempo from there on.
    pub tempo: Tempo,
}

impl<'s> Visit<'s> {
    /// The rounds that end after `from`. The first round starts at the entry.
    pub fn rounds(self, from: Tick) -> impl Iterator<Item = Round<'s>> + use<'s> {
        let first = (from - self.entry.at).max(Tick::ZERO).cycle(self.section.length()).0;
        let rounds = (first..).map(move |index| self.numbered(index));
        rounds.take_while(move |round| round.start < self.entry.until)
    }

    /// The round that contains a tick, as if the visit had no end; before the music, the round in which
    /// it begins.
    pub fn round(self, at: Tick) -> Round<'s> {
        let length = self.section.length();
        let index = (at.max(self.from) - self.entry.at).cycle(length).0;
        self.numbered(index)
    }

    fn numbered(self, index: i64) -> Round<'s> {
        let length = self.section.length();
        let start = self.entry.at + length * index;
        Round { visit: self, index, start, end: (start + length).min(self.entry.until) }
    }

    /// The ticks from the top of the round to a tick of the visit; before the music, to its first tick.
    pub fn inside(&self, at: Tick) -> Tick {
        at.max(self.from) - self.round(at).start
    }

    /// The metre at a tick; before the music, the one in which it begins.
    pub fn metre(&self, at: Tick) -> &'s Metre {
        self.section.metre.metre_at(self.inside(at))
    }

    /// The number of the bar that contains a tick, counted in the section; before the music, of its first.
    pub fn bar(&self, at: Tick) -> i64 {
        self.section.metre.bar_at(self.inside(at))
    }

    /// The first tick of the bar that contains a tick.
    pub fn bar_start(&self, at: Tick) -> Tick {
        let (map, inside) = (&self.section.metre, self.inside(at));
        at.max(self.from) - inside + map.bar_start(map.bar_at(inside))
    }

    /// The bars that end after `from`.
    fn bars(self, from: Tick) -> impl Iterator<Item = Bar<'s>> + use<'s> {
        let Visit { entry, section, .. } = self;
        let map = &section.metre;
        let pickup = map.pickup().is_some();
        let first = map.bar_at((from - entry.at).max(Tick::ZERO));
        let bars = (first..).map(move |bar| {
            let number = (bar - 1).rem_euclid(i64::from(map.bars())) as u32 + 1;
            let (start, end) = (map.bar_start(bar), map.bar_start(bar + 1));
            let (start, end) = (entry.at + start, (entry.at + end).min(entry.until));
            let (section, metre) = (section.letter, map.metre_of(bar));
            Bar { section, number, metre, start, end, pickup: pickup && number == 1 }
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
    /// Its beats as they are clicked; fewer than its metre has if the section is left before its end.
    pub fn beats(self) -> impl Iterator<Item = Beat> {
        let Bar { metre, start, end, pickup, .. } = self;
        let beat = metre.click();
        let beats = (0..).map(move |k| Beat { at: start + beat * k, first: k == 0 && !pickup });
        beats.take_while(move |beat| beat.at < end)
    }
}

impl<'s> Walk<'s> {
    /// A walk along the entries of a route, in order and without a gap. Entries of sections that the
    /// song does not have are skipped.
    pub fn new(song: &'s Song, entries: &'s [Entry]) -> Walk<'s> {
        Walk { song, entries, music: Tick::MIN }
    }

    /// The same walk for music that begins at this tick of the route, at the start of a bar if it is counted in.
    pub fn beginning(self, at: Tick) -> Walk<'s> {
        Walk { music: at, ..self }
    }

    /// The tick at which the music begins: the route's start, unless another was given.
    fn music(&self) -> Tick {
        self.start().max(self.music)
    }

    /// A walk along a route.
    pub fn along(song: &'s Song, route: &'s Route) -> Walk<'s> {
        Walk::new(song, &route.entries)
    }

    /// The route's first tick; 0 if the route is empty.
    pub fn start(&self) -> Tick {
        self.entries.first().map_or(Tick::ZERO, |entry| entry.at)
    }

    /// The visit in force at a tick; before the music, the one in which it begins. `None` if the route is
    /// empty or the song does not have the section.
    pub fn visit_at(&self, at: Tick) -> Option<Visit<'s>> {
        let music = self.music();
        let entry = *self.entries.get(index_at(self.entries, at.max(music)))?;
        let section = self.song.section(entry.section)?;
        Some(Visit { entry, section, from: entry.at.max(music) })
    }

    /// The visits that end after `from`.
    pub fn visits(self, from: Tick) -> impl Iterator<Item = Visit<'s>> + use<'s> {
        let (Walk { song, entries, .. }, music) = (self, self.music());
        let past = entries.partition_point(|entry| entry.until <= from);
        entries[past..].iter().filter_map(move |&entry| {
            let section = song.section(entry.section)?;
            Some(Visit { entry, section, from: entry.at.max(music) })
        })
    }

    /// The rounds that end after `from`.
    pub fn rounds(self, from: Tick) -> impl Iterator<Item = Round<'s>> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.rounds(from))
    }

    /// The bars that end after `from`.
    pub fn bars(self, from: Tick) -> impl Iterator<Item = Bar<'s>> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.bars(from))
    }

    /// The beats from `from` on. Those before the music belong to the count-in: they have the metre of the
    /// bar that it leads into, and count back from there.
    pub fn beats(self, from: Tick) -> impl Iterator<Item = Beat> + use<'s> {
        let begin = from.max(self.music());
        let bars = self.bars(begin).flat_map(Bar::beats);
        self.count_in(from).chain(bars.skip_while(move |beat| beat.at < begin))
    }

    fn count_in(self, from: Tick) -> impl Iterator<Item = Beat> + use<'s> {
        let music = self.music();
        self.visits(music).next().into_iter().flat_map(move |visit| {
            let (map, bar) = (&visit.section.metre, visit.bar(music));
            let counted = map.counted_metre(bar);
            // A pickup is the end of a bar that begins before it.
            let line = match map.count_in_to(bar, 1) {
                whole if whole == counted.bar() => music,
                short => music - short,
            };
            let beat = counted.click();
            let count = counted.bar().0 / beat.0;
            let first = (from - line).round_up(beat).cycle(beat).0;
            let beats = (first..)
                .map(move |k| Beat { at: line + beat * k, first: k.rem_euclid(count) == 0 });
            beats.take_while(move |beat| beat.at < music)
        })
    }

    /// The ticks after `from` and before `to` at which the beat of a fermata ends, and the music waits.
    pub fn fermatas(self, from: Tick, to: Tick) -> impl Iterator<Item = Tick> + use<'s> {
        let rounds = self.rounds(from).take_while(move |round| round.start < to);
        let ends = rounds.flat_map(|round| {
            let section = round.visit.section;
            let inside =
                section.fermatas.iter().take_while(move |&&at| round.start + at < round.end);
            inside.map(move |&at| (round.start + section.beat_end(at)).min(round.end))
        });
        ends.filter(move |&at| from < at && at < to)
    }

    /// Every tempo that the route sets from `from` on: at each change, and at each top. The tempo in
    /// force at `from` is included only if it starts there; see [`Walk::tempo_at`].
    pub fn tempi(self, from: Tick) -> impl Iterator<Item = (Tick, Tempo)> + use<'s> {
        self.visits(from).flat_map(move |visit| visit.tempi(from))
    }

    /// The tempo at a tick; before the music, the one in which it begins. `None` if the route is empty.
    pub fn tempo_at(&self, at: Tick) -> Option<Tempo> {
        let visit = self.visit_at(at)?;
        Some(visit.section.tempo.at(visit.inside(at)))
    }

    /// The changes of tempo before `to` and when they start, beginning with the first tempo. A tempo
    /// that is set again without a change is left out, so the search needs an end: a loop in one tempo
    /// would be searched for ever.
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

    /// A timeline with all tempi before `to`, with the route's first tick at 0 ns.
    pub fn timeline(self, to: Tick) -> Timeline {
        let mut steps = self.tempo_steps(to);
        let first = steps.next().map_or(Tempo::DEFAULT, |step| step.tempo);
        let mut line = Timeline::new(self.start(), 0, first);
        steps.for_each(|step| line.push(step.at, step.tempo));
        line
    }

    /// The time of a tick, in nanoseconds since the route's first tick; negative before it.
    pub fn ns_at(self, at: Tick) -> Ns {
        let first = self.tempo_at(self.start()).unwrap_or(Tempo::DEFAULT);
        let mut line = Timeline::new(self.start(), 0, first);
        for (from, tempo) in self.tempi(self.start()).take_while(|&(from, _)| from <= at) {
            line.push(from, tempo);
            line.prune(from);
        }
        line.ns_at(at)
    }

    /// The section starts, metres and tempi inside `span`, in order, beginning with the metre and tempo
    /// in force at its start. Metres and tempi that change nothing are left out.
    pub fn landmarks(self, span: Span) -> Vec<(Tick, Landmark)> {
        landmarks::inside(self, span)
    }

    /// The place of a tick in a count-in that began at tick `began`. Its bars have the metre of the
    /// bar it leads into, or of the one after a pickup, and count up from 1. `None` if the route is empty.
    pub fn count_in_place(self, began: Tick, at: Tick) -> Option<Place> {
        let visit = self.visit_at(began)?;
        let metre = visit.section.metre.counted_metre(visit.bar(began));
        let (bar, into) = (at - began).cycle(metre.bar());
        let (beat, tick) = into.cycle(metre.beat());
        Some(Place { bar: bar + 1, beat: beat as u8 + 1, tick: tick.0 as u32 })
    }

    /// The position of a tick along the route, counted from its start. For many ticks, create
    /// [`Walk::counts`] once instead.
    pub fn position(self, at: Tick) -> Option<Position> {
        counts::position(self, at)
    }

    /// The number of rounds of a route that has an end, short ones included.
    pub fn rounds_in_all(self) -> i64 {
        counts::rounds_in_all(self)
    }

    /// The route's bars and rounds, counted from its start.
    pub fn counts(self) -> Counts<'s> {
        Counts::new(self)
    }
}

#[cfg(test)]
mod tests;
