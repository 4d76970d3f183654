//! The choice of a track's sound, heard while choosing.
//!
//! Trying sounds does not change the song; it changes once, when a sound is confirmed.

use super::{Effect, Overlay, Screen};
use crate::action::Move;
use crate::desk::{DeskState, Kits};
use crate::input::{Code, Key};
use crate::sounds::Sounds;
use chaconne_engine::Command;
use chaconne_song::{Track, TrackId, U7};

/// The choice of a sound.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SoundPick {
    /// Whose sound.
    pub track: TrackId,
    /// The sounds to choose from.
    pub sounds: Sounds,
    /// Where it is in the list of [`SoundPick::sounds`].
    pub at: usize,
    /// What was typed so far.
    pub typed: String,
    /// Whether another sound than the song's has been heard.
    heard: bool,
}

impl SoundPick {
    /// Programs come in families of eight (General MIDI System Level 1).
    const FAMILY: usize = 8;
    /// The most that can be typed, in bytes; no name is longer.
    const LONGEST: usize = 24;

    /// Opens at what the track is set to.
    pub fn new(track: &Track, kits: &Kits) -> SoundPick {
        let sounds = Sounds::of(!track.pitched, kits).with(track.program);
        let at = sounds.place(track.program);
        SoundPick { track: track.id, sounds, at, typed: String::new(), heard: false }
    }

    /// The program it is at.
    pub fn program(&self) -> Option<U7> {
        self.sounds.program(self.at)
    }

    /// Whether what was typed names no sound.
    pub fn is_unknown(&self) -> bool {
        self.sounds.find(&self.typed).is_err()
    }

    pub(super) fn go(&mut self, to: Move, out: &mut Vec<Effect>) {
        let last = self.sounds.len() - 1;
        self.typed.clear();
        self.go_to(to.along(self.at, Self::FAMILY, last), out);
    }

    /// Takes a key of a name or a number.
    pub(super) fn type_key(&mut self, key: &Key, out: &mut Vec<Effect>) {
        match key.code {
            Code::Char(c) if !key.ctrl && !key.alt && self.typed.len() < Self::LONGEST => {
                self.typed.push(c);
            }
            Code::Backspace => {
                self.typed.pop();
            }
            _ => return,
        }
        if let (false, Ok(found)) = (self.typed.trim().is_empty(), self.sounds.find(&self.typed)) {
            self.go_to(self.sounds.place(found), out);
        }
    }

    pub(super) fn clear(&mut self) {
        self.typed.clear();
    }

    /// Goes to a sound and plays the track with it. Without a program an instrument sounds as with
    /// the first one.
    fn go_to(&mut self, place: usize, out: &mut Vec<Effect>) {
        if std::mem::replace(&mut self.at, place) == place {
            return;
        }
        self.heard = true;
        let program = self.program().or(U7::new(0));
        out.push(Effect::Command(Command::Audition(self.track, program)));
    }

    /// Plays the track with the song's own sound again.
    pub(super) fn end_audition(&self, out: &mut Vec<Effect>) {
        if self.heard {
            out.push(Effect::Command(Command::Audition(self.track, None)));
        }
    }
}

impl Screen {
    pub(super) fn confirm_sound(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Sounds(pick)) = self.overlays.top() else { return };
        if let Err(error) = pick.sounds.find(&pick.typed) {
            return self.complain(&error);
        }
        let Some(Overlay::Sounds(pick)) = self.overlays.close() else { return };
        let Some(track) = state.status.song.track(pick.track) else { return };
        if pick.program() == track.program {
            pick.end_audition(out);
        } else {
            out.push(Effect::Command(Command::Program(pick.track, pick.program())));
        }
    }
}
