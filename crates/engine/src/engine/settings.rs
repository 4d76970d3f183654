//! The settings of recording that a player moves on by a key or a pedal, and what each means.

use super::{Engine, Refused};
use crate::{Click, Mode, Rounds};
use chaconne_time::Ns;

impl Engine {
    pub(super) fn next_mode(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_mode(now, self.mode.next())?;
        self.say(String::from(match self.mode {
            Mode::Layer => "new pass: add: it plays together with the layers under it",
            Mode::Replace => {
                "new pass: replace: from your first note on, each bar you record silences the track's \
                 layers under it"
            }
            Mode::Punch => "new pass: punch: all you record silences the track's layers under it",
        }));
        Ok(())
    }

    pub(super) fn next_rounds(&mut self) -> Result<(), Refused> {
        self.set_rounds(self.rounds.next())?;
        self.say(String::from(match self.rounds {
            Rounds::All => "keep rounds: all: every round of a take is a layer",
            Rounds::Newest => "keep rounds: newest: each round with notes mutes the one before",
            Rounds::One => "keep rounds: one pass: the whole take is one pass, as long as it lasts",
        }));
        Ok(())
    }

    pub(super) fn next_click(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_click(now, self.click.next())?;
        self.say(String::from(match self.click {
            Click::CountIn => "click: only in the count-in",
            Click::Recording => "click: in the count-in and while you record",
            Click::Always => "click: always, while the song plays",
        }));
        Ok(())
    }

    pub(super) fn choose_count_in(&mut self, bars: u8) -> Result<(), Refused> {
        self.set_count_in(bars)?;
        self.say(match bars {
            0 => "no count-in: recording begins at once".to_string(),
            1 => "one bar of count-in, when you record from a stop".to_string(),
            bars => format!("{bars} bars of count-in, when you record from a stop"),
        });
        Ok(())
    }

    /// Says that everything was silenced, and what goes on.
    pub(super) fn say_silenced(&mut self) {
        self.say(String::from(match (self.transport.rolls(), self.recorder.takes()) {
            (true, true) => {
                "silenced everything that was sounding: the song and the recording go on"
            }
            (true, false) => "silenced everything that was sounding: the song plays on",
            (false, _) => "silenced everything that was sounding",
        }));
    }
}
