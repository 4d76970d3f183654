//! The items waiting for a serial line, in order of arrival.
//!
//! In: items. Out: the next one to send. Continuous values are thinned here: a new value replaces
//! the waiting value of the same knob. If state lies between the two, the old value keeps its place
//! and the new one goes to the end. A new coarse half discards the waiting fine half (MIDI 1.0,
//! "Control Change": a receiver sets the fine half to 0).

use super::choose::choose;
use super::item::{Item, Kind, Knob, Priority, Waiting, fine_half, is_reset};
use crate::{Channel, Message, U7};
use chaconne_time::Ns;

/// One in this many places is reserved for messages that end a sound.
const RESERVED: usize = 4;

#[derive(Debug)]
pub(super) struct Queue<T> {
    waiting: Vec<Waiting<T>>,
    places: usize,
    thinned: u64,
}

impl<T> Queue<T> {
    pub fn new(places: usize) -> Queue<T> {
        let places = places.max(RESERVED);
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

    /// Adds an item; returns it if there is no room or it cannot be sent.
    pub fn push(&mut self, now: Ns, item: Item<T>) -> Result<(), Item<T>> {
        let mut new = Waiting::new(item, now)?;
        if let Kind::Value(channel, knob) = new.kind {
            match self.thin(channel, knob, new) {
                Some(left) => new = left,
                None => return Ok(()),
            }
        }
        let kept = if new.silences() { 0 } else { self.places / RESERVED };
        if self.waiting.len() + kept >= self.places {
            return Err(new.item);
        }
        self.settle_before(&new);
        self.waiting.push(new);
        Ok(())
    }

    /// Removes and returns the item to send next.
    pub fn next(&mut self, now: Ns) -> Option<Item<T>> {
        choose(&self.waiting, now).map(|index| self.waiting.remove(index).item)
    }

    /// Makes the fine half of this coarse half, if one is waiting, the next to be sent. If a newer
    /// coarse half is waiting, the fine half belongs to that.
    pub fn hurry_fine_half(&mut self, coarse: Message) {
        let Message::Change { channel, controller, .. } = coarse else { return };
        let coarse = Knob::Controller(controller.get());
        if let Some(fine) = fine_half(coarse)
            && let Some(index) = self.find(channel, fine)
            && self.find(channel, coarse).is_none()
        {
            self.waiting[index].priority = Priority::System;
        }
    }

    /// Whether a song position or a song select is waiting.
    pub fn has_cue(&self) -> bool {
        self.waiting.iter().any(|one| is_cue(&one.item))
    }

    /// Returns every item that does not stay, in order.
    pub fn give_back(&mut self, stays: impl Fn(&Item<T>) -> bool, back: &mut impl FnMut(Item<T>)) {
        for one in self.waiting.extract_if(.., |one| !stays(&one.item)) {
            back(one.item);
        }
    }

    /// Replaces the waiting value of the same knob; returns the new one if none is waiting.
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

    /// If state of the channel follows a value, the value keeps its place before that state.
    fn settle_under_state(&mut self, index: usize, channel: Channel) -> bool {
        let from_here = &self.waiting[index..];
        let settled = from_here.iter().any(|one| one.kind == Kind::State(channel));
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
                    self.waiting[index].settle_on_key(new.priority);
                }
            }
            Kind::State(channel) if resets(&new.item) => self.settle_all(Some(channel)),
            Kind::Whole => self.settle_all(None),
            _ => {}
        }
    }

    /// Fixes the values of a channel that is being reset in their places, and drops those the reset
    /// overrides; with `None`, fixes the values of all channels.
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

/// Whether it is a song position or a song select, which a start or continue must follow.
pub(super) fn is_cue<T>(item: &Item<T>) -> bool {
    matches!(item.message(), Some(Message::SongPosition(_) | Message::SongSelect(_)))
}

fn resets<T>(item: &Item<T>) -> bool {
    const RESET: U7 = U7::low_bits(121);
    matches!(item.message(), Some(Message::Change { controller: RESET, .. }))
}
