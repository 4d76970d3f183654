//! Ids of new tracks and passes. No id is used twice, even after undo.
//!
//! The engine gives ids to the tracks it adds and the passes it records. Edits from outside bring their
//! own ids, and their author could not know the id of the unfinished round. So if an edit uses that id,
//! the round gets another one.

use super::Engine;
use chaconne_song::{Commit, Edit, Ids, PassId, Song, TrackId};
use chaconne_time::Ns;

impl Engine {
    /// An id for a new pass.
    pub(super) fn new_pass(&mut self) -> PassId {
        self.new_id(|ids| ids.pass(), |id| id.0)
    }

    /// An id for a new track.
    pub(super) fn new_track(&mut self) -> TrackId {
        self.new_id(|ids| ids.track(), |id| id.0)
    }

    /// The next id that the song does not have.
    fn new_id<T>(&mut self, next: impl Fn(&mut Ids) -> T, number: impl Fn(&T) -> u32) -> T {
        loop {
            let id = next(&mut self.ids);
            if !self.song.uses_id(number(&id)) {
                return id;
            }
        }
    }

    /// Reserves the ids that a commit brings along.
    pub(super) fn leave_ids(&mut self, now: Ns, commit: &Commit) {
        let new: Vec<u32> = commit.edits.iter().flat_map(Edit::new_ids).collect();
        new.iter().for_each(|&id| self.ids.take(id));
        let promised = self.recorder.current().map(|take| take.pass);
        if let Some(old) = promised.filter(|old| new.contains(&old.0))
            && commit.clone().apply(&mut Song::clone(&self.song)).is_ok()
        {
            self.rename_round(now, old);
        }
    }

    /// Gives the unfinished round another id.
    fn rename_round(&mut self, now: Ns, old: PassId) {
        let new = self.new_pass();
        if let Some(run) = self.transport.run_mut() {
            run.since.remove(&old);
        }
        if self.full == Some(old) {
            self.full = Some(new);
        }
        if let Some(take) = self.recorder.current_mut() {
            take.pass = new;
        }
        self.refresh(now);
    }
}
