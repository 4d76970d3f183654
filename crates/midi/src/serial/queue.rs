//! The items that wait for a serial line, in the order they came.
//!
//! In: items. Out: the next to send. Continuous values are thinned here: a new value takes the
//! place of the one of its knob that waits; where a state lies between, the old value keeps its
//! place and the new one goes to the end. A new coarse half makes the fine half that waits void
//! (MIDI 1.0, "Control Change": a receiver sets the fine half to 0).

use super::choose::choose;
use super::item::{Favour, Item, Kind, Knob, Waiting, fine_half, is_reset};
use crate::{Channel, Message, U7};
use chaconne_time::Ns;

/// One in so many places is kept free for what ends sound.
const KEPT: usize = 4;

#[derive(Debug)]
pub(super) struct Queue<T> {
    waiting: Vec<Waiting<T>>,
    places: usize,
    thinned: u64,
}

impl<T> Queue<T> {
    pub fn new(places: usize) -> Queue<T> {
        let places = places.max(KEPT);
        Queue { waiting: Vec::with_capacity(places), places, thinned: 0 }
    }

    pub fn thinned(&self) -> u64 {
        self.thinned
    }

    pub fn len(&self) -> usize {
        self.waiting.len()
    }

    #[cfg(test)]
    pub fn capacity(&self) -> usize {
        self.waiting.capacity()
    }

    /// Takes an item; it comes back where there is no room or it cannot be sent.
    pub fn push(&mut self, now: Ns, item: Item<T>) -> Result<(), Item<T>> {
        let mut new = Waiting::new(item, now)?;
        if let Kind::Value(channel, knob) = new.kind {
            match self.thin(channel, knob, new) {
                Some(left) => new = left,
                None => return Ok(()),
            }
        }
        let kept = if new.silences() { 0 } else { self.places / KEPT };
        if self.waiting.len() + kept >= self.places {
            return Err(new.item);
        }
        self.settle_before(&new);
        self.waiting.push(new);
        Ok(())
    }

    /// Takes out the item to send next.
    pub fn next(&mut self, now: Ns) -> Option<Item<T>> {
        choose(&self.waiting, now).map(|index| self.waiting.remove(index).item)
    }

    /// The fine half that waits for this coarse half, if any, goes next.
    pub fn hurry_fine_half(&mut self, coarse: Message) {
        if let Message::Change { channel, controller, .. } = coarse
            && let Some(fine) = fine_half(Knob::Controller(controller.get()))
            && let Some(index) = self.find(channel, fine)
        {
            self.waiting[index].favour = Favour::System;
        }
    }

    /// Whether a song position or a song number waits.
    pub fn has_cue(&self) -> bool {
        self.waiting.iter().any(|one| is_cue(&one.item))
    }

    /// Gives back what is not to stay, in order.
    pub fn give_back(&mut self, stays: impl Fn(&Item<T>) -> bool, back: &mut impl FnMut(Item<T>)) {
        for one in self.waiting.extract_if(.., |one| !stays(&one.item)) {
            back(one.item);
        }
    }

    /// A value takes the place of the one that waits; else it comes back.
    fn thin(&mut self, channel: Channel, knob: Knob, new: Waiting<T>) -> Option<Waiting<T>> {
        if let Some(index) = fine_half(knob).and_then(|fine| self.find(channel, fine))
            && !self.settle_under_state(index, channel)
        {
            self.waiting.remove(index);
            self.thinned += 1;
        }
        let Some(index) = self.find(channel, knob) else { return Some(new) };
        if self.settle_under_state(index, channel) {
            return Some(new);
        }
        self.waiting[index].item = new.item;
        self.thinned += 1;
        None
    }

    /// Where a state of the channel lies after a value, the value keeps its place before it.
    fn settle_under_state(&mut self, index: usize, channel: Channel) -> bool {
        let after = &self.waiting[index + 1..];
        let settled = after.iter().any(|one| one.kind == Kind::State(channel));
        if settled {
            self.waiting[index].settle();
        }
        settled
    }

    /// Values that a new item must not overtake keep their places before it.
    fn settle_before(&mut self, new: &Waiting<T>) {
        match new.kind {
            Kind::Note(channel, key) | Kind::Release(channel, key) => {
                if let Some(index) = self.find(channel, Knob::Key(key)) {
                    self.waiting[index].settle_on_key(new.favour);
                }
            }
            Kind::State(channel) if resets(&new.item) => self.settle_all(Some(channel)),
            Kind::Whole => self.settle_all(None),
            _ => {}
        }
    }

    /// Settles the values of a channel that is being reset, without those that the reset makes
    /// void; or the values of all channels.
    fn settle_all(&mut self, reset: Option<Channel>) {
        let before = self.waiting.len();
        self.waiting.retain_mut(|one| {
            let Kind::Value(channel, knob) = one.kind else { return true };
            if reset.is_none_or(|reset| reset == channel) {
                if reset.is_some() && is_reset(knob) {
                    return false;
                }
                one.settle();
            }
            true
        });
        self.thinned += (before - self.waiting.len()) as u64;
    }

    fn find(&self, channel: Channel, knob: Knob) -> Option<usize> {
        self.waiting.iter().position(|one| one.kind == Kind::Value(channel, knob))
    }
}

/// Whether it is a song position or a song number: what a start or a continue must come after.
pub(super) fn is_cue<T>(item: &Item<T>) -> bool {
    matches!(item.message(), Some(Message::SongPosition(_) | Message::SongSelect(_)))
}

fn resets<T>(item: &Item<T>) -> bool {
    const RESET: U7 = U7::low_bits(121);
    matches!(item.message(), Some(Message::Change { controller: RESET, .. }))
}
