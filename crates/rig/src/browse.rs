//! Folders with songs, for a front end that lets the user choose one.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// The extension of song files.
const EXTENSION: &str = "ron";
/// In the names of rescue copies, which the program offers by itself.
const RESCUE: &str = ".rescue";
/// The most files of a folder that are looked at.
const MOST: usize = 20_000;

/// A folder: what a musician may want to open there.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct SongFolder {
    /// The folder, as an absolute path.
    pub path: PathBuf,
    /// The files that have a song's name, the newest first.
    pub songs: Vec<SongFile>,
    /// The folders in it by name, without hidden ones.
    pub folders: Vec<PathBuf>,
}

/// A file with a song's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SongFile {
    /// The file.
    pub path: PathBuf,
    /// How long ago it was changed, as far as the system says.
    pub age: Option<Duration>,
}

impl SongFolder {
    /// Reads a folder; ages count up to `now`.
    ///
    /// # Errors
    /// One sentence that names the folder.
    pub fn read(path: &Path, now: SystemTime) -> Result<SongFolder, String> {
        let failed = |error: std::io::Error| {
            format!("the folder '{}' cannot be read: {error}", path.display())
        };
        let path = std::path::absolute(path).map_err(failed)?;
        let mut folder = SongFolder { path, ..SongFolder::default() };
        for entry in fs::read_dir(&folder.path).map_err(failed)?.take(MOST).flatten() {
            let (path, name) = (entry.path(), entry.file_name());
            // Such a name cannot be shown or typed.
            let Some(name) = name.to_str().filter(|name| !name.starts_with('.')) else { continue };
            // Follows links. A file that has gone meanwhile is left out.
            let Ok(about) = fs::metadata(&path) else { continue };
            let is_song = path.extension().is_some_and(|end| end.eq_ignore_ascii_case(EXTENSION));
            if about.is_dir() {
                folder.folders.push(path);
            } else if about.is_file() && is_song && !name.contains(RESCUE) {
                let changed = about.modified().ok();
                let age = changed.map(|at| now.duration_since(at).unwrap_or_default());
                folder.songs.push(SongFile { path, age });
            }
        }
        folder.folders.sort();
        folder.songs.sort_by(|one, other| (one.age, &one.path).cmp(&(other.age, &other.path)));
        Ok(folder)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_has_its_songs_newest_first_and_its_folders_by_name() {
        let folder = tempfile::tempdir().unwrap();
        let now = SystemTime::now();
        let file = |name: &str, hours: u64| {
            let file = fs::File::create(folder.path().join(name)).unwrap();
            file.set_modified(now - Duration::from_secs(3600 * hours)).unwrap();
        };
        for (name, hours) in [("ebb.ron", 5), ("tide.RON", 2), ("rain.ron", 40)] {
            file(name, hours);
        }
        for (name, hours) in [("tide.mid", 1), (".hidden.ron", 1), ("tide.rescue.ron", 1)] {
            file(name, hours);
        }
        for name in ["sketches", "old", ".git", "odd.ron"] {
            fs::create_dir(folder.path().join(name)).unwrap();
        }
        let read = SongFolder::read(folder.path(), now).unwrap();
        let names = |paths: Vec<&PathBuf>| -> Vec<String> {
            paths.iter().map(|path| path.file_name().unwrap().to_string_lossy().into()).collect()
        };
        let songs = read.songs.iter().map(|song| &song.path).collect();
        assert_eq!(names(songs), ["tide.RON", "ebb.ron", "rain.ron"]);
        assert_eq!(names(read.folders.iter().collect()), ["odd.ron", "old", "sketches"]);
        assert_eq!(read.songs[1].age.map(|age| age.as_secs() / 3600), Some(5));
        let gone = folder.path().join("gone");
        let error = SongFolder::read(&gone, now).unwrap_err();
        assert!(error.starts_with(&format!("the folder '{}' cannot be read", gone.display())));
    }
}
