//! Songs that are read while another one is at hand: one to open, a rescue copy, or the song's own file
//! to compare it with.
//!
//! In: a path, and the song as it was when the user asked. Out: the song in place of the one at hand,
//! unless that was changed in the meantime; or the differences.

use crate::disk::DiskState;
use crate::engine_thread::{Asked, EngineShared, Request};
use crate::store::{LoadError, load};
use chaconne_engine::Status;
use chaconne_ports::now;
use chaconne_song::Song;
use crossbeam_channel::{Sender, bounded};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;
use std::time::{Duration, Instant};

/// How long a thread that has read a song waits until it is open.
const OPEN: Duration = Duration::from_secs(10);
/// How often it looks.
const LOOK: Duration = Duration::from_millis(1);

/// What is to be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SongRequest {
    /// The song in this file, to open it.
    Open(PathBuf),
    /// The rescue copy, to restore it.
    Restore,
    /// The song's own file, to compare the song with it.
    Compare,
}

/// What was done with a song that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SongRead {
    /// It was opened.
    Opened,
    /// It was restored.
    Restored,
    /// It was compared: how the song at hand differs from it, one sentence each; empty if both play
    /// the same.
    Compared(Vec<String>),
}

/// What the user saw when they asked for another song; what is played or changed after that is not
/// theirs to lose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct AsOf {
    revision: u64,
    has_unfinished: bool,
}

impl AsOf {
    pub fn of(status: &Status) -> AsOf {
        let unfinished = status.unfinished.as_ref();
        let has_unfinished = unfinished.is_some_and(|pass| !pass.is_empty());
        AsOf { revision: status.revision, has_unfinished }
    }

    /// Whether the song is now as it was then; a round that was unfinished then may have grown.
    pub fn holds(self, status: &Status) -> bool {
        let now = AsOf::of(status);
        now.revision == self.revision && (self.has_unfinished || !now.has_unfinished)
    }
}

/// The way from the files to the engine, for a thread that reads.
#[derive(Debug, Clone)]
pub(crate) struct Songs {
    pub requests: Sender<Asked>,
    pub shared: Arc<EngineShared>,
    pub disk: DiskState,
}

/// A song that was read, and what is to be done with it.
#[derive(Debug)]
pub(crate) enum Loaded {
    Open(Box<Song>, PathBuf),
    Restore(Box<Song>, PathBuf),
    Compare(Box<Song>),
}

impl Songs {
    /// Reads what is asked for.
    ///
    /// # Errors
    /// If there is no such file, or it cannot be read: one sentence.
    pub fn load(&self, request: SongRequest) -> Result<Loaded, String> {
        let disk = self.disk.get().clone();
        match request {
            SongRequest::Open(path) => Ok(Loaded::Open(read(&path)?, path)),
            SongRequest::Restore => {
                let copy = disk.rescue.ok_or("there is no rescue copy of this song")?.path;
                Ok(Loaded::Restore(read(&copy)?, copy))
            }
            SongRequest::Compare => {
                let path = disk.path.ok_or("this song has no file yet")?;
                Ok(Loaded::Compare(read(&path)?))
            }
        }
    }

    /// Puts a song in place of the one at hand, or compares the two.
    ///
    /// # Errors
    /// If the song at hand has changed since `as_of`: one sentence, and nothing is opened.
    pub fn apply(&self, loaded: Loaded, as_of: AsOf) -> Result<SongRead, String> {
        let (reply, answer) = bounded(1);
        let (request, done) = match loaded {
            Loaded::Compare(theirs) => {
                let ours = &self.shared.status().song;
                return Ok(SongRead::Compared(chaconne_exchange::differences(ours, &theirs)));
            }
            Loaded::Open(song, path) => {
                (Request::Open(song, Some(path), Some(as_of), reply), SongRead::Opened)
            }
            Loaded::Restore(song, copy) => {
                (Request::Restore(song, copy, as_of, reply), SongRead::Restored)
            }
        };
        // The engine thread only ends early after a panic, which was reported.
        let _ = self.requests.send(Asked { stamp: now(), request });
        let changed = "the song has changed in the meantime: nothing was opened, try again";
        match answer.recv_timeout(OPEN) {
            Ok(true) => {
                self.wait_until_shown(as_of);
                Ok(done)
            }
            Ok(false) => Err(changed.to_string()),
            Err(_) => Err("the song could not be opened: the disk is busy".to_string()),
        }
    }
}

impl Songs {
    /// Waits until the status shows the new song, so that who is told of it also sees it.
    fn wait_until_shown(&self, as_of: AsOf) {
        let start = Instant::now();
        while self.shared.status().revision == as_of.revision && start.elapsed() < OPEN {
            thread::sleep(LOOK);
        }
    }
}

/// The song in a file. The first thing that is wrong with it is enough to know where to look.
fn read(path: &Path) -> Result<Box<Song>, String> {
    let first = |error: LoadError| error.sentences().first().cloned().unwrap_or_default();
    load(path).map(Box::new).map_err(first)
}
