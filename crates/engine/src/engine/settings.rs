//! The settings of recording that a player moves on by a key or a pedal, and what each means.

use super::{Engine, Refused};
use crate::{Click, Mode, Rounds};
use chaconne_time::Ns;

/// The settings of recording. They are not part of the song, and with each song they are as at the start
/// of the program.
#[derive(Debug, Clone, Copy)]
pub(super) struct HowToRecord {
    /// What a new pass does to the layers under it.
    pub mode: Mode,
    /// Which rounds of a take are kept.
    pub rounds: Rounds,
    /// When the click is heard.
    pub click: Click,
    /// The length of the count-in in bars, 0..=4.
    pub count_in: u8,
}

impl Default for HowToRecord {
    fn default() -> HowToRecord {
        let (mode, rounds, click) = (Mode::default(), Rounds::default(), Click::default());
        HowToRecord { mode, rounds, click, count_in: 1 }
    }
}

impl Engine {
    pub(super) fn next_mode(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_mode(now, self.how.mode.next())?;
        self.say(String::from(match self.how.mode {
            Mode::Layer => "a new pass plays together with the layers under it",
            Mode::Replace => {
                "a new pass replaces bar by bar: from your first note in a bar to its end, the track's layers under it \
                 are silent"
            }
            Mode::Punch => "a new pass punches in: while you record, the track's layers under it are silent",
        }));
        Ok(())
    }

    pub(super) fn next_rounds(&mut self) -> Result<(), Refused> {
        self.set_rounds(self.how.rounds.next())?;
        self.say(String::from(match self.how.rounds {
            Rounds::All => "all rounds of a take are kept: each one with notes adds a layer",
            Rounds::Newest => {
                "the newest round of a take is kept: each one with notes mutes the one before"
            }
            Rounds::One => "the whole take is kept as one pass, as long as it lasts",
        }));
        Ok(())
    }

    pub(super) fn next_click(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_click(now, self.how.click.next())?;
        self.say(String::from(match self.how.click {
            Click::CountIn => "the click plays only in the count-in",
            Click::Recording => "the click plays in the count-in and while you record",
            Click::Always => "the click plays the whole time",
        }));
        Ok(())
    }

    pub(super) fn next_repeat(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_repeat(now, !self.repeats)?;
        self.say(String::from(match self.repeats {
            true => "the form starts again when it ends",
            false => "the form stops when it ends",
        }));
        Ok(())
    }

    pub(super) fn choose_count_in(&mut self, bars: u8) -> Result<(), Refused> {
        self.set_count_in(bars)?;
        self.say(match bars {
            0 => "no count-in: recording begins at once".to_string(),
            1 => "one bar of count-in when you record from a stop".to_string(),
            bars => format!("{bars} bars of count-in when you record from a stop"),
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
