//! Exports to files. The exchange crate makes their content.

use crate::replace::{Kind, Replace, WriteError, may_write};
use crate::store;
use chaconne_engine::{Route, View};
use chaconne_song::{Letter, Song};
use std::path::Path;

/// How much of a song to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Extent {
    /// The form, unrolled; the first section once if there is no form.
    Form,
    /// One section once.
    Loop(Letter),
}

impl Extent {
    /// The route through a song.
    ///
    /// # Errors
    /// If the song has no such section.
    pub fn route(self, song: &Song) -> Result<Route, String> {
        match self {
            Extent::Form => Route::form(song).ok_or_else(|| "the song has no section".into()),
            Extent::Loop(letter) => {
                Route::rounds(song, letter, 1).ok_or_else(|| missing(song, letter))
            }
        }
    }
}

/// Says that there is no such section, and which there are.
pub(crate) fn missing(song: &Song, letter: Letter) -> String {
    let letters: Vec<&str> = song.sections.iter().map(|section| section.letter.as_str()).collect();
    format!("there is no section {letter}; sections: {}", letters.join(", "))
}

/// Writes a Standard MIDI File of the song as heard. Returns its size in bytes.
///
/// # Errors
/// What is in the way, or what went wrong; an existing file stays as it was.
pub fn export_midi(
    song: &Song,
    path: &Path,
    extent: Extent,
    replace: Replace,
) -> Result<usize, WriteError> {
    let route = extent.route(song)?;
    may_write(path, Kind::Midi, replace)?;
    let bytes = chaconne_exchange::export(song, &route, View::Corrected)
        .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
    store::write_whole(path, &bytes)?;
    Ok(bytes.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Refusal;
    use crate::testing::song;

    #[test]
    fn an_export_reads_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        let song = song("four bars", 4);
        let export = |extent, replace| export_midi(&song, &path, extent, replace);
        let count = export(Extent::Form, Replace::No).unwrap();
        let bytes = std::fs::read(&path).unwrap();
        assert_eq!(bytes.len(), count);
        let back = chaconne_exchange::import(&bytes, "x").unwrap().song;
        assert_eq!(back.sections[0].metre.bars(), 4);
        let error = export(Extent::Loop("C".parse().unwrap()), Replace::Yes).unwrap_err();
        assert_eq!(error.to_string(), "there is no section C; sections: A");
        let exists = WriteError::Refused(Refusal::Exists(path.clone()));
        assert_eq!(export(Extent::Form, Replace::No), Err(exists));
        assert_eq!(export(Extent::Form, Replace::Yes), Ok(count));
    }
}
