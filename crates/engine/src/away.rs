//! The controllers that are away from rest, on every channel of every port.
//!
//! In: the controller messages of song and player. Out: the messages to send for them, because both
//! have a foot on the sustain pedal; and at an end, the messages that bring everything to rest, in a
//! fixed order: sustain, sostenuto, soft, bend, pressure, key pressure, modulation.
//!
//! Nothing is allocated after [`Away::new`].

use crate::{Message, PortIx};
use chaconne_song::{Channel, Control, U7, U14};

/// Who moves a controller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// The song.
    Song,
    /// The player, through-played.
    Live,
}

const MODULATION: U7 = U7::low_bits(1);
const SUSTAIN: U7 = U7::low_bits(64);
const SOSTENUTO: U7 = U7::low_bits(66);
const SOFT: U7 = U7::low_bits(67);

/// Whether an end brings a controller to rest.
pub(crate) fn comes_to_rest(control: Control) -> bool {
    match control {
        Control::Bend | Control::Pressure | Control::KeyPressure(_) => true,
        Control::Change(number) => [MODULATION, SUSTAIN, SOSTENUTO, SOFT].contains(&number),
        _ => false,
    }
}

/// The controllers of one channel of one port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Moved {
    /// How far the song holds the sustain pedal down, and how far the player does.
    feet: [U7; 2],
    sostenuto: U7,
    soft: U7,
    modulation: U7,
    bend: U14,
    pressure: U7,
    /// The keys under pressure, a bit each.
    keys: u128,
}

impl Moved {
    const REST: Moved = Moved {
        feet: [U7::MIN; 2],
        sostenuto: U7::MIN,
        soft: U7::MIN,
        modulation: U7::MIN,
        bend: U14::CENTRE,
        pressure: U7::MIN,
        keys: 0,
    };
}

/// All channels of all ports.
#[derive(Debug, Clone)]
pub(crate) struct Away(Box<[Moved]>);

impl Away {
    /// Everything at rest, on this many ports.
    pub fn new(ports: usize) -> Away {
        Away(vec![Moved::REST; ports * 16].into())
    }

    /// Takes a controller message, and returns the message to send for it. The sustain pedal is as far
    /// down as song or player holds it, whichever is further; `None` if that does not change.
    pub fn resolve(&mut self, port: PortIx, message: Message, hand: Hand) -> Option<Message> {
        let Some(moved) = message.channel().and_then(|channel| self.get(port, channel)) else {
            return Some(message);
        };
        match message {
            Message::Bend { value, .. } => moved.bend = value,
            Message::Pressure { value, .. } => moved.pressure = value,
            Message::KeyPressure { key, value, .. } => {
                let bit = 1 << key.get();
                moved.keys = if value == U7::MIN { moved.keys & !bit } else { moved.keys | bit };
            }
            Message::Change { channel, controller: SUSTAIN, value } => {
                let value = moved.step(hand, value)?;
                return Some(Message::Change { channel, controller: SUSTAIN, value });
            }
            Message::Change { controller, value, .. } => {
                if let Some(place) = moved.switch(controller) {
                    *place = value;
                }
            }
            _ => {}
        }
        Some(message)
    }

    /// The next message that brings something to rest; `None` once everything is at rest. The sustain
    /// pedal stays where the hand `spares` holds it.
    pub fn next_rest(&mut self, spares: Option<Hand>) -> Option<(PortIx, Message)> {
        let mut all = self.0.iter_mut().enumerate();
        all.find_map(|(index, moved)| {
            // There are sixteen channels to a port, so the low four bits are the channel.
            let channel = Channel::from_wire(index as u8);
            Some((PortIx((index / 16) as u8), moved.rest(channel, spares)?))
        })
    }

    /// Forgets a port that is gone.
    pub fn lose(&mut self, port: PortIx) {
        let mine = self.0.iter_mut().skip(usize::from(port.0) * 16).take(16);
        mine.for_each(|moved| *moved = Moved::REST);
    }

    fn get(&mut self, port: PortIx, channel: Channel) -> Option<&mut Moved> {
        self.0.get_mut(usize::from(port.0) * 16 + usize::from(channel.wire()))
    }
}

