//! The program of a track: set in the song, or only auditioned.
//!
//! In: a track and a program, from a command. Out: an edit that can be undone; for an audition, only
//! messages to its channel.

use super::{Engine, Refused};
use crate::Order;
use chaconne_song::{Label, Song, Track, TrackId, U7};
use chaconne_time::Ns;

/// Program 1, with which a General MIDI instrument starts (General MIDI System Level 1).
const FIRST: U7 = U7::low_bits(0);

impl Engine {
    pub(super) fn set_program(
        &mut self,
        now: Ns,
        id: TrackId,
        program: Option<U7>,
    ) -> Result<(), Refused> {
        self.set_track(now, id, Label::TrackSound, |track| track.program = program)
    }

    /// Lets a track be heard with a program, or again as the song has it.
    pub(super) fn audition(&mut self, id: TrackId, program: Option<U7>) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let track = self.song.track(id).cloned().ok_or_else(missing)?;
        let program =
            program.or_else(|| self.performed(&track)).unwrap_or_else(|| self.program_for(&track));
        self.send_program(&track, program);
        Ok(())
    }

    /// Resets the channels of tracks that no longer set a program, unless a pass has changed it.
    pub(super) fn give_up_programs(&mut self, before: &Song) {
        for was in &before.tracks {
            let Some(set) = was.program else { continue };
            let Some(track) = self.song.track(was.id).filter(|track| track.program.is_none())
            else {
                continue;
            };
            let track = Track::clone(track);
            if self.performed(&track).is_some_and(|program| program != set) {
                // A pass has set another program.
                continue;
            }
            let program = self.program_for(&track);
            self.send_program(&track, program);
            self.performer.overrule_program(&track, program);
        }
    }

    /// The program that the performer last sent to a track's channel, if the track plays now. A pass
    /// may have set it.
    fn performed(&self, track: &Track) -> Option<U7> {
        let performed = self.transport.rolls() && self.performer.plays(self.shown, track.id);
        self.performer.program_of(track).filter(|_| performed)
    }

    fn send_program(&mut self, track: &Track, program: U7) {
        for (port, message) in self.performer.program_change(track, program) {
            self.orders.push_back(Order::Now { port, message });
        }
    }

    /// The program that a track sets; else that of another track on its channel; else program 1.
    fn program_for(&self, track: &Track) -> U7 {
        let shared = |other: &&std::sync::Arc<Track>| {
            (&other.port, other.channel) == (&track.port, track.channel)
        };
        let mut others = self.song.tracks.iter().rev().filter(shared);
        track.program.or_else(|| others.find_map(|other| other.program)).unwrap_or(FIRST)
    }
}
