//! Chooses which of the waiting items is sent next.
//!
//! In: the items in order of arrival. Out: the one to send: among those that would overtake nothing
//! they must not, the one with the highest priority, and the earliest of equals. One walk over the
//! items, keeping sets of what came before. There is always a choice, because nothing holds the
//! first item.
//!
//! An item whose priority is no higher than that of what it must not overtake needs no hold: the
//! other came earlier, so it has waited at least as long and goes first. Only these are held: what
//! has the priority of silence or percussion, and a fine half that goes next because its coarse half
//! has been sent.

use super::item::{Kind, Waiting};
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
    notes: u16,
    states: u16,
    whole: bool,
}

impl Before {
    /// Whether an item must wait for an earlier one.
    fn holds<T>(&self, one: &Waiting<T>) -> bool {
        let whole = self.whole && !one.silences();
        match one.kind {
            Kind::System | Kind::Whole => false,
            Kind::Note(channel, key) | Kind::Release(channel, key) => {
                whole
                    || has(self.states, channel)
                    || self.keys[place(channel)] >> key.get() & 1 == 1
            }
            Kind::State(channel) => whole || has(self.notes | self.states, channel),
            Kind::Value(channel, _) => whole || has(self.states, channel),
        }
    }

    fn add(&mut self, kind: Kind) {
        match kind {
            Kind::System | Kind::Value(..) => {}
            Kind::Whole => self.whole = true,
            Kind::Note(channel, key) | Kind::Release(channel, key) => {
                self.keys[place(channel)] |= 1 << key.get();
                self.notes |= 1 << channel.wire();
            }
            Kind::State(channel) => self.states |= 1 << channel.wire(),
        }
    }
}

fn place(channel: Channel) -> usize {
    usize::from(channel.wire())
}

fn has(channels: u16, channel: Channel) -> bool {
    channels >> channel.wire() & 1 == 1
}
