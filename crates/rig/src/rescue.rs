//! Rescue copies: unsaved changes when the program is interrupted, kept beside the song's file.
//!
//! In: the song as it was, with the unfinished round, and the path of its file. Out: a file of its
//! own, `waltz.rescue.ron` beside `waltz.ron`, written whole and never over another file; and at
//! the next start, the newest copy, unless the song was saved after it. A restored copy is the song
//! with unsaved changes; saving it then removes the copy.

mod offer;

pub(crate) use offer::Origin;
pub use offer::{RescueCopy, rescue_copy};

use crate::disk::DiskState;
use crate::engine_thread::EngineShared;
use crate::fingerprint::Fingerprint;
use crate::store::Draft;
use chaconne_engine::Status;
use chaconne_song::{Edit, Song, text};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, mpsc};
use std::thread;
use std::time::Duration;

/// The most rescue copies of one song.
const MOST_COPIES: u32 = 99;
/// The name for a song without a file.
const UNTITLED: &str = "untitled.ron";

/// What became of unsaved changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rescued {
    /// There were none.
    Nothing,
    /// They are in this file.
    Copied(PathBuf),
    /// They are lost: one sentence that says why.
    Lost(String),
}

/// Writes the rescue copy, once, from whichever thread gets to it first.
#[derive(Debug, Clone)]
pub struct Rescuer {
    shared: Arc<EngineShared>,
    disk: DiskState,
    done: Arc<Mutex<Option<Rescued>>>,
}

impl Rescuer {
    pub(crate) fn new(shared: Arc<EngineShared>, disk: DiskState) -> Rescuer {
        Rescuer { shared, disk, done: Arc::default() }
    }

    /// Writes the copy unless that is done already, and returns the outcome.
    pub fn rescue(&self) -> Rescued {
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        done.get_or_insert_with(|| self.write()).clone()
    }

    /// Like [`Rescuer::rescue`], but waits for `limit` at most; `None` if it takes longer.
    pub fn rescue_within(&self, limit: Duration) -> Option<Rescued> {
        let (reply, answer) = mpsc::channel();
        let rescuer = self.clone();
        let spawn = thread::Builder::new().name("rescue".to_string());
        // The caller may have stopped waiting.
        spawn.spawn(move || _ = reply.send(rescuer.rescue())).ok()?;
        answer.recv_timeout(limit).ok()
    }

    fn write(&self) -> Rescued {
        let (status, disk) = (self.shared.status(), self.disk.get().clone());
        let song = with_unfinished_round(&status);
        if song.is_none() && !disk.would_lose(&status) {
            return Rescued::Nothing;
        }
        let song = song.as_ref().unwrap_or(&status.song);
        match write_copy(disk.path.as_deref(), song, disk.held) {
            Ok(path) => Rescued::Copied(path),
            Err(why) => Rescued::Lost(why),
        }
    }
}

/// The song with the unfinished round as a pass on top of its section; `None` if nothing was played
/// in it. This is only for a program that is forced to end: an orderly end stops the engine first,
/// which makes the pass by its own rules. Here the round is what the status showed last, so it may
/// lack the newest notes (the status is up to 50 µs per note old), and it mutes no earlier round.
fn with_unfinished_round(status: &Status) -> Option<Song> {
    let pass = status.unfinished.as_ref().filter(|pass| !pass.is_empty())?;
    let at = status.song.section(status.section)?.layers.len();
    let mut song = (*status.song).clone();
    // This fails if the round belongs to another section; then only the rest of the song is kept.
    Edit::lay(status.section, at, (**pass).clone()).apply(&mut song).ok()?;
    Some(song)
}

/// Writes a song as a rescue copy of the song at `path`, or of one without a file. `held` is what
/// that file held when it was last read or written, if it existed
/// ([`Guard::held`](crate::Guard::held)).
///
/// # Errors
/// One sentence.
pub fn write_copy(
    path: Option<&Path>,
    song: &Song,
    held: Option<Fingerprint>,
) -> Result<PathBuf, String> {
    let bytes = format!("{}{}", Origin::now(path, held), text::write(song)).into_bytes();
    for number in 1..=MOST_COPIES {
        let copy = copy_path(path, number);
        let is_taken = || copy.symlink_metadata().is_ok();
        if is_taken() {
            continue;
        }
        match put(&copy, &bytes, path) {
            Ok(()) => return Ok(copy),
            // Another program took this name first.
            Err(_) if is_taken() => {}
            Err(sentence) => return Err(sentence),
        }
    }
    let first = copy_path(path, 1);
    Err(format!("{} and {} others like it already exist", first.display(), MOST_COPIES - 1))
}

