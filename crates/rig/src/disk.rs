//! The disk thread: saves and exports one after the other, away from the music.
//!
//! In: jobs, each with the song as it was at the request. Out: files, and the outcome in [`Disk`].

use crate::export::{Extent, export_midi};
use crate::replace::{Guard, Replace, WriteError};
use crate::rescue::Origin;
use crate::snapshot::Disk;
use crate::{rescue, store};
use chaconne_song::Song;
use crossbeam_channel::{Receiver, Sender};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// What the disk thread shares with the others.
#[derive(Debug, Clone, Default)]
pub(crate) struct DiskState(Arc<Mutex<Disk>>);

impl DiskState {
    pub fn get(&self) -> MutexGuard<'_, Disk> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A job for the disk thread.
#[derive(Debug)]
pub(crate) enum Job {
    /// Save the song, to `path` or where it was saved last.
    Save { song: Arc<Song>, revision: u64, path: Option<PathBuf>, replace: Replace },
    /// Another song was opened, with this file and revision.
    Opened { path: Option<PathBuf>, revision: u64, reply: Sender<()> },
    /// The song was restored from this rescue copy.
    Restored { copy: PathBuf, revision: u64, reply: Sender<()> },
    /// Remove the rescue copy.
    RemoveRescue,
    /// Export a Standard MIDI File; its size, or what went wrong, goes to `reply`.
    Export {
        song: Arc<Song>,
        extent: Extent,
        path: PathBuf,
        replace: Replace,
        reply: Sender<Result<usize, WriteError>>,
    },
}

/// Works through the jobs until the last sender is dropped.
pub(crate) fn run(jobs: &Receiver<Job>, state: &DiskState, mut guard: Guard) {
    for job in jobs {
        match job {
            Job::Save { song, revision, path, replace } => {
                save(state, &mut guard, &Saving { song, revision, path, replace });
            }
            Job::Opened { path, revision, reply } => {
                guard = path.as_deref().map(Guard::of_song_at).unwrap_or_default();
                let opened = Disk::opened(path, revision, &guard);
                let mut disk = state.get();
                *disk = Disk { attempts: disk.attempts, ..opened };
                drop(disk);
                // The caller may have stopped waiting.
                let _ = reply.send(());
            }
            Job::Restored { copy, revision, reply } => {
                restored(state, &mut guard, copy, revision);
                let _ = reply.send(());
            }
            Job::RemoveRescue => remove_rescue(state),
            Job::Export { song, extent, path, replace, reply } => {
                // The file is written even if the caller has stopped waiting.
                let _ = reply.send(export_midi(&song, &path, extent, replace));
            }
        }
    }
}

fn restored(state: &DiskState, guard: &mut Guard, copy: PathBuf, revision: u64) {
    let mut disk = state.get();
    if let (Some(path), Some(origin)) = (&disk.path, Origin::of(&copy)) {
        *guard = Guard::of_copy(path, origin.held);
    }
    (disk.saved, disk.opened, disk.held) = (Disk::NEVER, revision, guard.held());
    (disk.rescue, disk.restored) = (None, Some(copy));
}

/// A request to save.
struct Saving {
    song: Arc<Song>,
    revision: u64,
    path: Option<PathBuf>,
    replace: Replace,
}

fn save(state: &DiskState, guard: &mut Guard, asked: &Saving) {
    let path = asked.path.clone().or_else(|| state.get().path.clone());
    let done = match &path {
        Some(path) => store::save_guarded(path, &asked.song, guard, asked.replace),
        None => Err("this song has no file yet: give it a name".to_string().into()),
    };
    let mut disk = state.get();
    disk.attempts += 1;
    match done {
        Ok(()) => {
            (disk.path, disk.saved, disk.error) = (path, asked.revision, None);
            (disk.rescue, disk.held) = (None, guard.held());
            let copy = disk.restored.take();
            drop(disk);
            // The song's file now has what is in the copy. If the copy cannot be removed, it is
            // offered again.
            let _ = copy.map(|copy| rescue::remove(&copy));
        }
        Err(error) => disk.error = Some(error),
    }
}

fn remove_rescue(state: &DiskState) {
    let Some(copy) = state.get().rescue.take() else { return };
    if let Err(sentence) = rescue::remove(&copy.path) {
        let mut disk = state.get();
        disk.attempts += 1;
        disk.error = Some(sentence.into());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Refusal;
    use crate::testing::song;
    use std::path::Path;

    /// The disk thread's state, driven by hand.
    #[derive(Default)]
    struct Bench {
        state: DiskState,
        guard: Guard,
    }

    impl Bench {
        /// Saves the song "kept"; returns the state after that.
        fn save(&mut self, revision: u64, path: Option<&Path>, replace: Replace) -> Disk {
            let (song, path) = (Arc::new(song("kept", 2)), path.map(Into::into));
            save(&self.state, &mut self.guard, &Saving { song, revision, path, replace });
            self.state.get().clone()
        }
    }

    #[test]
    fn a_save_reports_path_and_revision() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("song.ron");
        let mut bench = Bench::default();
        let Disk { attempts, saved, error, .. } = bench.save(7, None, Replace::No);
        assert_eq!((attempts, saved, error.is_some()), (1, 0, true));
        let saved = bench.save(7, Some(&path), Replace::No);
        let held = bench.guard.held();
        let good =
            Disk { path: Some(path.clone()), saved: 7, attempts: 2, held, ..Disk::default() };
        assert!(held.is_some());
        assert_eq!(saved, good);
        // A failed save elsewhere leaves the song where it was.
        let failed = bench.save(8, Some(folder.path()), Replace::No);
        let Disk { path: kept, saved, error, .. } = failed;
        assert_eq!((kept.as_ref(), saved, error.is_some()), (Some(&path), 7, true));
        assert_eq!(bench.save(9, None, Replace::No), Disk { saved: 9, attempts: 4, ..good });
        assert_eq!(store::load(&path).unwrap(), song("kept", 2));
    }

    #[test]
    fn a_file_of_another_program_is_replaced_only_if_confirmed() {
        let folder = tempfile::tempdir().unwrap();
        let (own, other) = (folder.path().join("own.ron"), folder.path().join("other.ron"));
        let read = |path: &PathBuf| std::fs::read_to_string(path).unwrap();
        let mut bench = Bench::default();
        let mut save = |path: Option<&Path>, replace| bench.save(1, path, replace).error;
        std::fs::write(&other, "another song").unwrap();
        assert_eq!(save(Some(&own), Replace::No), None);
        assert_eq!(save(None, Replace::No), None, "its own file has not changed");
        // The other file changes between the question and the answer.
        let exists = Some(WriteError::Refused(Refusal::Exists(other.clone())));
        assert_eq!(save(Some(&other), Replace::No), exists);
        std::fs::write(&other, "a third song").unwrap();
        assert_eq!(save(Some(&other), Replace::Confirmed), exists);
        assert_eq!(read(&other), "a third song");
        // Its own file was edited by hand.
        std::fs::write(&own, "edited").unwrap();
        let changed = Some(WriteError::Refused(Refusal::Changed(own.clone())));
        for _ in 0..2 {
            assert_eq!(save(None, Replace::No), changed, "however often it is tried");
        }
        assert_eq!(read(&own), "edited");
        assert_eq!(save(None, Replace::Confirmed), None);
        assert_eq!(store::load(&own).unwrap(), song("kept", 2));
        // If the file is gone, saving creates it again.
        std::fs::remove_file(&own).unwrap();
        assert_eq!(save(None, Replace::No), None);
        assert_eq!(store::load(&own).unwrap(), song("kept", 2));
    }

    #[test]
    fn a_foreign_file_too_large_to_be_read_is_not_replaced_as_if_it_were_absent() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("large.ron");
        // A hole: it takes no room on the disk.
        std::fs::File::create(&path).unwrap().set_len(store::MOST_BYTES + 1).unwrap();
        let mut bench = Bench::default();
        assert!(bench.save(1, Some(&path), Replace::Confirmed).error.is_some());
        assert_eq!(std::fs::metadata(&path).unwrap().len(), store::MOST_BYTES + 1);
    }
}
