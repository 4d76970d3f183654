//! The rows of the key box that transpose the song or the section by semitones, and when.
//!
//! In: the status, and the arrows. Out: by how much and when, in words and as a command.

use crate::chords::sounds_words;
use chaconne_engine::{Command, KeyOf, NewKey, Status, Transport, When};
use chaconne_song::{KeySignature, Section, Transpose};

/// A row that transposes the song or a section.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyStep {
    /// What it transposes.
    pub of: KeyOf,
    /// By how many semitones more than now, or than what is to come.
    pub by: i8,
    /// The transposition that it has or is to get.
    from: Transpose,
    /// What is to come, in words; `None` if nothing is.
    coming: Option<String>,
    /// The key that is written, and by how much everything else transposes it.
    written: (Option<KeySignature>, i32),
}

impl KeyStep {
    /// The rows for the song and a section of it.
    pub fn rows(status: &Status, section: &Section) -> [KeyStep; 2] {
        let (song, own) = (status.song.transpose, section.transpose);
        let row = |of, is: Transpose, written, beside: Transpose| {
            let coming = status.key_change.as_ref().and_then(|coming| {
                let to = *coming.to.get(&of)?;
                Some((to, coming.when))
            });
            KeyStep {
                of,
                by: 0,
                from: coming.map_or(is, |(to, _)| to),
                coming: coming.map(|(to, when)| {
                    format!("{} at the next {}", signed(between(is, to)), when.name())
                }),
                written: (written, i32::from(beside.semitones())),
            }
        };
        let section_key = section.key.or(status.song.key);
        [
            row(KeyOf::Song, song, status.song.key, Transpose::default()),
            row(KeyOf::Section(section.letter), own, section_key, song),
        ]
    }

    /// Steps by a semitone, as far as a transposition goes.
    pub fn step(&mut self, by: i8) {
        let to = |by: i8| self.from.semitones().checked_add(by).and_then(Transpose::new);
        if let Some(by) = self.by.checked_add(by).filter(|&by| to(by).is_some()) {
            self.by = by;
        }
    }

    /// What it transposes, as a name.
    pub fn name(&self) -> String {
        match self.of {
            KeyOf::Song => "the song".into(),
            KeyOf::Section(letter) => format!("section {letter}"),
        }
    }

    /// How far it transposes, and how that sounds.
    pub fn facts(&self) -> String {
        let sounds = self.sounds();
        match (&self.coming, self.by) {
            (Some(coming), 0) => format!("{coming}: {sounds}"),
            (None, 0) => sounds,
            (_, by) => format!("{}: {sounds}", signed(i32::from(by))),
        }
    }

    fn sounds(&self) -> String {
        let (written, beside) = self.written;
        let by = i32::from(self.from.semitones()) + i32::from(self.by) + beside;
        sounds_words(written, by)
    }

    /// What Enter does, while the song plays `when` that is.
    pub fn sentence(&self, when: &str) -> String {
        let name = self.name();
        match self.by {
            0 => format!(
                "The left and right arrows choose by how many semitones to transpose {name}."
            ),
            by => format!(
                "{{confirm}} transposes {name} by {}{when}. It then sounds {}; drums stay.",
                signed(i32::from(by)),
                self.sounds()
            ),
        }
    }

    /// The command; `None` if it changes nothing.
    pub fn command(&self, when: Option<When>) -> Option<Command> {
        (self.by != 0).then_some(Command::Transpose(self.of, NewKey::By(self.by), when))
    }
}

/// When the key box transposes: at a seam, bar or beat while the song plays, else at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeyTime {
    /// The choice; `None` for at once.
    choice: Option<When>,
    /// Whether the song plays.
    plays: bool,
}

impl KeyTime {
    /// At the next seam, where a band changes key.
    pub fn new(status: &Status) -> KeyTime {
        KeyTime { choice: Some(When::Seam), plays: status.transport != Transport::Stopped }
    }

    /// The same choice for another status.
    pub fn at(self, status: &Status) -> KeyTime {
        KeyTime { choice: self.choice, ..KeyTime::new(status) }
    }

    /// Goes to the next choice: seam, bar, beat, now.
    pub fn step(&mut self) {
        self.choice = match self.choice {
            None => Some(When::Seam),
            Some(When::Beat) => None,
            Some(when) => Some(when.next()),
        };
    }

    /// When it is, for the command; `None` for at once.
    pub fn when(self) -> Option<When> {
        self.choice.filter(|_| self.plays)
    }

    /// When it is, in words that follow a verb; nothing while the song is stopped.
    pub fn words(self) -> String {
        match self.choice {
            _ if !self.plays => String::new(),
            None => " now".into(),
            Some(when) => format!(" at the next {}", when.name()),
        }
    }
}

fn between(is: Transpose, to: Transpose) -> i32 {
    i32::from(to.semitones()) - i32::from(is.semitones())
}

/// So many semitones, with their sign.
fn signed(by: i32) -> String {
    format!("{by:+}")
}
