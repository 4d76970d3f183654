//! The disk thread: saves and exports, one after the other, away from the music.
//!
//! In: jobs, each with the song as it stood when it was asked for. Out: files, and in
//! [`Disk`] what came of it.

use crate::export::{Extent, export_midi};
use crate::snapshot::Disk;
use crate::store;
use chaconne_song::Song;
use crossbeam_channel::{Receiver, Sender};
use std::hash::{DefaultHasher, Hasher};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What the disk thread and those who ask share.
#[derive(Debug, Clone, Default)]
pub(crate) struct DiskState(Arc<Mutex<Disk>>);

impl DiskState {
    pub fn get(&self) -> MutexGuard<'_, Disk> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Something to write.
#[derive(Debug)]
pub(crate) enum Job {
    /// The song, to `path` or to where it was saved last.
    Save { song: Arc<Song>, revision: u64, path: Option<PathBuf> },
    /// Another song is at hand from here on: the file it has, and its revision.
    Opened { path: Option<PathBuf>, revision: u64, reply: Sender<()> },
    /// A Standard MIDI File; how many bytes it has, or what went wrong, goes to `reply`.
    Export { song: Arc<Song>, extent: Extent, path: PathBuf, reply: Sender<Result<usize, String>> },
}

/// What is known of the files that a save would replace, so that nothing is lost that somebody else
/// has written.
#[derive(Debug, Default)]
struct Guard {
    /// The song's file as it was read or written last.
    own: Option<Seen>,
    /// A file that was to be replaced and was not: asked for once more, it is.
    asked: Option<Seen>,
}

/// A file and what was in it, as a number that is another one for other bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Seen {
    path: PathBuf,
    content: u64,
}

impl Seen {
    /// What is there now; `None` where nothing is that can be read.
    fn at(path: &Path) -> Option<Seen> {
        let bytes = store::read_limited(path).ok()?;
        let mut hasher = DefaultHasher::new();
        hasher.write(&bytes);
        Some(Seen { path: path.to_path_buf(), content: hasher.finish() })
    }
}

impl Guard {
    fn new(path: Option<&Path>) -> Guard {
        Guard { own: path.and_then(Seen::at), asked: None }
    }

    /// Whether a song may be written to `path`: where nothing is, where its own file is as it was,
    /// and where it was asked for before and has not changed since.
    fn allows(&mut self, path: &Path) -> Result<(), String> {
        let there = Seen::at(path);
        let is_known = there == self.own || there == self.asked;
        if there.is_none() || is_known {
            return Ok(());
        }
        let is_own = self.own.as_ref().is_some_and(|own| own.path == path);
        let what = if is_own { "was changed by another program" } else { "is there already" };
        self.asked = there;
        Err(format!("{} {what}; save once more to replace it", path.display()))
    }
}

/// Does jobs until nobody is left to give any.
pub(crate) fn run(jobs: &Receiver<Job>, state: &DiskState) {
    let mut guard = Guard::new(state.get().path.as_deref());
    for job in jobs {
        match job {
            Job::Save { song, revision, path } => save(state, &mut guard, &song, revision, path),
            Job::Opened { path, revision, reply } => {
                guard = Guard::new(path.as_deref());
                let mut disk = state.get();
                *disk = Disk { path, saved: revision, error: None, attempts: disk.attempts };
                drop(disk);
                // Whoever asked may have stopped waiting.
                let _ = reply.send(());
            }
            Job::Export { song, extent, path, reply } => {
                // Whoever asked may have gone; the file is written all the same.
                let _ = reply.send(export_midi(&song, &path, extent));
            }
        }
    }
}

fn save(state: &DiskState, guard: &mut Guard, song: &Song, revision: u64, path: Option<PathBuf>) {
    let path = path.or_else(|| state.get().path.clone());
    let done = match &path {
        Some(path) => guard.allows(path).and_then(|()| store::save(path, song)),
        None => Err("this song has no file yet: give the name of one".to_string()),
    };
    let mut disk = state.get();
    disk.attempts += 1;
    match done {
        Ok(()) => {
            *guard = Guard::new(path.as_deref());
            disk.path = path;
            disk.saved = revision;
            disk.error = None;
        }
        Err(error) => disk.error = Some(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::song;

    #[test]
    fn a_save_says_where_and_what_is_in_the_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        let (state, mut guard) = (DiskState::default(), Guard::default());
        let look = || state.get().clone();
        let song = song("kept", 2);
        save(&state, &mut guard, &song, 7, None);
        let Disk { attempts, saved, error, .. } = look();
        assert_eq!((attempts, saved, error.is_some()), (1, 0, true));
        save(&state, &mut guard, &song, 7, Some(path.clone()));
        let good = Disk { path: Some(path.clone()), saved: 7, error: None, attempts: 2 };
        assert_eq!(look(), good);
        // A failed save elsewhere leaves the song where it was.
        save(&state, &mut guard, &song, 8, Some(folder.path().to_path_buf()));
        let Disk { path: kept, saved, error, .. } = look();
        assert_eq!((kept.as_ref(), saved, error.is_some()), (Some(&path), 7, true));
        save(&state, &mut guard, &song, 9, None);
        assert_eq!(look(), Disk { saved: 9, attempts: 4, ..good });
        assert_eq!(store::load(&path).unwrap(), song);
    }
    #[test]
    fn what_others_wrote_is_only_replaced_when_it_is_asked_for_once_more() {
        let folder = tempfile::tempdir().unwrap();
        let (own, other) = (folder.path().join("own.ron"), folder.path().join("other.ron"));
        let (state, mut guard) = (DiskState::default(), Guard::default());
        let song = song("kept", 2);
        let mut save = |path: Option<&PathBuf>| {
            save(&state, &mut guard, &song, 1, path.cloned());
            state.get().error.clone().unwrap_or_default()
        };
        let read = |path: &PathBuf| std::fs::read_to_string(path).unwrap();
        std::fs::write(&other, "another song").unwrap();
        assert_eq!(save(Some(&own)), "");
        assert_eq!(save(None), "", "its own file is as it was left");
        // Another file is there; it changes between being asked and being answered.
        let there = format!("{} is there already; save once more to replace it", other.display());
        assert_eq!(save(Some(&other)), there);
        std::fs::write(&other, "a third song").unwrap();
        assert_eq!(save(Some(&other)), there);
        assert_eq!(read(&other), "a third song");
        // Its own file was edited by hand.
        std::fs::write(&own, "edited").unwrap();
        let told = save(None);
        assert!(told.ends_with("was changed by another program; save once more to replace it"));
        assert_eq!(read(&own), "edited");
        assert_eq!(save(None), "");
        assert_eq!(store::load(&own).unwrap(), song);
        // And what is gone is made again.
        std::fs::remove_file(&own).unwrap();
        assert_eq!(save(None), "");
        assert_eq!(store::load(&own).unwrap(), song);
    }
}
