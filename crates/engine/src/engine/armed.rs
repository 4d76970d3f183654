//! The armed track: the one that is played and recorded.
//!
//! In: which track was armed when, and which tracks the song has. Out: the one armed last of those
//! there are, so that undoing a new track arms what was armed before it.

use chaconne_song::{Song, TrackId};

/// The tracks that were armed, each once, the latest last.
#[derive(Debug, Clone, Default)]
pub(super) struct Armed {
    order: Vec<TrackId>,
    /// The one that is armed.
    now: Option<TrackId>,
}

impl Armed {
    /// A song's first track.
    pub fn first_of(song: &Song) -> Armed {
        let mut armed = Armed::default();
        song.tracks.first().into_iter().for_each(|track| armed.arm(track.id));
        armed
    }

    /// The track that is armed.
    pub fn track(&self) -> Option<TrackId> {
        self.now
    }

    /// Arms a track of the song.
    pub fn arm(&mut self, track: TrackId) {
        self.order.retain(|&known| known != track);
        self.order.push(track);
        self.now = Some(track);
    }

    /// After a change of the song: where the armed track is gone, arms the one armed before it, else
    /// the first there is.
    pub fn settle(&mut self, song: &Song) {
        let exists = |id: &TrackId| song.track(*id).is_some();
        if !self.now.as_ref().is_some_and(exists) {
            let before = self.order.iter().rev().copied().find(exists);
            self.now = before.or_else(|| song.tracks.first().map(|track| track.id));
        }
    }
}