/// Writes a copy, with the permissions of the song's file: a private song stays private.
fn put(copy: &Path, bytes: &[u8], song: Option<&Path>) -> Result<(), String> {
    let draft = Draft::begin(copy)?;
    let mut file = draft.file()?;
    if let Some(about) = song.and_then(|song| fs::metadata(song).ok()) {
        file.set_permissions(about.permissions()).map_err(|error| draft.failed(&error))?;
    }
    file.write_all(bytes).map_err(|error| draft.failed(&error))?;
    draft.finish()
}

/// The path of the copy with that number: `waltz.rescue.ron`, `waltz.rescue-2.ron` beside
/// `waltz.ron`.
fn copy_path(path: Option<&Path>, number: u32) -> PathBuf {
    let path = path.unwrap_or(Path::new(UNTITLED));
    let mut name = path.file_stem().unwrap_or_default().to_os_string();
    name.push(".rescue");
    if number > 1 {
        name.push(format!("-{number}"));
    }
    if let Some(extension) = path.extension() {
        name.push(".");
        name.push(extension);
    }
    path.with_file_name(name)
}

/// Removes a copy that is no longer needed.
///
/// # Errors
/// One sentence.
pub(crate) fn remove(copy: &Path) -> Result<(), String> {
    fs::remove_file(copy).map_err(|error| format!("{} cannot be removed: {error}", copy.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::load;
    use crate::testing::song;

    #[test]
    fn a_copy_is_beside_the_song_and_replaces_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("slow waltz.ron");
        assert_eq!(rescue_copy(Some(&path)), None);
        let first = write_copy(Some(&path), &song("first", 1), None).unwrap();
        assert_eq!(first, folder.path().join("slow waltz.rescue.ron"));
        // A folder with that name is not replaced either.
        fs::create_dir(folder.path().join("slow waltz.rescue-2.ron")).unwrap();
        let third = write_copy(Some(&path), &song("third", 1), None).unwrap();
        assert_eq!(third, folder.path().join("slow waltz.rescue-3.ron"));
        assert_eq!(load(&first).unwrap().title, "first");
        assert_eq!(load(&third).unwrap().title, "third");
        assert!(!path.exists());
    }

    #[test]
    fn a_hundredth_copy_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        for number in 1..=MOST_COPIES {
            fs::write(copy_path(Some(&path), number), "kept").unwrap();
        }
        let error = write_copy(Some(&path), &song("lost", 1), None).unwrap_err();
        assert!(error.ends_with("a.rescue.ron and 98 others like it already exist"), "{error}");
        let nowhere = folder.path().join("gone").join("a.ron");
        assert!(
            write_copy(Some(&nowhere), &song("lost", 1), None).unwrap_err().contains("no folder")
        );
    }

    #[test]
    fn every_song_has_copies_of_its_own() {
        let name = |song: &str, number| copy_path(Some(Path::new(song)), number);
        assert_eq!(name("songs/a.ron", 1), Path::new("songs/a.rescue.ron"));
        assert_eq!(name("songs/a.ron", 2), Path::new("songs/a.rescue-2.ron"));
        assert_eq!(name("a", 1), Path::new("a.rescue"));
        assert_eq!(name("a.rescue.ron", 1), Path::new("a.rescue.rescue.ron"));
        assert_eq!(copy_path(None, 1), Path::new("untitled.rescue.ron"));
    }

    #[cfg(unix)]
    #[test]
    fn the_copy_of_a_private_song_is_private() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        fs::write(&path, "").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o600)).unwrap();
        let copy = write_copy(Some(&path), &song("a", 1), None).unwrap();
        assert_eq!(fs::metadata(copy).unwrap().permissions().mode() & 0o777, 0o600);
    }
}
