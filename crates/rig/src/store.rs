//! Files: reads songs, with file and line in every error, and writes files whole or not at all.
//!
//! A new file is written next to the old one under another name, synced to the disk, and then takes
//! its place in one step: a reader sees the old file or the new one, whatever happens in between.
//! Links are followed: the target of a link is replaced, not the link.

use crate::replace::{Guard, Kind, Replace, WriteError};
use chaconne_song::{Song, text};
use std::fs::{self, File, Metadata};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The largest file that the program reads: 256 MiB.
pub const MOST_BYTES: u64 = 256 * 1024 * 1024;
/// The most links to follow from one to the next.
const MOST_LINKS: usize = 40;

/// Why a song could not be opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LoadError {
    /// The file could not be read: one sentence that names it.
    Unreadable(String),
    /// The file is not a song but a Standard MIDI File: one sentence that says so.
    Midi(String),
    /// The file is not a valid song: sentences that start with `path:line:`.
    Faulty(Vec<String>),
}

impl LoadError {
    /// What is wrong, one sentence each.
    pub fn sentences(&self) -> &[String] {
        match self {
            LoadError::Unreadable(sentence) | LoadError::Midi(sentence) => {
                std::slice::from_ref(sentence)
            }
            LoadError::Faulty(sentences) => sentences,
        }
    }
}

impl std::fmt::Display for LoadError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.sentences().join("\n"))
    }
}

impl std::error::Error for LoadError {}

/// The song in the file at `path`.
///
/// # Errors
/// If the file cannot be read, is larger than [`MOST_BYTES`], or is not a valid song.
pub fn load(path: &Path) -> Result<Song, LoadError> {
    let bytes = read_limited(path).map_err(LoadError::Unreadable)?;
    let shown = path.display();
    if Kind::Midi.begins(&bytes) {
        return Err(LoadError::Midi(format!("{shown} is a Standard MIDI File, not a song")));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..good].iter().filter(|&&byte| byte == b'\n').count() + 1;
        LoadError::Faulty(vec![format!(
            "{shown}:{line}: this is not UTF-8 text, so it is not a song"
        )])
    })?;
    if text.trim().is_empty() {
        return Err(LoadError::Faulty(vec![format!(
            "{shown}:1: the file is empty: it has no song"
        )]));
    }
    text::read(&text).map_err(|errors| {
        let placed = errors.iter().map(|e| format!("{shown}:{}: {}", e.line, e.message));
        LoadError::Faulty(placed.collect())
    })
}

/// The bytes of a file of at most [`MOST_BYTES`].
///
/// # Errors
/// One sentence that names the file.
pub fn read_limited(path: &Path) -> Result<Vec<u8>, String> {
    let failed = |error: io::Error| format!("{} cannot be read: {error}", path.display());
    let kind = fs::metadata(path).map_err(failed)?;
    if kind.is_dir() {
        return Err(format!("{} is a folder, not a file", path.display()));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(failed)?;
    if bytes.len() as u64 > MOST_BYTES {
        let most = MOST_BYTES / 1024 / 1024;
        return Err(format!("{} is larger than {most} MiB, the limit for a file", path.display()));
    }
    Ok(bytes)
}

/// Writes a song to `path`, whole or not at all, if the rule for replacing files allows it. From
/// then on, that is the song's own file.
///
/// # Errors
/// If the rule refuses, or writing fails; the old file stays as it was.
pub fn save_guarded(
    path: &Path,
    song: &Song,
    guard: &mut Guard,
    replace: Replace,
) -> Result<(), WriteError> {
    guard.check(path, Kind::Song, replace)?;
    write_whole(path, text::write(song).as_bytes())?;
    *guard = Guard::of_song_at(path);
    Ok(())
}

/// Replaces the file at `path`, whole or not at all, and keeps its permissions.
///
/// # Errors
/// One sentence that names the file; the old file stays as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), String> {
    let draft = Draft::begin(path)?;
    draft.file.as_file().write_all(bytes).map_err(|error| draft.failed(&error))?;
    draft.finish()
}

/// A file being written next to its target. [`Draft::finish`] puts it in place; dropping the draft
/// instead removes it.
pub(crate) struct Draft {
    path: PathBuf,
    target: PathBuf,
    before: Option<Metadata>,
    file: NamedTempFile,
}

