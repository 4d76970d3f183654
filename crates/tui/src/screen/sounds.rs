//! The choice of a track's sound, heard while choosing.
//!
//! What is heard on the way is no part of the song: the song changes once, when a sound is taken.

use super::{Effect, Screen};
use crate::desk::View;
use crate::input::{Code, Key};
use crate::keymap::Action;
use crate::sounds;
use chaconne_engine::Command;
use chaconne_song::{Track, TrackId, U7};

/// The choice of a sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoundPick {
    /// Whose sound.
    pub track: TrackId,
    /// Whether it is a drum track.
    pub drums: bool,
    /// The program it is at.
    pub at: Option<U7>,
    /// What was typed so far.
    pub typed: String,
    /// Whether another sound than the song's has been heard.
    heard: bool,
}

impl SoundPick {
    /// No program, and 128 of them.
    pub const PLACES: usize = 129;
    /// Programs come in families of eight (General MIDI System Level 1).
    const FAMILY: usize = 8;
    /// The most that can be typed, in characters; no name is longer.
    const LONGEST: usize = 24;

    /// Opens at what the track is set to.
    pub fn new(track: &Track) -> SoundPick {
        SoundPick {
            track: track.id,
            drums: !track.pitched,
            at: track.program,
            typed: String::new(),
            heard: false,
        }
    }

    /// Where it is in the list: 0 for none, else the program's number.
    pub fn place(&self) -> usize {
        self.at.map_or(0, |program| usize::from(program.get()) + 1)
    }

    /// The program at a place of the list.
    pub fn at_place(place: usize) -> Option<U7> {
        place.checked_sub(1).and_then(|program| U7::new(program as u8))
    }

    /// Whether what was typed means nothing.
    pub fn is_unknown(&self) -> bool {
        self.found().is_err()
    }

    fn found(&self) -> Result<Option<U7>, String> {
        sounds::find(&self.typed, self.drums)
    }

    fn step(&mut self, code: Code) {
        let (place, last) = (self.place(), Self::PLACES - 1);
        let to = match code {
            Code::Up => place.saturating_sub(1),
            Code::Down => place + 1,
            Code::PageUp => place.saturating_sub(Self::FAMILY),
            Code::PageDown => place + Self::FAMILY,
            Code::Home => 0,
            _ => last,
        };
        self.at = Self::at_place(to.min(last));
        self.typed.clear();
    }

    fn type_key(&mut self, key: &Key) {
        match key.code {
            Code::Char(c) if !key.ctrl && !key.alt && self.typed.len() < Self::LONGEST => {
                self.typed.push(c);
            }
            Code::Backspace => {
                self.typed.pop();
            }
            _ => return,
        }
        if let (false, Ok(found)) = (self.typed.trim().is_empty(), self.found()) {
            self.at = found;
        }
    }

    /// Has the sound heard. Without a program an instrument sounds as it does with the first one.
    fn hear(&mut self, out: &mut Vec<Effect>) {
        self.heard = true;
        let program = self.at.or_else(|| Self::at_place(1));
        out.push(Effect::Command(Command::Audition(self.track, program)));
    }
}

impl Screen {
    pub(super) fn act_on_sounds(
        &mut self,
        action: Action,
        key: &Key,
        view: &View,
        out: &mut Vec<Effect>,
    ) {
        let Some(mut pick) = self.sounds.take() else { return };
        let Some(track) = view.status.song.track(pick.track) else { return };
        match action {
            Action::Move => {
                let before = pick.at;
                pick.step(key.code);
                if pick.at != before {
                    pick.hear(out);
                }
                self.sounds = Some(pick);
            }
            Action::Clear => {
                pick.typed.clear();
                self.sounds = Some(pick);
            }
            Action::Accept => match pick.found() {
                Err(error) => {
                    self.complain(&error);
                    self.sounds = Some(pick);
                }
                Ok(_) if pick.at != track.program => {
                    out.push(Effect::Command(Command::Program(pick.track, pick.at)));
                }
                Ok(_) => end_audition(&pick, out),
            },
            _ => end_audition(&pick, out),
        }
    }

    /// Takes a key of a name or a number.
    pub(super) fn type_sound(&mut self, key: &Key, out: &mut Vec<Effect>) {
        let Some(pick) = &mut self.sounds else { return };
        let before = pick.at;
        pick.type_key(key);
        if pick.at != before {
            pick.hear(out);
        }
    }
}

fn end_audition(pick: &SoundPick, out: &mut Vec<Effect>) {
    if pick.heard {
        out.push(Effect::Command(Command::Audition(pick.track, None)));
    }
}