impl Moved {
    /// Moves one foot on the sustain pedal. Returns the value to send, if any.
    fn step(&mut self, hand: Hand, value: U7) -> Option<U7> {
        let (mine, other) = (hand as usize, 1 - hand as usize);
        let before = self.feet[mine].max(self.feet[other]);
        self.feet[mine] = value;
        let now = value.max(self.feet[other]);
        (self.feet[other] == U7::MIN || now != before).then_some(now)
    }

    fn switch(&mut self, controller: U7) -> Option<&mut U7> {
        match controller {
            MODULATION => Some(&mut self.modulation),
            SOSTENUTO => Some(&mut self.sostenuto),
            SOFT => Some(&mut self.soft),
            _ => None,
        }
    }

    /// The next message that brings something to rest; `None` if everything is at rest.
    fn rest(&mut self, channel: Channel, spares: Option<Hand>) -> Option<Message> {
        let change = |controller, value| Some(Message::Change { channel, controller, value });
        if let Some(value) = self.lift(spares) {
            return change(SUSTAIN, value);
        }
        for controller in [SOSTENUTO, SOFT] {
            if let Some(place) = self.switch(controller).filter(|place| **place != U7::MIN) {
                *place = U7::MIN;
                return change(controller, U7::MIN);
            }
        }
        if self.bend != U14::CENTRE {
            self.bend = U14::CENTRE;
            return Some(Message::Bend { channel, value: U14::CENTRE });
        }
        if self.pressure != U7::MIN {
            self.pressure = U7::MIN;
            return Some(Message::Pressure { channel, value: U7::MIN });
        }
        if self.keys != 0 {
            let key = U7::low_bits(self.keys.trailing_zeros() as u8);
            self.keys &= self.keys - 1;
            return Some(Message::KeyPressure { channel, key, value: U7::MIN });
        }
        if self.modulation != U7::MIN {
            self.modulation = U7::MIN;
            return change(MODULATION, U7::MIN);
        }
        None
    }

