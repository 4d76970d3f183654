//! Chooses which of the waiting items is sent next.
//!
//! In: the items in order of arrival. Out: the one to send: among those that would overtake nothing
//! they must not, the one with the highest priority, and the earliest of equals. One walk over the
//! items, keeping sets of what came before. There is always a choice, because nothing holds the
//! first item.

use super::item::{Kind, Knob, Waiting, fine_half};
use crate::Channel;
use chaconne_time::Ns;

/// The index of the item to send next; `None` if nothing waits.
pub(super) fn choose<T>(waiting: &[Waiting<T>], now: Ns) -> Option<usize> {
    let mut before = Before::default();
    let mut best: Option<(u8, usize)> = None;
    for (index, one) in waiting.iter().enumerate() {
        let rank = one.rank(now);
        if best.is_none_or(|(least, _)| rank < least) && !before.holds(one) {
            best = Some((rank, index));
        }
        before.add(one.kind);
    }
    best.map(|(_, index)| index)
}

/// What waits before an item. Each mask has a bit per channel; each array has an entry per channel.
#[derive(Default)]
struct Before {
    keys: [u128; 16],
    coarse: [u32; 16],
    notes: u16,
    states: u16,
    whole: bool,
    system: bool,
}

impl Before {
    /// Whether an item must wait for an earlier one.
    fn holds<T>(&self, one: &Waiting<T>) -> bool {
        let whole = self.whole && !one.silences();
        match one.kind {
            Kind::System => self.system,
            // What must go before it has at least its priority and came earlier, so it does.
            Kind::Whole => false,
            Kind::Note(channel, key) | Kind::Release(channel, key) => {
                whole
                    || has(self.states, channel)
                    || self.keys[place(channel)] >> key.get() & 1 == 1
            }
            Kind::State(channel) => whole || has(self.notes | self.states, channel),
            Kind::Value(channel, knob) => {
                whole || has(self.states, channel) || self.holds_value(channel, knob)
            }
        }
    }

    fn holds_value(&self, channel: Channel, knob: Knob) -> bool {
        match knob {
            Knob::Key(key) => self.keys[place(channel)] >> key.get() & 1 == 1,
            Knob::Controller(number @ 32..=63) => {
                self.coarse[place(channel)] >> (number - 32) & 1 == 1
            }
            _ => false,
        }
    }

    fn add(&mut self, kind: Kind) {
        match kind {
            Kind::System => self.system = true,
            Kind::Whole => self.whole = true,
            Kind::Note(channel, key) | Kind::Release(channel, key) => {
                self.keys[place(channel)] |= 1 << key.get();
                self.notes |= 1 << channel.wire();
            }
            Kind::State(channel) => self.states |= 1 << channel.wire(),
            Kind::Value(channel, knob) => {
                if let (Knob::Controller(number), Some(_)) = (knob, fine_half(knob)) {
                    self.coarse[place(channel)] |= 1 << number;
                }
            }
        }
    }
}

fn place(channel: Channel) -> usize {
    usize::from(channel.wire())
}

fn has(channels: u16, channel: Channel) -> bool {
    channels >> channel.wire() & 1 == 1
}