impl Draft {
    /// Begins a file for `path`.
    pub fn begin(path: &Path) -> Result<Draft, String> {
        let named = |why: String| format!("{} cannot be written: {why}", path.display());
        let target = follow_links(path).map_err(|error| named(error.to_string()))?;
        let before = match fs::metadata(&target) {
            Ok(before) => Some(before),
            Err(error) if error.kind() == io::ErrorKind::NotFound => None,
            Err(error) => return Err(named(error.to_string())),
        };
        if let Some(refusal) = before.as_ref().and_then(refusal) {
            return Err(named(refusal.into()));
        }
        let folder = folder_of(&target);
        if !folder.is_dir() {
            let folder = folder.display();
            return Err(named(format!("there is no folder '{folder}'; create it first")));
        }
        let file = temporary(folder).map_err(|error| named(plain(&error)))?;
        Ok(Draft { path: path.into(), target, before, file })
    }

    /// The file to write to.
    pub fn file(&self) -> Result<File, String> {
        self.file.as_file().try_clone().map_err(|error| self.failed(&error))
    }

    /// Puts the file in its place, with the permissions of the old one. If there was none at the
    /// beginning, a file that has appeared since is not replaced.
    pub fn finish(self) -> Result<(), String> {
        let Draft { path, target, before, file } = self;
        put(&target, file, before).map_err(|error| failed(&path, &error))
    }

    /// The sentence that the file cannot be written, and why.
    pub fn failed(&self, error: &io::Error) -> String {
        failed(&self.path, error)
    }
}

fn failed(path: &Path, error: &io::Error) -> String {
    format!("{} cannot be written: {}", path.display(), plain(error))
}

/// What the system says, without the path of the temporary file, which means nothing to the user.
fn plain(error: &io::Error) -> String {
    if error.raw_os_error().is_some() { error.to_string() } else { error.kind().to_string() }
}

/// Why this file must not be replaced.
fn refusal(before: &Metadata) -> Option<&'static str> {
    if before.is_dir() {
        Some("it is a folder")
    } else if !before.is_file() {
        Some("it is a device or a pipe, not a file")
    } else if before.permissions().readonly() {
        Some("it is write-protected")
    } else {
        None
    }
}

/// The folder that a file is in.
pub(crate) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

fn put(target: &Path, file: NamedTempFile, before: Option<Metadata>) -> io::Result<()> {
    if let Some(before) = &before {
        file.as_file().set_permissions(before.permissions())?;
    }
    file.as_file().sync_all()?;
    match before {
        Some(_) => file.persist(target).map(drop)?,
        None => put_new(target, file)?,
    }
    sync_folder(folder_of(target))
}

/// Gives a file its name, unless another file has it.
fn put_new(target: &Path, file: NamedTempFile) -> io::Result<()> {
    match file.persist_noclobber(target) {
        Ok(_) => Ok(()),
        // Some file systems cannot do that in one step.
        Err(failed) if target.symlink_metadata().is_err() => {
            failed.file.persist(target).map(drop).map_err(io::Error::from)
        }
        Err(failed) => Err(failed.error),
    }
}

/// A temporary file next to the target; it is removed unless it takes the target's place.
fn temporary(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".chaconne-").suffix(".part");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The usual permissions of a new file, less the user's umask.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// Syncs the new name to the disk, too. Some file systems cannot; the file itself is safe.
fn sync_folder(folder: &Path) -> io::Result<()> {
    #[cfg(unix)]
    if let Ok(folder) = File::open(folder) {
        match folder.sync_all() {
            Err(error) if error.kind() != io::ErrorKind::InvalidInput => return Err(error),
            _ => {}
        }
    }
    #[cfg(not(unix))]
    let _ = folder;
    Ok(())
}

