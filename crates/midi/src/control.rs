//! The values a channel has besides its notes: program, controllers, bend, pressure, parameters.

use crate::{U7, U14};
use std::fmt;

/// A value that a channel (or one of its keys) holds and a message can change. Values are 0..=127,
/// except for bend and the parameters: 0..=16383.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Control {
    /// A program change.
    Program,
    /// A control change 0..=119.
    Change(U7),
    /// Pitch bend, centre 8192.
    Bend,
    /// Channel pressure.
    Pressure,
    /// Polyphonic pressure of one key.
    KeyPressure(U7),
    /// A registered parameter (RPN) with its number; sent whole, as one group.
    Registered(U14),
    /// A non-registered parameter (NRPN) with its number; sent whole, as one group.
    NonRegistered(U14),
}

impl Control {
    /// The usual name of a common controller (MIDI 1.0, table III, "Controller Numbers").
    pub fn name(self) -> Option<&'static str> {
        let Control::Change(number) = self else { return None };
        Some(match number.get() {
            1 => "modulation",
            2 => "breath",
            4 => "foot pedal",
            7 => "volume",
            10 => "pan",
            11 => "expression",
            64 => "sustain pedal",
            66 => "sostenuto pedal",
            67 => "soft pedal",
            _ => return None,
        })
    }
}

impl fmt::Display for Control {
    /// The form used in song files: `change 64`, `key pressure 60`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Control::Program => f.write_str("program"),
            Control::Change(number) => write!(f, "change {number}"),
            Control::Bend => f.write_str("bend"),
            Control::Pressure => f.write_str("pressure"),
            Control::KeyPressure(key) => write!(f, "key pressure {key}"),
            Control::Registered(number) => write!(f, "registered {number}"),
            Control::NonRegistered(number) => write!(f, "non-registered {number}"),
        }
    }
}

impl Control {
    /// The sustain pedal, control change 64.
    pub const SUSTAIN: Control = Control::Change(U7::low_bits(64));
    /// Channel volume, control change 7.
    pub const VOLUME: Control = Control::Change(U7::low_bits(7));
    /// Pan, control change 10.
    pub const PAN: Control = Control::Change(U7::low_bits(10));

    /// The highest value this control can take.
    pub fn highest(self) -> u16 {
        match self {
            Control::Bend | Control::Registered(_) | Control::NonRegistered(_) => U14::MAX.get(),
            _ => 127,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// MIDI 1.0, table III, "Controller Numbers".
    #[test]
    fn common_controllers_have_their_usual_names() {
        let names = [
            (1, "modulation"),
            (2, "breath"),
            (4, "foot pedal"),
            (7, "volume"),
            (10, "pan"),
            (11, "expression"),
            (64, "sustain pedal"),
            (66, "sostenuto pedal"),
            (67, "soft pedal"),
        ];
        for number in 0..120 {
            let known = names.iter().find(|(known, _)| *known == number).map(|&(_, name)| name);
            assert_eq!(Control::Change(U7::low_bits(number)).name(), known, "{number}");
        }
        assert_eq!(Control::Bend.name(), None);
    }

    #[test]
    fn a_control_is_written_as_in_a_song() {
        let key = Control::KeyPressure(U7::low_bits(60));
        let parameter = Control::NonRegistered(U14::CENTRE);
        let written = [Control::Program, Control::SUSTAIN, key, parameter].map(|c| c.to_string());
        assert_eq!(written, ["program", "change 64", "key pressure 60", "non-registered 8192"]);
    }
}
