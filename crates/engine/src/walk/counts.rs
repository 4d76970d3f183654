//! Bars and rounds, counted from the start of a route.

use super::{Visit, Walk};
use chaconne_song::Letter;
use chaconne_time::{Place, Tick};

/// A visit, and how many bars and rounds come before it.
#[derive(Debug, Clone, Copy)]
struct Counted<'s> {
    visit: Visit<'s>,
    bars: i64,
    rounds: i64,
}

/// The visits of a route, each with the number of bars and rounds before it.
#[derive(Debug, Clone)]
pub struct Counts<'s> {
    visits: Vec<Counted<'s>>,
}

/// A position along a route, as musicians count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Position {
    /// The section.
    pub section: Letter,
    /// The bar of the section, from 1.
    pub bar: u32,
    /// The round of the route, from 1; 0 or less before the route's start.
    pub round: i64,
    /// Bar, beat and tick along the route, whose first bar is 1.
    pub place: Place,
    /// The ticks since the top of the round.
    pub inside: Tick,
}

impl<'s> Counted<'s> {
    fn position(&self, at: Tick) -> Position {
        let Visit { entry, section, .. } = self.visit;
        let mut place = section.metre.place(at - entry.at);
        let bar = (place.bar - 1).rem_euclid(i64::from(section.metre.bars())) as u32 + 1;
        place.bar += self.bars;
        let (round, inside) = (at - entry.at).cycle(section.length());
        Position { section: section.letter, bar, round: self.rounds + round + 1, place, inside }
    }

    /// The number of bars and rounds up to the visit's end. If the section is left inside a bar or a
    /// round, that one is short, and the next section starts a new one.
    fn after(&self) -> (i64, i64) {
        let Visit { entry, section, .. } = self.visit;
        let last = entry.until - entry.at - Tick(1);
        let rounds = last.cycle(section.length()).0 + 1;
        (self.bars + section.metre.bar_at(last), self.rounds + rounds)
    }
}

/// The visits of a route, counted.
fn counted(walk: Walk) -> impl Iterator<Item = Counted> {
    let mut before = (0, 0);
    walk.visits(walk.start()).map(move |visit| {
        let counted = Counted { visit, bars: before.0, rounds: before.1 };
        before = counted.after();
        counted
    })
}

/// The position of a tick; before the route's start, counted back from the first visit.
pub(super) fn position(walk: Walk, at: Tick) -> Option<Position> {
    let mut visits = counted(walk);
    let first = visits.next()?;
    let before = visits.take_while(|counted| counted.visit.entry.at <= at);
    Some(before.last().unwrap_or(first).position(at))
}

/// The number of rounds of a route.
pub(super) fn rounds_in_all(walk: Walk) -> i64 {
    counted(walk).last().map_or(0, |counted| counted.after().1)
}

impl<'s> Counts<'s> {
    pub(super) fn new(walk: Walk<'s>) -> Counts<'s> {
        Counts { visits: counted(walk).collect() }
    }

    /// The position of a tick. Before the route's start the bars count backwards; after its end the
    /// last section goes on. `None` if the route is empty.
    pub fn at(&self, at: Tick) -> Option<Position> {
        let after = self.visits.partition_point(|counted| counted.visit.entry.at <= at);
        Some(self.visits.get(after.max(1) - 1)?.position(at))
    }

    /// The tick at which a bar of the route starts; `None` if the route has no such bar.
    pub fn bar_start(&self, bar: i64) -> Option<Tick> {
        let after = self.visits.partition_point(|counted| counted.bars < bar);
        let counted = self.visits.get(after.checked_sub(1)?)?;
        let Visit { entry, section, .. } = counted.visit;
        let at = entry.at + section.metre.bar_start(bar - counted.bars);
        (at < entry.until).then_some(at)
    }

    /// The number of bars of the route; a huge number if it has no end.
    pub fn bars(&self) -> i64 {
        self.visits.last().map_or(0, |counted| counted.after().0)
    }
}
