//! Second handles on the byte ports, for two jobs that must not use the scheduler thread: checking
//! whether the far end is still connected, and the last-resort silence.
//!
//! The scheduler thread never takes the lock.

use crate::stream::{ByteStream, Spare};
use chaconne_clock::Sounding;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};
use std::thread;
use std::time::Duration;

/// The second handles, by port.
#[derive(Debug)]
pub(crate) struct Spares {
    ports: Mutex<Vec<Option<Spare>>>,
    sounding: Arc<Sounding>,
}

impl Spares {
    pub fn new(ports: usize, sounding: Arc<Sounding>) -> Spares {
        Spares { ports: Mutex::new((0..ports).map(|_| None).collect()), sounding }
    }

    /// Keeps a second handle on a port's stream; with `None`, drops it.
    pub fn set(&self, port: usize, stream: Option<&ByteStream>) {
        let spare = stream.and_then(ByteStream::spare);
        if let Some(place) = self.lock().get_mut(port) {
            *place = spare;
        }
    }

    /// Drops all handles, so that the readers see the end of the stream.
    pub fn clear(&self) {
        self.lock().clear();
    }

    /// Whether the reader of a port's stream has gone.
    pub fn is_gone(&self, port: usize) -> bool {
        self.lock().get(port).is_some_and(|spare| spare.as_ref().is_some_and(Spare::is_gone))
    }

    /// Writes the note-offs of everything sounding directly to the streams; returns how many were
    /// written.
    pub fn force_note_offs(&self) -> usize {
        let Some(ports) = self.lock_soon() else { return 0 };
        let mut written = 0;
        for (port, spare) in ports.iter().enumerate() {
            let Some(spare) = spare else { continue };
            let releases = self.sounding.releases(port);
            written += releases.take_while(|message| spare.write(&message.bytes())).count();
        }
        written
    }

    fn lock(&self) -> MutexGuard<'_, Vec<Option<Spare>>> {
        self.ports.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The lock, unless it stays taken for 100 ms: the last resort does not wait longer.
    fn lock_soon(&self) -> Option<MutexGuard<'_, Vec<Option<Spare>>>> {
        for _ in 0..100 {
            match self.ports.try_lock() {
                Ok(ports) => return Some(ports),
                Err(TryLockError::Poisoned(error)) => return Some(error.into_inner()),
                Err(TryLockError::WouldBlock) => thread::sleep(Duration::from_millis(1)),
            }
        }
        None
    }
}
