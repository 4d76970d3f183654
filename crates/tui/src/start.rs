//! What a new song can start from: a few plain sets of tracks, ready to be recorded.

use crate::sounds;
use chaconne_song::{Channel, Song, Track};
use std::sync::Arc;

/// What a new song starts from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Start {
    /// No track.
    #[default]
    Empty,
    /// Drums and bass.
    Rhythm,
    /// One piano, in 6/8.
    Piano,
    /// Drums, bass, chords and a lead.
    Band,
}

impl Start {
    /// All of them, in the order of [`Start::WORDS`].
    pub const ALL: [Start; 4] = [Start::Empty, Start::Rhythm, Start::Piano, Start::Band];
    /// A word for each.
    pub const WORDS: &[&str] = &["empty", "rhythm", "piano", "band"];

    /// What it is, in a few words.
    pub fn about(self) -> &'static str {
        match self {
            Start::Empty => "no tracks yet",
            Start::Rhythm => "drums and bass",
            Start::Piano => "piano in 6/8",
            Start::Band => "four tracks",
        }
    }

    /// Bars, metre and tempo to propose; the tempo counts what the metre counts.
    pub fn time(self) -> [&'static str; 3] {
        match self {
            Start::Empty | Start::Band => ["4", "4/4", "120"],
            Start::Rhythm => ["4", "4/4", "100"],
            Start::Piano => ["8", "6/8", "60"],
        }
    }

    /// Adds its tracks to a song without any.
    pub fn add_tracks(self, song: &mut Song) {
        let names: &[&str] = match self {
            Start::Empty => &[],
            Start::Rhythm => &["drums", "bass"],
            Start::Piano => &["piano"],
            Start::Band => &["drums", "bass", "chords", "lead"],
        };
        for name in names {
            let (id, drums) = (song.ids().track(), *name == "drums");
            let mut track = if drums { Track::drums(id, name) } else { Track::pitched(id, name) };
            if !drums {
                let pitched = song.tracks.iter().filter(|track| track.pitched).count();
                track.channel = Channel::from_number(pitched as u8 + 1);
            }
            track.program = sounds::proposal(name, drums);
            song.tracks.push(Arc::new(track));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::empty_song;

    #[test]
    fn every_start_has_tracks_that_can_be_told_apart() {
        for start in Start::ALL {
            let mut song = empty_song(4, "4/4");
            start.add_tracks(&mut song);
            let mut channels: Vec<_> = song.tracks.iter().map(|track| track.channel).collect();
            channels.dedup();
            assert_eq!(channels.len(), song.tracks.len(), "{start:?}");
            assert_eq!(song.tracks.is_empty(), start == Start::Empty);
            assert!(song.tracks.iter().all(|track| track.program.is_some()), "{start:?}");
            let text = chaconne_song::text::write(&song);
            assert_eq!(chaconne_song::text::read(&text).unwrap(), song, "{start:?}");
        }
        assert_eq!(Start::WORDS.len(), Start::ALL.len());
    }
}
