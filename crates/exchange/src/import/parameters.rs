//! Registered parameters: groups of controllers that mean one thing together.
//!
//! In: the controllers of a channel, one after another. Out: the parameter that a data entry
//! sets, and to what (MIDI 1.0, "RPN"): 101/100 or 99/98 choose a number, 6 sets the upper seven
//! bits of its value and clears the lower, 38 sets the lower, 127/127 chooses none.

use chaconne_song::{Control, U7, U14};

/// What a controller meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Heard {
    /// It is no part of a group.
    Plain,
    /// It chooses a parameter.
    Choice,
    /// It sets the chosen parameter.
    Set(Control, U14),
    /// It completes the value that [`Heard::Set`] told just before.
    Amend(Control, U14),
    /// It steps the chosen parameter up or down, by how much each instrument decides.
    Step,
}

/// The parameter chosen on a channel.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Parameters {
    registered: bool,
    msb: Option<U7>,
    lsb: Option<U7>,
    value: Option<U14>,
}

impl Parameters {
    /// Hears a controller.
    pub fn hear(&mut self, controller: U7, value: U7) -> Heard {
        match controller.get() {
            101 => self.choose(true, Some(value), None),
            100 => self.choose(true, None, Some(value)),
            99 => self.choose(false, Some(value), None),
            98 => self.choose(false, None, Some(value)),
            6 => self.enter(U14::from_parts(value, U7::MIN)).map_or(Heard::Plain, |control| {
                Heard::Set(control, U14::from_parts(value, U7::MIN))
            }),
            38 => {
                let amends = self.value.is_some();
                let whole = U14::from_parts(self.value.unwrap_or_default().msb(), value);
                match self.enter(whole) {
                    None => Heard::Plain,
                    Some(control) if amends => Heard::Amend(control, whole),
                    Some(control) => Heard::Set(control, whole),
                }
            }
            96 | 97 if self.chosen().is_some() => Heard::Step,
            _ => Heard::Plain,
        }
    }

    fn choose(&mut self, registered: bool, msb: Option<U7>, lsb: Option<U7>) -> Heard {
        if self.registered != registered {
            *self = Parameters { registered, ..Parameters::default() };
        }
        self.msb = msb.or(self.msb);
        self.lsb = lsb.or(self.lsb);
        self.value = None;
        Heard::Choice
    }

    fn enter(&mut self, value: U14) -> Option<Control> {
        let control = self.chosen()?;
        self.value = Some(value);
        Some(control)
    }

    fn chosen(&self) -> Option<Control> {
        let number = U14::from_parts(self.msb?, self.lsb?);
        if number == U14::MAX {
            return None;
        }
        let kind = if self.registered { Control::Registered } else { Control::NonRegistered };
        Some(kind(number))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(pairs: &[(u8, u8)]) -> Vec<Heard> {
        let mut parameters = Parameters::default();
        let each = pairs.iter().map(|&(a, b)| (U7::new(a).unwrap(), U7::new(b).unwrap()));
        each.map(|(a, b)| parameters.hear(a, b)).collect()
    }

    #[test]
    fn a_bend_range_is_one_move() {
        // MIDI 1.0, "RPN": bend range of 12 semitones, closed by the null number.
        let range = Control::Registered(U14::default());
        let twelve = U14::from_parts(U7::new(12).unwrap(), U7::MIN);
        assert_eq!(
            heard(&[(101, 0), (100, 0), (6, 12), (38, 0), (101, 127), (100, 127), (6, 3)]),
            [
                Heard::Choice,
                Heard::Choice,
                Heard::Set(range, twelve),
                Heard::Amend(range, twelve),
                Heard::Choice,
                Heard::Choice,
                Heard::Plain,
            ]
        );
    }

    #[test]
    fn half_a_choice_chooses_nothing() {
        assert_eq!(heard(&[(99, 1), (6, 5)])[1], Heard::Plain);
        assert_eq!(heard(&[(101, 0), (98, 0), (6, 5)])[2], Heard::Plain);
        assert_eq!(heard(&[(96, 0)]), [Heard::Plain]);
        let one = Control::NonRegistered(U14::from_parts(U7::new(1).unwrap(), U7::new(8).unwrap()));
        assert!(
            matches!(heard(&[(98, 8), (99, 1), (6, 5)])[2], Heard::Set(control, _) if control == one)
        );
    }
}
