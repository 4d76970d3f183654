//! The key, pad or pedal for tapping the tempo.
//!
//! In: the messages of an input. Out: for each, whether it belongs to that control, and whether it
//! is a tap: a key going down, or a controller rising to 64 or more. Everything from the control is
//! used up, its releases too: neither recorded nor passed on.

use chaconne_engine::Message;
use chaconne_song::{Channel, U7};
use std::fmt;
use std::str::FromStr;

/// From this value up, a switch is on (MIDI 1.0 Detailed Specification, "Control Change":
/// 0 to 63 is off, 64 to 127 on).
const ON: U7 = U7::CENTRE;

/// The control for tapping: `note:KEY` or `cc:NUMBER`, on one channel if `@CHANNEL` follows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TapControl {
    /// The key or the controller.
    pub what: Tapped,
    /// The channel; `None` for any.
    pub channel: Option<Channel>,
}

/// The kind of control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tapped {
    /// A key or pad, by its number.
    Key(U7),
    /// A pedal or button, by the number of its controller.
    Controller(U7),
}

impl FromStr for TapControl {
    type Err = String;

    fn from_str(text: &str) -> Result<TapControl, String> {
        let wrong = || {
            format!(
                "'{text}' is not a control for tapping: write note:KEY or cc:NUMBER (0 to 127), followed by \
                 @CHANNEL (1 to 16) for one channel only"
            )
        };
        let (what, channel) = match text.split_once('@') {
            Some((what, channel)) => (what, Some(number(channel).ok_or_else(wrong)?)),
            None => (text, None),
        };
        let channel = channel.map(|channel| Channel::from_number(channel).ok_or_else(wrong));
        let (kind, of) = what.split_once(':').ok_or_else(wrong)?;
        let of = number(of).and_then(U7::new).ok_or_else(wrong)?;
        let what = match kind {
            "note" => Tapped::Key(of),
            "cc" => Tapped::Controller(of),
            _ => return Err(wrong()),
        };
        Ok(TapControl { what, channel: channel.transpose()? })
    }
}

/// A number without a sign.
fn number(text: &str) -> Option<u8> {
    text.bytes().all(|byte| byte.is_ascii_digit()).then(|| text.parse().ok())?
}

impl fmt::Display for TapControl {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.what {
            Tapped::Key(key) => write!(f, "note:{key}")?,
            Tapped::Controller(controller) => write!(f, "cc:{controller}")?,
        }
        self.channel.map_or(Ok(()), |channel| write!(f, "@{}", channel.number()))
    }
}

/// What a message means for the control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Meaning {
    /// It comes from something else.
    Other,
    /// It comes from the control, and is used up.
    UsedUp,
    /// It is a tap, and used up; a key or pad says how hard it was struck.
    Tap(Option<U7>),
}

/// Watches one input for the control.
#[derive(Debug, Clone)]
pub(crate) struct TapWatch {
    control: TapControl,
    /// Whether the controller is on, on each channel.
    on: [bool; 16],
}

impl TapWatch {
    pub fn new(control: TapControl) -> TapWatch {
        TapWatch { control, on: [false; 16] }
    }

    /// Forgets held pedals, because the input was lost.
    pub fn lost(&mut self) {
        self.on = [false; 16];
    }

    /// Judges the next message of the input.
    pub fn look(&mut self, message: Message) -> Meaning {
        let (channel, what) = match message {
            Message::NoteOn { channel, key, .. }
            | Message::NoteOff { channel, key, .. }
            | Message::KeyPressure { channel, key, .. } => (channel, Tapped::Key(key)),
            Message::Change { channel, controller, .. } => {
                (channel, Tapped::Controller(controller))
            }
            _ => return Meaning::Other,
        };
        if what != self.control.what || self.control.channel.is_some_and(|only| only != channel) {
            return Meaning::Other;
        }
        match message {
            Message::NoteOn { velocity, .. } => Meaning::Tap(Some(velocity)),
            Message::Change { value, .. } => {
                let on = &mut self.on[usize::from(channel.wire())];
                let was = std::mem::replace(on, value >= ON);
                if *on && !was { Meaning::Tap(None) } else { Meaning::UsedUp }
            }
            _ => Meaning::UsedUp,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn control(text: &str) -> TapControl {
        text.parse().unwrap()
    }

    #[test]
    fn a_control_is_read_as_it_is_written() {
        for text in ["cc:64", "note:36@10", "note:0", "cc:127@1", "note:127@16"] {
            assert_eq!(control(text).to_string(), text);
        }
    }

    #[test]
    fn an_error_says_what_would_be_right() {
        let wrong = ["", "cc", "cc:", "cc:128", "note:-1", "note:36@0", "note:36@17", "cc:64@"];
        for text in wrong.into_iter().chain(["key:3", "cc:+64", "cc:64@1@2", "NOTE:1", "cc:999"]) {
            let error = text.parse::<TapControl>().unwrap_err();
            assert!(
                error.starts_with(&format!("'{text}' is not a control for tapping")),
                "{error}"
            );
        }
    }

    /// What each of the messages, given as bytes, means for a control: T (a tap), u (used up) or a
    /// dot.
    fn meanings(text: &str, messages: &[[u8; 3]]) -> String {
        let mut watch = TapWatch::new(control(text));
        let look = |bytes: &[u8; 3]| match watch.look(message(*bytes)) {
            Meaning::Other => '.',
            Meaning::UsedUp => 'u',
            Meaning::Tap(_) => 'T',
        };
        messages.iter().map(look).collect()
    }

    fn message([status, first, second]: [u8; 3]) -> Message {
        let channel = Channel::from_wire(status & 15);
        let (key, value) = (U7::low_bits(first), U7::low_bits(second));
        match (status >> 4, second) {
            (9, 1..) => Message::NoteOn { channel, key, velocity: value },
            (8 | 9, _) => Message::NoteOff { channel, key, velocity: value },
            (10, _) => Message::KeyPressure { channel, key, value },
            _ => Message::Change { channel, controller: key, value },
        }
    }

    #[test]
    fn a_key_taps_when_it_goes_down_and_all_its_messages_are_used_up() {
        let pad = [[0x99, 36, 90], [0xA9, 36, 5], [0x89, 36, 64], [0x99, 36, 1], [0x99, 36, 0]];
        assert_eq!(meanings("note:36@10", &pad), "TuuTu");
        assert_eq!(meanings("note:36", &pad), "TuuTu");
        assert_eq!(meanings("note:36@9", &pad), ".....");
        assert_eq!(meanings("note:37", &pad), ".....");
        assert_eq!(meanings("cc:36", &pad), ".....");
    }

    #[test]
    fn a_pedal_taps_when_it_reaches_64_on_each_channel_separately() {
        let foot = [0, 63, 64, 100, 127, 64, 63, 64, 0].map(|value| [0xB0, 64, value]);
        assert_eq!(meanings("cc:64", &foot), "uuTuuuuTu");
        let two = [[0xB0, 64, 127], [0xB1, 64, 127], [0xB0, 64, 0], [0xB1, 64, 127]];
        assert_eq!(meanings("cc:64", &two), "TTuu");
        assert_eq!(meanings("cc:64@2", &two), ".T.u");
        assert_eq!(meanings("cc:66", &two), "....");
        // A pedal that was unplugged while it was down taps again.
        let mut watch = TapWatch::new(control("cc:64"));
        let down = message([0xB0, 64, 127]);
        assert_eq!((watch.look(down), watch.look(down)), (Meaning::Tap(None), Meaning::UsedUp));
        watch.lost();
        assert_eq!(watch.look(down), Meaning::Tap(None));
    }
}
