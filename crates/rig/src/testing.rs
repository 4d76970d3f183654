//! Small songs for the tests of this crate.

use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, MetreMap, Tempo};
use std::sync::Arc;

/// A song of one section A in 4/4 at 120, without a track.
pub fn song(title: &str, bars: u32) -> Song {
    song_of(title, &[("A", bars)])
}

/// A song of sections in 4/4 at 120, without a track.
pub fn song_of(title: &str, sections: &[(&str, u32)]) -> Song {
    let mut sections = sections.iter().map(|&(letter, bars)| {
        let metre = MetreMap::new(bars, Metre::common()).unwrap();
        Section::new(letter.parse::<Letter>().unwrap(), metre, Tempo::DEFAULT)
    });
    let mut song = Song::new(title, sections.next().unwrap());
    song.sections.extend(sections.map(Arc::new));
    song
}
