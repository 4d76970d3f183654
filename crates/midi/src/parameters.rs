//! Assembles registered and non-registered parameters from control changes (MIDI 1.0, "RPN" and
//! "NRPN"): 101/100 or 99/98 select a parameter, 6 and 38 set it, 96 and 97 step it.

use crate::{Channel, Control, U7, U14};

/// What one control change meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gathered {
    /// An ordinary controller.
    Plain,
    /// Part of a parameter, but no value has changed yet.
    Part,
    /// A parameter has this new value.
    Moved(Control, U14),
}

/// The parameter a channel has selected, and the value last entered.
#[derive(Debug, Clone, Copy, Default)]
struct Choice {
    registered: bool,
    msb: Option<U7>,
    lsb: Option<U7>,
    value: U14,
}

impl Choice {
    fn control(&self) -> Option<Control> {
        let (msb, lsb) = (self.msb?, self.lsb?);
        if msb == U7::MAX && lsb == U7::MAX {
            return None;
        }
        let number = U14::from_parts(msb, lsb);
        let registered = self.registered;
        Some(if registered { Control::Registered(number) } else { Control::NonRegistered(number) })
    }
}

/// The selected parameter and entered value of every channel.
#[derive(Debug, Clone, Default)]
pub struct Parameters {
    choices: [Choice; 16],
}

impl Parameters {
    /// Reads one control change.
    pub fn gather(&mut self, channel: Channel, controller: U7, value: U7) -> Gathered {
        let choice = &mut self.choices[usize::from(channel.wire())];
        let number = controller.get();
        if (98..=101).contains(&number) {
            let registered = number >= 100;
            if choice.registered != registered {
                *choice = Choice { registered, ..Choice::default() };
            }
            let half = if number % 2 == 1 { &mut choice.msb } else { &mut choice.lsb };
            *half = Some(value);
            choice.value = U14::default();
            return Gathered::Part;
        }
        let Some(control) = choice.control() else { return Gathered::Plain };
        let now = choice.value;
        choice.value = match number {
            6 => U14::from_parts(value, U7::MIN),
            38 => U14::from_parts(now.msb(), value),
            96 => U14::new(now.get() + 1).unwrap_or(now),
            97 => U14::new(now.get().saturating_sub(1)).unwrap_or(now),
            _ => return Gathered::Plain,
        };
        Gathered::Moved(control, choice.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_range_is_gathered_and_the_null_number_closes_it() {
        // MIDI 1.0, "RPN": bend range 12 semitones, then the null number 7F 7F.
        let mut parameters = Parameters::default();
        let mut put = |number, value| {
            parameters.gather(Channel::default(), U7::low_bits(number), U7::low_bits(value))
        };
        assert_eq!(put(101, 0), Gathered::Part);
        assert_eq!(put(100, 0), Gathered::Part);
        let range = Control::Registered(U14::default());
        assert_eq!(put(6, 12), Gathered::Moved(range, U14::new(12 * 128).unwrap()));
        assert_eq!(put(38, 5), Gathered::Moved(range, U14::new(12 * 128 + 5).unwrap()));
        assert_eq!(put(96, 0), Gathered::Moved(range, U14::new(12 * 128 + 6).unwrap()));
        assert_eq!(put(97, 0), Gathered::Moved(range, U14::new(12 * 128 + 5).unwrap()));
        assert_eq!(put(7, 100), Gathered::Plain);
        put(101, 127);
        put(100, 127);
        assert_eq!(put(6, 3), Gathered::Plain);
    }

    #[test]
    fn only_both_bytes_at_127_are_the_null_number() {
        for (msb, lsb) in [(127, 5), (5, 127)] {
            let mut parameters = Parameters::default();
            let mut put = |number, value| {
                parameters.gather(Channel::default(), U7::low_bits(number), U7::low_bits(value))
            };
            put(99, msb);
            put(98, lsb);
            let number = U14::from_parts(U7::low_bits(msb), U7::low_bits(lsb));
            let entered = U14::new(3 * 128).unwrap();
            assert_eq!(put(6, 3), Gathered::Moved(Control::NonRegistered(number), entered));
        }
    }
}
