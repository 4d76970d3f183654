//! The disk thread: saves and exports, one after the other, away from the music.
//!
//! In: jobs, each with the song as it stood when it was asked for. Out: files, and in
//! [`Disk`] what came of it.

use crate::export::{Extent, export_midi};
use crate::snapshot::Disk;
use crate::store;
use chaconne_song::Song;
use crossbeam_channel::{Receiver, Sender};
use std::path::PathBuf;
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

/// Does jobs until nobody is left to give any.
pub(crate) fn run(jobs: &Receiver<Job>, state: &DiskState) {
    for job in jobs {
        match job {
            Job::Save { song, revision, path } => save(state, &song, revision, path),
            Job::Opened { path, revision, reply } => {
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

fn save(state: &DiskState, song: &Song, revision: u64, path: Option<PathBuf>) {
    let path = path.or_else(|| state.get().path.clone());
    let done = match &path {
        Some(path) => store::save(path, song),
        None => Err("this song has no file yet: give the name of one".to_string()),
    };
    let mut disk = state.get();
    disk.attempts += 1;
    match done {
        Ok(()) => {
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
        let state = DiskState::default();
        let look = || state.get().clone();
        let song = song("kept", 2);
        save(&state, &song, 7, None);
        let Disk { attempts, saved, error, .. } = look();
        assert_eq!((attempts, saved, error.is_some()), (1, 0, true));
        save(&state, &song, 7, Some(path.clone()));
        let good = Disk { path: Some(path.clone()), saved: 7, error: None, attempts: 2 };
        assert_eq!(look(), good);
        // A failed save elsewhere leaves the song where it was.
        save(&state, &song, 8, Some(folder.path().to_path_buf()));
        let Disk { path: kept, saved, error, .. } = look();
        assert_eq!((kept.as_ref(), saved, error.is_some()), (Some(&path), 7, true));
        save(&state, &song, 9, None);
        assert_eq!(look(), Disk { saved: 9, attempts: 4, ..good });
        assert_eq!(store::load(&path).unwrap(), song);
    }
}
