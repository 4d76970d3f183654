//! The armed track: the one that is played and recorded.
//!
//! In: the tracks that were armed, and the tracks of the song. Out: the track armed last that the song
//! still has. So undoing a new track arms the one that was armed before it.

use chaconne_song::{Song, TrackId};

#[derive(Debug, Clone, Default)]
pub(super) struct Armed {
    /// The tracks that were armed, each once, the latest last.
    order: Vec<TrackId>,
    /// The track that is armed.
    now: Option<TrackId>,
}

impl Armed {
    /// Arms a song's first track.
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

    /// Follows a change of the song: if the armed track is gone, arms the one armed before it, else the
    /// first track.
    pub fn settle(&mut self, song: &Song) {
        let exists = |id: &TrackId| song.track(*id).is_some();
        if !self.now.as_ref().is_some_and(exists) {
            let before = self.order.iter().rev().copied().find(exists);
            self.now = before.or_else(|| song.tracks.first().map(|track| track.id));
        }
    }
}
