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
        self.set_rounds(self.how.rounds.next())?;
        self.say(String::from(match self.how.rounds {
            Rounds::All => "keep rounds: all: every round of a take is a layer",
            Rounds::Newest => "keep rounds: newest: each round with notes mutes the one before",
            Rounds::One => "keep rounds: one pass: the whole take is one pass, as long as it lasts",
        }));
        Ok(())
    }

    pub(super) fn next_click(&mut self, now: Ns) -> Result<(), Refused> {
        self.set_click(now, self.how.click.next())?;
        self.say(String::from(match self.how.click {
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
