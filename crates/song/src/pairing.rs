//! Pairs each key press with its release: one rule for live input and for files.

use crate::{Channel, U7};
use chaconne_time::Tick;
use std::collections::VecDeque;

/// A press together with its release.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paired<T> {
    /// The value that the caller passed with the press.
    pub tag: T,
    /// When the key was released.
    pub end: Tick,
    /// The release velocity.
    pub release: U7,
}

/// The keys that are down. If a key was pressed twice, its first release ends the first press.
#[derive(Debug, Clone)]
pub struct Pairing<T> {
    down: VecDeque<(Channel, U7, T)>,
}

impl<T> Default for Pairing<T> {
    fn default() -> Self {
        Pairing { down: VecDeque::new() }
    }
}

impl<T: Copy> Pairing<T> {
    /// Adds a press.
    pub fn press(&mut self, channel: Channel, key: U7, tag: T) {
        self.down.push_back((channel, key, tag));
    }

    /// Ends the oldest press of a key; `None` if the key was not down.
    pub fn release(
        &mut self,
        channel: Channel,
        key: U7,
        end: Tick,
        release: U7,
    ) -> Option<Paired<T>> {
        let index = self.down.iter().position(|held| held.0 == channel && held.1 == key)?;
        let (_, _, tag) = self.down.remove(index)?;
        Some(Paired { tag, end, release })
    }

    /// The presses that are still down, oldest first.
    pub fn held(&self) -> impl Iterator<Item = &T> {
        self.down.iter().map(|held| &held.2)
    }

    /// Forgets the presses for which `keep` returns false.
    pub fn retain(&mut self, mut keep: impl FnMut(&T) -> bool) {
        self.down.retain(|held| keep(&held.2));
    }

    /// Removes all presses, oldest first.
    pub fn drain(&mut self) -> impl Iterator<Item = T> + '_ {
        self.down.drain(..).map(|held| held.2)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_release_ends_the_first_press() {
        let (channel, key) = (Channel::default(), U7::low_bits(60));
        let mut pairing = Pairing::default();
        pairing.press(channel, key, 'a');
        pairing.press(channel, key, 'b');
        let first = pairing.release(channel, key, Tick(96), U7::CENTRE).unwrap();
        assert_eq!((first.tag, first.end), ('a', Tick(96)));
        assert_eq!(pairing.held().collect::<Vec<_>>(), [&'b']);
        assert!(pairing.release(Channel::PERCUSSION, key, Tick(97), U7::CENTRE).is_none());
    }

    #[test]
    fn presses_that_are_down_are_forgotten_or_taken_oldest_first() {
        let mut pairing = Pairing::default();
        for (key, tag) in [(60, 'a'), (64, 'b'), (60, 'c')] {
            pairing.press(Channel::default(), U7::low_bits(key), tag);
        }
        assert_eq!(pairing.held().collect::<String>(), "abc");
        pairing.retain(|&tag| tag != 'b');
        assert_eq!(pairing.drain().collect::<String>(), "ac");
        assert_eq!(pairing.held().count(), 0);
    }
}
