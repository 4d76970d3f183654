//! A folder to choose a song from: what is in it, and the songs of other folders that were used last.

use crate::browse::SongFolder;
use crate::recent::RecentSongs;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// A folder that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FolderReport {
    /// The folder.
    pub folder: SongFolder,
    /// The songs that were opened or saved last, the newest first.
    pub recent: Vec<PathBuf>,
}

impl FolderReport {
    /// Reads a folder, and the recent songs if they are remembered.
    ///
    /// # Errors
    /// If the folder cannot be read: one sentence.
    pub(crate) fn read(path: &Path, recent: Option<&RecentSongs>) -> Result<FolderReport, String> {
        let folder = SongFolder::read(path, SystemTime::now())?;
        let recent = recent.map(RecentSongs::songs).unwrap_or_default();
        Ok(FolderReport { folder, recent })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_read_with_the_recent_songs() {
        let place = tempfile::tempdir().unwrap();
        let (song, state) = (place.path().join("tide.ron"), place.path().join("recent"));
        std::fs::write(&song, "").unwrap();
        let recent = RecentSongs::in_file(state);
        recent.note(&song);
        let read = FolderReport::read(place.path(), Some(&recent)).unwrap();
        assert_eq!(read.folder.songs[0].path, song);
        assert_eq!(read.recent, [song]);
        assert!(FolderReport::read(&place.path().join("none"), Some(&recent)).is_err());
    }
}