    /// Lifts the feet from the sustain pedal, but not the one that is spared. Returns the value to send,
    /// if any: the spared foot may hold the pedal as far down as both did.
    fn lift(&mut self, spares: Option<Hand>) -> Option<U7> {
        let before = self.feet[0].max(self.feet[1]);
        for hand in [Hand::Song, Hand::Live].into_iter().filter(|&hand| spares != Some(hand)) {
            self.feet[hand as usize] = U7::MIN;
        }
        let now = self.feet[0].max(self.feet[1]);
        (now != before).then_some(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(controller: U7, value: u8) -> Message {
        let value = U7::low_bits(value);
        Message::Change { channel: Channel::default(), controller, value }
    }

    #[test]
    fn the_pedal_comes_up_only_when_song_and_player_both_lift_it() {
        let mut away = Away::new(1);
        let mut step = |hand, value| away.resolve(PortIx(0), change(SUSTAIN, value), hand);
        assert_eq!(step(Hand::Song, 127), Some(change(SUSTAIN, 127)));
        assert_eq!(step(Hand::Live, 127), None);
        assert_eq!(step(Hand::Live, 0), None);
        assert_eq!(step(Hand::Live, 80), None);
        assert_eq!(step(Hand::Song, 0), Some(change(SUSTAIN, 80)));
        assert_eq!(step(Hand::Live, 0), Some(change(SUSTAIN, 0)));
        assert_eq!(step(Hand::Live, 0), Some(change(SUSTAIN, 0)), "a foot alone passes through");
    }

    #[test]
    fn an_end_lifts_the_songs_foot_from_a_pedal_that_the_player_holds_as_far_down() {
        let mut away = Away::new(1);
        away.resolve(PortIx(0), change(SUSTAIN, 90), Hand::Song);
        away.resolve(PortIx(0), change(SUSTAIN, 127), Hand::Live);
        assert_eq!(away.next_rest(Some(Hand::Live)), None);
        let lifted = away.resolve(PortIx(0), change(SUSTAIN, 0), Hand::Live);
        assert_eq!(lifted, Some(change(SUSTAIN, 0)));
    }

    #[test]
    fn pedals_wheels_and_pressure_come_to_rest_and_settings_do_not() {
        let (channel, key, most) = (Channel::default(), U7::low_bits(60), U7::MAX);
        let mut moves: Vec<Message> =
            (0..120).map(|number| change(U7::low_bits(number), 127)).collect();
        moves.push(Message::Bend { channel, value: U14::MAX });
        moves.push(Message::Pressure { channel, value: most });
        moves.push(Message::KeyPressure { channel, key, value: most });
        moves.push(Message::Program { channel, program: most });
        let rests = |message: &Message| {
            let mut away = Away::new(1);
            away.resolve(PortIx(0), *message, Hand::Song);
            let rests = away.next_rest(None).is_some();
            assert_eq!(comes_to_rest(message.control().unwrap().0), rests, "{message:?}");
            rests
        };
        let resting: Vec<Message> = moves.into_iter().filter(rests).collect();
        let switches = [MODULATION, SUSTAIN, SOSTENUTO, SOFT].map(|number| change(number, 127));
        assert_eq!(resting[..4], switches);
        assert_eq!(resting.len(), 7);
    }

    #[test]
    fn a_port_that_is_gone_takes_only_its_own_channels_to_rest() {
        let mut away = Away::new(3);
        let bend = |channel| Message::Bend { channel, value: U14::default() };
        let ends = [Channel::from_wire(0), Channel::from_wire(15)];
        for port in [0, 1, 2] {
            for channel in ends {
                away.resolve(PortIx(port), bend(channel), Hand::Song);
            }
        }
        away.lose(PortIx(1));
        let centred = |channel| Message::Bend { channel, value: U14::CENTRE };
        let rests: Vec<_> = std::iter::from_fn(|| away.next_rest(None)).take(9).collect();
        let expected = [0, 2].map(|port| ends.map(|channel| (PortIx(port), centred(channel))));
        assert_eq!(rests, expected.concat());
    }

    #[test]
    fn a_key_is_under_pressure_until_its_pressure_is_zero() {
        let channel = Channel::default();
        let press = |key, value| Message::KeyPressure {
            channel,
            key: U7::low_bits(key),
            value: U7::low_bits(value),
        };
        let mut away = Away::new(1);
        for message in [press(0, 5), press(60, 9), press(127, 1), press(60, 3), press(0, 0)] {
            assert_eq!(away.resolve(PortIx(0), message, Hand::Live), Some(message));
        }
        let rests: Vec<_> = std::iter::from_fn(|| away.next_rest(None)).take(9).collect();
        assert_eq!(rests, [press(60, 0), press(127, 0)].map(|message| (PortIx(0), message)));
    }

    #[test]
    fn controllers_go_to_rest_in_a_fixed_order_and_the_players_foot_can_stay() {
        let channel = Channel::default();
        let mut away = Away::new(2);
        let key = U7::low_bits(60);
        let value = U7::low_bits(9);
        let all = [
            change(MODULATION, 5),
            Message::KeyPressure { channel, key, value },
            Message::Pressure { channel, value },
            Message::Bend { channel, value: U14::default() },
            change(SOFT, 1),
            change(SOSTENUTO, 1),
            change(SUSTAIN, 100),
            change(U7::low_bits(7), 30),
        ];
        for message in all {
            assert_eq!(away.resolve(PortIx(1), message, Hand::Song), Some(message));
        }
        away.resolve(PortIx(1), change(SUSTAIN, 70), Hand::Live);
        let halted = std::iter::from_fn(|| away.next_rest(Some(Hand::Live))).take(9);
        let rest = [
            change(SUSTAIN, 70),
            change(SOSTENUTO, 0),
            change(SOFT, 0),
            Message::Bend { channel, value: U14::CENTRE },
            Message::Pressure { channel, value: U7::MIN },
            Message::KeyPressure { channel, key, value: U7::MIN },
            change(MODULATION, 0),
        ];
        assert_eq!(halted.collect::<Vec<_>>(), rest.map(|message| (PortIx(1), message)));
        assert_eq!(away.next_rest(None), Some((PortIx(1), change(SUSTAIN, 0))));
        assert_eq!(away.next_rest(None), None);
    }
}
