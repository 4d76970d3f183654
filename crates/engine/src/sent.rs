//! The controller values sent so far. Values that were performed ahead of the clock and will not go
//! out after all can be reverted.

use crate::controls::Knob;
use chaconne_song::U14;
use chaconne_time::Tick;
use std::collections::{BTreeMap, VecDeque};

/// The last value of each controller, and a short log of the values before.
#[derive(Debug, Clone, Default)]
pub(crate) struct SentValues {
    values: BTreeMap<Knob, U14>,
    log: VecDeque<(Tick, Knob, Option<U14>)>,
}

/// How far back what was performed can be reverted, in ticks: more than a second at the fastest tempo,
/// so several times the look-ahead.
pub(crate) const LOGGED: Tick = Tick(20_000);

impl SentValues {
    pub fn clear(&mut self) {
        self.values.clear();
        self.log.clear();
    }

    /// Forgets the log, and all controllers but those that `keep` picks.
    pub fn retain(&mut self, keep: impl Fn(&Knob) -> bool) {
        self.values.retain(|knob, _| keep(knob));
        self.log.clear();
    }

    pub fn get(&self, knob: &Knob) -> Option<U14> {
        self.values.get(knob).copied()
    }

    /// Records a value that goes out at a tick, and returns the one before.
    pub fn send(&mut self, at: Tick, knob: Knob, value: U14) -> Option<U14> {
        let before = self.values.insert(knob, value);
        if before != Some(value) {
            self.log.push_back((at, knob, before));
        }
        before
    }

    /// Forgets a value, so that the next one is sent whatever it is.
    pub fn remove(&mut self, knob: &Knob) {
        self.values.remove(knob);
    }

    /// Records a value that did not come from the performer. What was performed ahead no longer counts.
    pub fn overrule(&mut self, knob: Knob, value: U14) {
        self.log.retain(|(_, known, _)| *known != knob);
        self.values.insert(knob, value);
    }

    /// Records a value that did not come from the performer and is in force from just after a tick.
    /// What was performed ahead for later ticks still goes out.
    pub fn correct(&mut self, at: Tick, knob: Knob, value: U14) {
        self.log.retain(|(sent, known, _)| *known != knob || *sent > at);
        match self.log.iter_mut().find(|(_, known, _)| *known == knob) {
            Some((.., before)) => *before = Some(value),
            None => _ = self.values.insert(knob, value),
        }
    }

    /// Reverts the controllers that `which` picks to their values before `from`.
    pub fn revert(&mut self, from: Tick, which: impl Fn(&Knob) -> bool) {
        for (_, knob, before) in
            self.log.iter().rev().filter(|(at, knob, _)| *at >= from && which(knob))
        {
            match before {
                Some(value) => self.values.insert(*knob, *value),
                None => self.values.remove(knob),
            };
        }
        self.log.retain(|(at, knob, _)| *at < from || !which(knob));
    }

    /// Drops the log of what was long before `now`.
    pub fn prune(&mut self, now: Tick) {
        while self.log.front().is_some_and(|(at, ..)| *at < now - LOGGED) {
            self.log.pop_front();
        }
    }

    /// The controllers with a value.
    pub fn iter(&self) -> impl Iterator<Item = (Knob, U14)> + '_ {
        self.values.iter().map(|(knob, value)| (*knob, *value))
    }
}
