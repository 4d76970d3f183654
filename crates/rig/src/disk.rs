//! The disk thread: saves and exports one after the other, away from the music.
//!
//! In: jobs, each with the song as it was at the request. Out: files, and the outcome in [`Disk`].

use crate::export::{Extent, export_midi};
use crate::recent::RecentSongs;
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
    Opened { song: Arc<Song>, path: Option<PathBuf>, revision: u64, reply: Sender<bool> },
    /// The song was restored from this rescue copy.
    Restored { copy: PathBuf, revision: u64, reply: Sender<bool> },
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
pub(crate) fn run(
    jobs: &Receiver<Job>,
    state: &DiskState,
    mut guard: Guard,
    recent: Option<&RecentSongs>,
) {
    let mut noted = None;
    note(state, recent, &mut noted);
    for job in jobs {
        match job {
            Job::Save { song, revision, path, replace } => {
                save(state, &mut guard, &Saving { song, revision, path, replace });
            }
            Job::Opened { song, path, revision, reply } => {
                guard = path.as_deref().map(Guard::of_song_at).unwrap_or_default();
                let opened = Disk::opened(path, revision, &guard);
                let mut disk = state.get();
                *disk = Disk { attempts: disk.attempts, song: Some(song), ..opened };
                drop(disk);
                // The caller may have stopped waiting.
                let _ = reply.send(true);
            }
            Job::Restored { copy, revision, reply } => {
                restored(state, &mut guard, copy, revision);
                let _ = reply.send(true);
            }
            Job::RemoveRescue => remove_rescue(state),
            Job::Export { song, extent, path, replace, reply } => {
                // The file is written even if the caller has stopped waiting.
                let _ = reply.send(export_midi(&song, &path, extent, replace));
            }
        }
        note(state, recent, &mut noted);
    }
}

/// Remembers the song's file, if it exists and is not the one remembered last.
fn note(state: &DiskState, recent: Option<&RecentSongs>, noted: &mut Option<PathBuf>) {
    let Some(recent) = recent else { return };
    let disk = state.get().clone();
    if disk.exists() && disk.path != *noted {
        disk.path.iter().for_each(|path| recent.note(path));
        *noted = disk.path;
    }
}

fn restored(state: &DiskState, guard: &mut Guard, copy: PathBuf, revision: u64) {
    let mut disk = state.get();
    if let (Some(path), Some(origin)) = (&disk.path, Origin::of(&copy)) {
        *guard = Guard::of_copy(path, origin.held);
    }
    (disk.saved, disk.opened, disk.held) = (Disk::NEVER, revision, guard.held());
    disk.song = None;
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
    let own = state.get().path.clone();
    let path = asked.path.clone().map(with_extension).or_else(|| own.clone());
    let done = match &path {
        Some(path) if path.is_dir() => {
            let (folder, file) = (path.display(), path.join("song.ron"));
            let file = file.display();
            Err(format!("'{folder}' is a folder: add a file name, e.g. {file}").into())
        }
        Some(path) => store::save_guarded(path, &asked.song, guard, asked.replace),
        None => Err("this song has no file yet: give it a name".to_string().into()),
    };
    let mut disk = state.get();
    disk.attempts += 1;
    match done {
        Ok(()) => {
            (disk.path, disk.saved, disk.song) = (path, asked.revision, Some(asked.song.clone()));
            (disk.error, disk.own_error) = (None, None);
            (disk.rescue, disk.held) = (None, guard.held());
            let copy = disk.restored.take();
            drop(disk);
            // The song's file now has what is in the copy. If the copy cannot be removed, it is
            // offered again.
            let _ = copy.map(|copy| rescue::remove(&copy));
        }
        Err(error) => {
            if own.is_some() && path == own {
                disk.own_error = Some(error.clone());
            }
            disk.error = Some(error);
        }
    }
}

/// The file of a song under this name: adds the extension of songs to a name without one, unless it
/// is a folder's.
fn with_extension(path: PathBuf) -> PathBuf {
    let bare = path.file_name().is_some() && path.extension().is_none();
    if !bare || path.as_os_str().as_encoded_bytes().ends_with(b"/") || path.is_dir() {
        return path;
    }
    let mut name = path.into_os_string();
    name.push(".ron");
    name.into()
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
        let (held, song_then) = (bench.guard.held(), Some(Arc::new(song("kept", 2))));
        let good =
            Disk { path: Some(path.clone()), saved: 7, attempts: 2, held, ..Disk::default() };
        let good = Disk { song: song_then, ..good };
        assert!(held.is_some());
        assert_eq!(saved, good);
        // A failed save elsewhere leaves the song where it was.
        let failed = bench.save(8, Some(folder.path()), Replace::No);
        let Disk { path: kept, saved, error, .. } = failed.clone();
        assert_eq!((kept.as_ref(), saved, error.is_some()), (Some(&path), 7, true));
        assert_eq!(failed.own_error, None);
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
        let changed = Some(WriteError::Refused(Refusal::ChangedSince(other.clone())));
        assert_eq!(save(Some(&other), Replace::Confirmed), changed);
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
    fn a_file_name_without_an_extension_gets_one() {
        for (typed, file) in [
            ("ebb", "ebb.ron"),
            ("sketches/ebb", "sketches/ebb.ron"),
            ("ebb.ron", "ebb.ron"),
            ("ebb.txt", "ebb.txt"),
            (".ebb", ".ebb.ron"),
            ("sketches/", "sketches/"),
            ("..", ".."),
        ] {
            assert_eq!(with_extension(typed.into()), PathBuf::from(file));
        }
    }

    #[test]
    fn the_name_of_a_folder_is_refused_and_nothing_is_saved_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("my");
        std::fs::create_dir(&path).unwrap();
        let mut bench = Bench::default();
        let error = bench.save(1, Some(&path), Replace::No).error.unwrap().to_string();
        let (typed, file) = (path.display(), path.join("song.ron"));
        let said = format!("'{typed}' is a folder: add a file name, e.g. {}", file.display());
        assert_eq!(error, said);
        assert!(!folder.path().join("my.ron").exists());
        assert_eq!(bench.save(1, Some(&path.join("ebb")), Replace::No).error, None);
        assert!(path.join("ebb.ron").exists());
    }

    #[test]
    fn only_a_save_to_its_own_file_changes_how_that_file_is_shown() {
        let folder = tempfile::tempdir().unwrap();
        let (own, other) = (folder.path().join("own.ron"), folder.path().join("other.ron"));
        std::fs::write(&other, "another song").unwrap();
        let mut bench = Bench::default();
        bench.save(1, Some(&own), Replace::No);
        for elsewhere in [&other, &folder.path().join("none/ebb.ron")] {
            let disk = bench.save(2, Some(elsewhere), Replace::No);
            assert_eq!((disk.error.is_some(), disk.own_error), (true, None));
        }
        std::fs::write(&own, "edited").unwrap();
        let changed = Some(WriteError::Refused(Refusal::Changed(own)));
        assert_eq!(bench.save(2, None, Replace::No).own_error, changed);
        assert_eq!(bench.save(2, Some(&other), Replace::No).own_error, changed);
        assert_eq!(bench.save(2, Some(&other), Replace::Confirmed).own_error, None);
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
