//! Steps of a track's volume and pan. The engine steps from the value it has when it obeys, so that two
//! commands at once step twice; steps that follow one another are one step of undo.

use super::commit::How;
use super::{Engine, Refused};
use chaconne_song::{Commit, Edit, TrackEdit, TrackId, U7};
use chaconne_time::Ns;

/// Where a step starts from if the track leaves the volume to its instrument: the value that an
/// instrument has when it is turned on (General MIDI Developer Guidelines: volume 100, pan 64).
const VOLUME: U7 = U7::low_bits(100);
/// The same for pan: the centre.
const PAN: U7 = U7::CENTRE;

impl Engine {
    /// Raises a track's volume by so many of its 127 steps; lowers it if negative.
    pub(super) fn step_volume(&mut self, now: Ns, id: TrackId, by: i8) -> Result<(), Refused> {
        self.step_level(now, id, |levels| TrackEdit::Volume(Some(step(levels.volume, VOLUME, by))))
    }

    /// Moves a track's pan to the right by so many of its 127 steps; to the left if negative.
    pub(super) fn step_pan(&mut self, now: Ns, id: TrackId, by: i8) -> Result<(), Refused> {
        self.step_level(now, id, |levels| TrackEdit::Pan(Some(step(levels.pan, PAN, by))))
    }

    fn step_level(
        &mut self,
        now: Ns,
        id: TrackId,
        edit: impl FnOnce(&chaconne_song::Levels) -> TrackEdit,
    ) -> Result<(), Refused> {
        let missing = || Refused("there is no such track".into());
        let edit = edit(&self.song.track(id).ok_or_else(missing)?.levels);
        self.commit(now, Commit::of(Edit::Track(id, edit)), How::Run)
    }
}

/// A value moved by so many steps, as far as it goes.
fn step(value: Option<U7>, default: U7, by: i8) -> U7 {
    let value = i16::from(value.unwrap_or(default).get()) + i16::from(by);
    U7::low_bits(value.clamp(0, 127) as u8)
}
