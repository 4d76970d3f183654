//! The keys that are down, for the name of the chord that is held.
//!
//! In: what is played, also while stopped. Out: the keys that were down at the latest press, which stay until the
//! next one, so that a chord can be read, and picked up, after the hands have left it.

use crate::{Input, Message, Wire};
use chaconne_song::{Channel, U7};
use std::collections::BTreeSet;
use std::sync::Arc;

#[derive(Debug, Clone, Default)]
pub(super) struct Struck {
    /// By input.
    down: BTreeSet<(u8, Channel, U7)>,
    /// The keys at the latest press, lowest first, each once.
    keys: Arc<[U7]>,
}

impl Struck {
    /// Takes what was played on an input.
    pub fn take(&mut self, source: u8, input: &Input) {
        match *input {
            Input::Heard(Wire::Message(Message::NoteOn { channel, key, .. })) => {
                self.down.insert((source, channel, key));
                let keys: BTreeSet<U7> = self.down.iter().map(|&(.., key)| key).collect();
                self.keys = keys.into_iter().collect();
            }
            Input::Heard(Wire::Message(Message::NoteOff { channel, key, .. })) => {
                self.down.remove(&(source, channel, key));
            }
            Input::Lost => self.down.retain(|&(of, ..)| of != source),
            Input::Heard(_) => {}
        }
    }

    /// The keys at the latest press, lowest first.
    pub fn keys(&self) -> &Arc<[U7]> {
        &self.keys
    }

    /// Whether any key is down.
    pub fn holds(&self) -> bool {
        !self.down.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(key: u8) -> Input {
        let (channel, velocity) = (Channel::default(), U7::CENTRE);
        Message::NoteOn { channel, key: U7::low_bits(key), velocity }.into()
    }

    fn off(key: u8) -> Input {
        let (channel, velocity) = (Channel::default(), U7::CENTRE);
        Message::NoteOff { channel, key: U7::low_bits(key), velocity }.into()
    }

    fn after(deeds: &[(u8, Input)]) -> (Vec<u8>, bool) {
        let mut struck = Struck::default();
        deeds.iter().for_each(|(source, input)| struck.take(*source, input));
        (struck.keys().iter().map(|key| key.get()).collect(), struck.holds())
    }

    #[test]
    fn a_chord_stays_until_the_next_press() {
        let chord = [(0, on(67)), (0, on(60)), (1, on(64)), (1, on(60))];
        assert_eq!(after(&chord), (vec![60, 64, 67], true));
        let let_go = [(0, off(67)), (0, off(60)), (1, Input::Lost)];
        let all = [&chord[..], &let_go].concat();
        assert_eq!(after(&all), (vec![60, 64, 67], false));
        assert_eq!(after(&[&all[..], &[(0, on(72))]].concat()), (vec![72], true));
    }
}
