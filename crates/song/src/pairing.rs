//! Presses and releases into notes: one rule for live input and for files.

use crate::{Channel, U7};
use chaconne_time::Tick;
use std::collections::VecDeque;

/// A press that has met its release, or the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paired<T> {
    /// What the caller gave with the press.
    pub tag: T,
    /// When the release came.
    pub end: Tick,
    /// The release velocity.
    pub release: U7,
}

/// The keys now down, first in first out for each channel and key: of two presses of one key,
/// the first release ends the first.
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
    /// A key goes down.
    pub fn press(&mut self, channel: Channel, key: U7, tag: T) {
        self.down.push_back((channel, key, tag));
    }

    /// A key is let go; `None` where it was not down.
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

    /// What is still down, oldest first.
    pub fn held(&self) -> impl Iterator<Item = &T> {
        self.down.iter().map(|held| &held.2)
    }

    /// Forgets what `keep` refuses.
    pub fn retain(&mut self, mut keep: impl FnMut(&T) -> bool) {
        self.down.retain(|held| keep(&held.2));
    }

    /// Lets everything go at once.
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
}
