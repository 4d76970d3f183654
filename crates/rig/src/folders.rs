//! Reads folders on request, each on a thread of its own: a disk that does not answer holds up
//! nobody.
//!
//! In: a folder, and the number of the request. Out: the answer to the newest request in
//! [`FolderReport`]; that to an older one is dropped.

use crate::browse::SongFolder;
use crate::recent::RecentSongs;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::SystemTime;

/// The most folders that are read at a time; only a disk that does not answer brings it to that.
const MOST: usize = 8;

/// The answer to a request for a folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FolderReport {
    /// The number of the request.
    pub number: u64,
    /// The folder, or one sentence on why it cannot be read.
    pub folder: Result<SongFolder, String>,
    /// The songs that were opened or saved last, the newest first.
    pub recent: Vec<PathBuf>,
}

/// The requests for folders. Dropping it waits for none of them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Folders(Arc<Mutex<Requests>>);

#[derive(Debug, Default)]
struct Requests {
    newest: u64,
    /// How many folders are being read.
    running: usize,
    answer: Option<Arc<FolderReport>>,
}

impl Folders {
    /// Asks for a folder and the recent songs.
    pub fn ask(&self, number: u64, path: PathBuf, recent: Option<RecentSongs>) {
        self.ask_with(number, move || {
            let folder = SongFolder::read(&path, SystemTime::now());
            let recent = recent.as_ref().map(RecentSongs::songs).unwrap_or_default();
            FolderReport { number, folder, recent }
        });
    }

    fn ask_with(&self, number: u64, read: impl FnOnce() -> FolderReport + Send + 'static) {
        let mut requests = self.lock();
        requests.newest = number;
        if requests.running >= MOST {
            let waits = "the disk does not answer: earlier folders are still being read";
            return requests.refuse(number, waits.into());
        }
        let folders = self.clone();
        let run = move || {
            let report = read();
            let mut requests = folders.lock();
            requests.running -= 1;
            if requests.newest == number {
                requests.answer = Some(Arc::new(report));
            }
        };
        match thread::Builder::new().name("folder".to_string()).spawn(run) {
            Ok(_) => requests.running += 1,
            Err(error) => requests.refuse(number, format!("no thread could be started: {error}")),
        }
    }

    /// The latest answer.
    pub fn answer(&self) -> Option<Arc<FolderReport>> {
        self.lock().answer.clone()
    }

    fn lock(&self) -> MutexGuard<'_, Requests> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Requests {
    fn refuse(&mut self, number: u64, sentence: String) {
        let (folder, recent) = (Err(sentence), Vec::new());
        self.answer = Some(Arc::new(FolderReport { number, folder, recent }));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Sender, channel};
    use std::time::{Duration, Instant};

    fn report(number: u64) -> FolderReport {
        FolderReport { number, folder: Ok(SongFolder::default()), recent: Vec::new() }
    }

    /// Asks for a folder on a disk that answers when the sender is used or dropped.
    fn ask_slow(folders: &Folders, number: u64) -> Sender<()> {
        let (disk, answers) = channel();
        folders.ask_with(number, move || {
            _ = answers.recv();
            report(number)
        });
        disk
    }

    fn wait(folders: &Folders, until: impl Fn(&Requests) -> bool) {
        let start = Instant::now();
        while !until(&folders.lock()) {
            assert!(start.elapsed() < Duration::from_secs(20), "no answer");
            thread::sleep(Duration::from_millis(1));
        }
    }

    #[test]
    fn the_newest_request_is_answered_even_if_an_older_one_is_late() {
        let folders = Folders::default();
        let first = ask_slow(&folders, 1);
        assert_eq!(folders.answer(), None, "asking does not wait");
        drop(ask_slow(&folders, 2));
        wait(&folders, |requests| requests.running == 1);
        assert_eq!(folders.answer().as_deref(), Some(&report(2)));
        drop(first);
        wait(&folders, |requests| requests.running == 0);
        assert_eq!(folders.answer().as_deref(), Some(&report(2)), "a late answer is dropped");
    }

    #[test]
    fn a_disk_that_never_answers_does_not_collect_threads() {
        let folders = Folders::default();
        let disks: Vec<_> = (0..MOST as u64).map(|number| ask_slow(&folders, number)).collect();
        drop(ask_slow(&folders, 100));
        let refused = folders.answer().unwrap();
        assert_eq!((refused.number, refused.folder.is_err()), (100, true));
        drop(disks);
        wait(&folders, |requests| requests.running == 0);
        drop(ask_slow(&folders, 101));
        wait(&folders, |requests| requests.running == 0);
        assert_eq!(folders.answer().as_deref(), Some(&report(101)));
    }

    #[test]
    fn a_folder_is_read_with_the_recent_songs() {
        let place = tempfile::tempdir().unwrap();
        let (song, state) = (place.path().join("tide.ron"), place.path().join("recent"));
        std::fs::write(&song, "").unwrap();
        let recent = RecentSongs::in_file(state);
        recent.note(&song);
        let folders = Folders::default();
        folders.ask(7, place.path().into(), Some(recent));
        wait(&folders, |requests| requests.answer.is_some());
        let answer = folders.answer().unwrap();
        assert_eq!(answer.folder.as_ref().unwrap().songs[0].path, song);
        assert_eq!(answer.recent, [song]);
    }
}
