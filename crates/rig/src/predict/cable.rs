//! One port's line on a simulated clock.
//!
//! In: events in order, and the clock messages that go between them. Out: the latest note, the late
//! bars, and what was left out.

use super::clocks::Clocks;
use super::extent::Extent;
use super::{Forecast, LateNote};
use chaconne_engine::{Counts, Message};
use chaconne_midi::Wire;
use chaconne_midi::serial::{Ended, Grain, Item, PLACES, SerialLine};
use chaconne_time::{Ns, Tick, Timeline};
use std::collections::BTreeSet;

/// A line, and what was counted so far.
#[derive(Debug)]
pub struct Cable<'a> {
    counts: &'a Counts<'a>,
    extent: &'a Extent,
    timeline: &'a Timeline,
    clocks: Clocks<'a>,
    limit: Ns,
    line: SerialLine<Tick>,
    now: Ns,
    latest: Option<(Ns, Tick)>,
    /// The late bars, numbered as in the first time through.
    late_bars: BTreeSet<i64>,
    lost: usize,
    /// The messages left out and lost by the end of the first time through.
    before: Option<(u64, usize)>,
}

impl<'a> Cable<'a> {
    /// A line at rest that also carries `clocks`.
    pub fn new(
        counts: &'a Counts<'a>,
        extent: &'a Extent,
        timeline: &'a Timeline,
        clocks: Clocks<'a>,
        limit: Ns,
    ) -> Cable<'a> {
        Cable {
            counts,
            extent,
            timeline,
            clocks,
            limit,
            line: SerialLine::new(Grain::Bytes, PLACES),
            now: Ns::MIN,
            latest: None,
            late_bars: BTreeSet::new(),
            lost: 0,
            before: None,
        }
    }

    /// Sends a message before the start, at a negative time.
    pub fn prepare(&mut self, moment: Ns, wire: Wire) {
        self.carry_until(moment);
        self.put(moment, self.extent.route.span().from, wire);
    }

    /// Sends a message that is due at `at`, after everything that the line sends until then.
    pub fn take(&mut self, at: Tick, wire: Wire) {
        let due = self.timeline.ns_at(at);
        self.carry_until(due);
        if at >= self.extent.once && self.before.is_none() {
            self.before = Some((self.line.counts().thinned, self.lost));
        }
        self.put(due, at, wire);
    }

    /// Sends pulses and time code up to a tick; they go before anything else on that tick. While
    /// the line is at rest, only the last ones matter: the others left it long before.
    pub fn clocks_until(&mut self, at: Tick) {
        while let Some(due) = self.clocks.next_due(at) {
            self.carry_until(due);
            if self.line.is_empty() {
                self.clocks.skip_to(at);
            }
            let Some(due) = self.clocks.next_due(at) else { return };
            self.carry_until(due);
            let Some(message) = self.clocks.take() else { return };
            self.put(due, at, Wire::Message(message));
        }
    }

    fn put(&mut self, due: Ns, tag: Tick, wire: Wire) {
        self.now = due;
        if self.line.push(due, Item { wire, due, tag }).is_err() {
            self.lost += 1;
        }
    }

    fn carry_until(&mut self, end: Ns) {
        while let Some(at) = self.line.next_deadline().map(|at| at.max(self.now)) {
            if at >= end || self.line.peek(at).is_none() {
                break;
            }
            self.now = at;
            if let Some(ended) = self.line.took(at).ended {
                self.note(&ended);
            }
        }
    }

    fn note(&mut self, ended: &Ended<Tick>) {
        let item = &ended.item;
        if !matches!(item.wire, Wire::Message(Message::NoteOn { .. })) {
            return;
        }
        let late = ended.at - item.due;
        if self.latest.is_none_or(|(most, _)| late > most) {
            self.latest = Some((late, item.tag));
        }
        if late > self.limit {
            self.late_bars.extend(self.bar_of_the_first_time(item.tag));
        }
    }

    /// The bar of the route at a tick, numbered as in the first time through.
    fn bar_of_the_first_time(&self, at: Tick) -> Option<i64> {
        let once = self.counts.at(self.extent.once - Tick(1))?.place.bar;
        let bar = self.counts.at(at)?.place.bar;
        Some((bar - 1).rem_euclid(once) + 1)
    }

    /// Sends what is left, and returns the forecast.
    pub fn forecast(mut self, port: &str) -> Forecast {
        self.carry_until(Ns::MAX);
        let (thinned, lost) = (self.line.counts().thinned, self.lost);
        let before = self.before.unwrap_or((thinned, lost));
        let latest = self.latest.and_then(|(late, at)| {
            let position = self.counts.at(at)?;
            Some(LateNote { late, section: position.section, bar: i64::from(position.bar) })
        });
        Forecast {
            port: port.to_string(),
            latest,
            late_bars: self.late_bars.len(),
            thinned: before.0.max(thinned - before.0),
            lost: before.1.max(lost - before.1),
        }
    }
}
