//! Exports to files. What is in them is the exchange's to say.

use crate::store;
use chaconne_engine::{Route, View};
use chaconne_song::{Letter, Song};
use std::path::Path;

/// How much of a song is handed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// The form, unrolled; where there is none, the first section once.
    Form,
    /// One section once.
    Loop(Letter),
}

impl Extent {
    /// The route through a song.
    ///
    /// # Errors
    /// Where the song has no such section.
    pub fn route(self, song: &Song) -> Result<Route, String> {
        match self {
            Extent::Form => Route::form(song).ok_or_else(|| "the song has no section".into()),
            Extent::Loop(letter) => {
                Route::rounds(song, letter, 1).ok_or_else(|| missing(song, letter))
            }
        }
    }
}

/// That there is no such section, and which there are.
pub(crate) fn missing(song: &Song, letter: Letter) -> String {
    let letters: Vec<&str> = song.sections.iter().map(|section| section.letter.as_str()).collect();
    format!("there is no section {letter}; there is {}", letters.join(", "))
}

/// Writes a Standard MIDI File of the song as it is heard; gives how many bytes it has.
///
/// # Errors
/// One sentence; a file that was there is as it was.
pub fn export_midi(song: &Song, path: &Path, extent: Extent) -> Result<usize, String> {
    let route = extent.route(song)?;
    let bytes = chaconne_exchange::export(song, &route, View::Corrected)
        .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
    store::write_whole(path, &bytes)?;
    Ok(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song;

    #[test]
    fn an_export_is_a_file_that_reads_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        let song = song("four bars", 4);
        let count = export_midi(&song, &path, Extent::Form).unwrap();
        let bytes = std::fs::read(&path).unwrap();
        assert_eq!(bytes.len(), count);
        let back = chaconne_exchange::import(&bytes, "x").unwrap().song;
        assert_eq!(back.sections[0].metre.bars(), 4);
        let error = export_midi(&song, &path, Extent::Loop("C".parse().unwrap())).unwrap_err();
        assert_eq!(error, "there is no section C; there is A");
    }
}
