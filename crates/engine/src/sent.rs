//! The controller values sent so far, and how to take back those that were performed ahead of
//! the clock and will not go out after all.

use crate::controls::Knob;
use chaconne_song::U14;
use chaconne_time::Tick;
use std::collections::{BTreeMap, VecDeque};

/// Values sent, and a short log of what they were before.
#[derive(Debug, Clone, Default)]
pub(crate) struct SentValues {
    values: BTreeMap<Knob, U14>,
    log: VecDeque<(Tick, Knob, Option<U14>)>,
}

/// How far back values can be taken back, in ticks: many times the look-ahead.
const LOGGED: Tick = Tick(20_000);

impl SentValues {
    pub fn clear(&mut self) {
        self.values.clear();
        self.log.clear();
    }

    pub fn get(&self, knob: &Knob) -> Option<U14> {
        self.values.get(knob).copied()
    }

    /// A value goes out at a tick; gives the one before.
    pub fn send(&mut self, at: Tick, knob: Knob, value: U14) -> Option<U14> {
        let before = self.values.insert(knob, value);
        if before != Some(value) {
            self.log.push_back((at, knob, before));
        }
        before
    }

    /// The value must be told again, whatever it is.
    pub fn unknow(&mut self, knob: &Knob) {
        self.values.remove(knob);
    }

    /// Somebody else has set the value: what was performed ahead no longer counts.
    pub fn overrule(&mut self, knob: Knob, value: U14) {
        self.log.retain(|(_, known, _)| *known != knob);
        self.values.insert(knob, value);
    }

    /// Takes back what was performed for `from` and later of the controllers that `which` picks.
    pub fn take_back(&mut self, from: Tick, which: impl Fn(&Knob) -> bool) {
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

    /// Forgets how things were long before `now`.
    pub fn forget(&mut self, now: Tick) {
        while self.log.front().is_some_and(|(at, ..)| *at < now - LOGGED) {
            self.log.pop_front();
        }
    }

    /// The controllers with a value.
    pub fn iter(&self) -> impl Iterator<Item = (Knob, U14)> + '_ {
        self.values.iter().map(|(knob, value)| (*knob, *value))
    }
}