/// Where the links at `path` lead; the last one may point to a file that does not exist yet.
fn follow_links(path: &Path) -> io::Result<PathBuf> {
    let mut at = path.to_path_buf();
    for _ in 0..MOST_LINKS {
        match fs::read_link(&at) {
            Ok(to) => at = at.parent().unwrap_or(Path::new("")).join(to),
            Err(_) => return Ok(at),
        }
    }
    Err(io::Error::other("its links form a circle"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song;

    fn save(path: &Path, song: &Song) -> Result<(), String> {
        write_whole(path, text::write(song).as_bytes())
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).unwrap();
        let mut names: Vec<String> =
            entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn a_saved_song_is_loaded_and_no_other_file_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        for title in ["first", "second"] {
            let song = song(title, 4);
            save(&path, &song).unwrap();
            assert_eq!(load(&path).unwrap(), song);
            assert_eq!(names(folder.path()), ["song.ron"]);
        }
    }

    #[cfg(unix)]
    #[test]
    fn permissions_stay_and_links_are_followed() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("song.ron"), folder.path().join("link.ron"));
        save(&path, &song("first", 4)).unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        symlink("song.ron", &link).unwrap();
        save(&link, &song("second", 4)).unwrap();
        assert_eq!(load(&path).unwrap().title, "second");
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());

        let dangling = folder.path().join("dangling.ron");
        symlink("later.ron", &dangling).unwrap();
        save(&dangling, &song("third", 4)).unwrap();
        assert_eq!(load(&folder.path().join("later.ron")).unwrap().title, "third");
        let circle = folder.path().join("circle.ron");
        symlink("circle.ron", &circle).unwrap();
        assert!(save(&circle, &song("never", 4)).unwrap_err().contains("circle"));
    }

    #[test]
    fn a_failed_write_leaves_the_old_file_and_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        save(&path, &song("kept", 4)).unwrap();
        let mut protected = fs::metadata(&path).unwrap().permissions();
        protected.set_readonly(true);
        fs::set_permissions(&path, protected).unwrap();
        let error = save(&path, &song("lost", 4)).unwrap_err();
        assert!(error.ends_with("song.ron cannot be written: it is write-protected"), "{error}");
        assert_eq!(load(&path).unwrap().title, "kept");
        assert_eq!(names(folder.path()), ["song.ron"]);

        let nowhere = folder.path().join("no such folder").join("song.ron");
        let error = save(&nowhere, &song("lost", 4)).unwrap_err();
        assert!(error.contains("song.ron cannot be written: there is no folder"), "{error}");
        let error = save(folder.path(), &song("lost", 4)).unwrap_err();
        assert!(error.ends_with("it is a folder"), "{error}");
    }

    #[test]
    fn a_file_that_appears_meanwhile_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("new.ron");
        let draft = Draft::begin(&path).unwrap();
        fs::write(&path, "somebody else's").unwrap();
        let error = draft.finish().unwrap_err();
        assert!(error.contains("new.ron cannot be written: "), "{error}");
        assert_eq!(fs::read_to_string(&path).unwrap(), "somebody else's");
        assert_eq!(names(folder.path()), ["new.ron"]);
    }

    #[test]
    fn a_file_that_is_not_a_song_gives_a_sentence_with_its_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        assert!(matches!(load(&path), Err(LoadError::Unreadable(_))));
        assert!(matches!(load(folder.path()), Err(LoadError::Unreadable(_))));
        fs::write(&path, b"(\nchaconne: 1,\ntitle: \"\xFF\"").unwrap();
        let error = load(&path).unwrap_err();
        let expected = format!("{}:3: this is not UTF-8 text, so it is not a song", path.display());
        assert_eq!(error, LoadError::Faulty(vec![expected]));
        fs::write(&path, "\n").unwrap();
        let expected = format!("{}:1: the file is empty: it has no song", path.display());
        assert_eq!(load(&path), Err(LoadError::Faulty(vec![expected])));
        fs::write(&path, "(\n  chaconne: 1,\n  tempo: 5,\n)\n").unwrap();
        let error = load(&path).unwrap_err();
        assert!(error.sentences()[0].starts_with(&format!("{}:3: ", path.display())), "{error}");
    }

    #[test]
    fn a_midi_file_is_recognised() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.mid");
        fs::write(&path, b"MThd\0\0\0\x06\0\0").unwrap();
        let sentence = format!("{} is a Standard MIDI File, not a song", path.display());
        assert_eq!(load(&path), Err(LoadError::Midi(sentence)));
    }

    #[test]
    fn a_file_that_is_too_large_is_not_read_into_memory() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        // A hole: it takes no room on the disk.
        File::create(&path).unwrap().set_len(MOST_BYTES + 1).unwrap();
        let error = read_limited(&path).unwrap_err();
        assert!(error.ends_with("is larger than 256 MiB, the limit for a file"), "{error}");
    }
}
