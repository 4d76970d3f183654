//! The songs that were opened or saved last, remembered in the user's state folder.
//!
//! In: paths of songs, as they are opened and saved. Out: a list, the newest first. It is a
//! convenience: if the file cannot be read or written, nothing else fails.

use crate::state_folder::state_folder;
use crate::store::{read_limited, write_whole};
use std::ffi::OsString;
use std::fs;
use std::path::{Component, Path, PathBuf};

/// The most songs that are remembered.
const MOST: usize = 30;
/// The file, in the folder of the program's state.
const FILE: &str = "recent-songs";

/// The list of recent songs: a text file with an absolute path on each line, the newest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecentSongs {
    file: PathBuf,
}

impl RecentSongs {
    /// The list of this user, in the place that the system has for such files; `None` if the
    /// environment does not name one.
    pub fn of_user(variable: impl Fn(&str) -> Option<OsString>) -> Option<RecentSongs> {
        state_folder(variable).map(|folder| RecentSongs::in_file(folder.join(FILE)))
    }

    /// The list in a file.
    pub fn in_file(file: PathBuf) -> RecentSongs {
        RecentSongs { file }
    }

    /// The songs, the newest first; those whose file is gone are left out.
    pub fn songs(&self) -> Vec<PathBuf> {
        self.read().into_iter().filter(|path| path.is_file()).collect()
    }

    /// Puts a song at the top of the list.
    pub fn note(&self, song: &Path) {
        let Ok(song) = std::path::absolute(song) else { return };
        let song = without_steps_up(song);
        let mut songs = self.read();
        songs.retain(|known| *known != song);
        songs.insert(0, song);
        songs.truncate(MOST);
        // A name that is no text, or has a line break in it, cannot be on a line.
        let lines = songs.iter().filter_map(|song| song.to_str());
        let lines: Vec<&str> = lines.filter(|line| !line.contains(['\n', '\r'])).collect();
        if let Some(folder) = self.file.parent() {
            let _ = fs::create_dir_all(folder);
        }
        let _ = write_whole(&self.file, format!("{}\n", lines.join("\n")).as_bytes());
    }

    fn read(&self) -> Vec<PathBuf> {
        let bytes = read_limited(&self.file).unwrap_or_default();
        let text = String::from_utf8_lossy(&bytes);
        let paths = text.lines().map(PathBuf::from);
        paths.filter(|path| path.is_absolute()).take(MOST).collect()
    }
}

/// The same path without `..`, so that a song is listed once however it was named.
fn without_steps_up(path: PathBuf) -> PathBuf {
    let goes_up = path.components().any(|part| part == Component::ParentDir);
    let plain = || {
        let folder = fs::canonicalize(path.parent()?).ok()?;
        Some(folder.join(path.file_name()?))
    };
    goes_up.then(plain).flatten().unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_song_is_first_and_listed_once() {
        let folder = tempfile::tempdir().unwrap();
        let recent = RecentSongs::in_file(folder.path().join("state/deep/recent"));
        assert_eq!(recent.songs(), Vec::<PathBuf>::new());
        let song = |name: &str| {
            let path = folder.path().join(name);
            fs::write(&path, "a song").unwrap();
            path
        };
        let [ebb, tide] = ["ebb.ron", "tide.ron"].map(song);
        for path in [&ebb, &tide, &ebb] {
            recent.note(path);
        }
        assert_eq!(recent.songs(), [ebb.clone(), tide.clone()]);
        fs::create_dir(folder.path().join("inner")).unwrap();
        recent.note(&folder.path().join("inner/../tide.ron"));
        let listed: Vec<_> =
            recent.songs().iter().map(|song| song.file_name().unwrap().to_owned()).collect();
        assert_eq!(listed, ["tide.ron", "ebb.ron"]);
        recent.note(&ebb);
        fs::remove_file(&ebb).unwrap();
        assert_eq!(recent.songs(), std::slice::from_ref(&tide));
        recent.note(&folder.path().join("two\nlines.ron"));
        assert_eq!(recent.songs(), [tide]);
        (0..50).for_each(|number| recent.note(&song(&format!("{number}.ron"))));
        assert_eq!(recent.songs().len(), MOST);
    }

    #[test]
    fn a_list_that_cannot_be_read_or_written_is_empty_and_no_failure() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("file"), "").unwrap();
        let recent = RecentSongs::in_file(folder.path().join("file/recent"));
        recent.note(Path::new("ebb.ron"));
        assert_eq!(recent.songs(), Vec::<PathBuf>::new());
    }
}
