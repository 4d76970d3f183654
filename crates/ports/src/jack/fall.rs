//! That the server has gone, told by the library as it happens.
//!
//! In: its call, on a thread of its own for each client. Out: flags, and when that thread has ended.
//! A server that is back a moment later is another one; without this a client of the first would
//! only be missed by its silence.

use super::line::Shared;
use jack::{ClientStatus, NotificationHandler};
use std::cell::Cell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering::SeqCst};
use std::time::{Duration, Instant};

/// How the server of this process's clients is.
static FALL: AtomicU8 = AtomicU8::new(STANDS);
const STANDS: u8 = 0;
/// It calls nobody any more.
const SILENT: u8 = 1;
/// It has said that it goes.
const TOLD: u8 = 2;

/// How long a server that goes may take to be gone.
const GOING: Duration = Duration::from_secs(2);

/// Whether the server that the clients of this process belong to is gone.
pub(super) fn is_fallen() -> bool {
    FALL.load(SeqCst) != STANDS
}

/// All clients of the server that is gone are closed: another may be used.
pub(super) fn rise() {
    FALL.store(STANDS, SeqCst);
}

/// What the library tells of one client's server.
pub(super) struct Fall {
    shared: Arc<Shared>,
    last_word: LastWord,
}

impl Fall {
    pub fn new(shared: Arc<Shared>, last_word: LastWord) -> Fall {
        Fall { shared, last_word }
    }
}

/// The server of a client is missed: whoever holds the other end of its port is told, and no new
/// client is opened until the old ones are closed.
pub(super) fn missed(shared: &Shared) {
    shared.gone.store(true, SeqCst);
    // What it has said itself stands.
    let _ = FALL.compare_exchange(STANDS, SILENT, SeqCst, SeqCst);
}

// Sound, both: the method is declared unsafe for whoever calls it, as JACK lets it be called where a
// signal handler may be. jackd's library calls it on a thread of its own that waits for the server's
// word, where it may allocate, as leaving a word for that thread's end does. It stores into flags
// besides, and does nothing that is unsafe itself.
#[allow(unsafe_code)]
impl NotificationHandler for Fall {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.shared.gone.store(true, SeqCst);
        self.last_word.heard();
    }
}

#[allow(unsafe_code)]
impl NotificationHandler for LastWord {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.heard();
    }
}

/// Whether the thread on which the library hears what the server tells a client is done. It can be
/// the client's handler of notifications, or be [told](LastWord::heard) by it.
///
/// To close a client, the library stops that thread wherever it is. While a server goes, it tells
/// its clients of each other's end, which they take in under a lock that all clients of a process
/// share: a thread that is stopped inside keeps it for ever, and nothing is opened or closed any
/// more. So a client is closed after the thread has ended by itself, as it does when the server is
/// gone.
#[derive(Debug, Clone, Default)]
pub struct LastWord(Arc<AtomicBool>);

/// Let go with the thread that it was given to.
struct Ear(LastWord);

impl Drop for Ear {
    fn drop(&mut self) {
        self.0.0.store(true, SeqCst);
    }
}

thread_local! {
    static EAR: Cell<Option<Ear>> = const { Cell::new(None) };
}

impl LastWord {
    /// To be called on that thread, when the server says that it goes.
    pub fn heard(&self) {
        FALL.store(TOLD, SeqCst);
        // Where it ends already, that is as good.
        let _ = EAR.try_with(|ear| ear.set(Some(Ear(self.clone()))));
    }

    /// Where the server has said that it goes, to this client or to another: waits until the thread
    /// has ended, for two seconds at most.
    pub(super) fn wait(&self) {
        let begin = Instant::now();
        while FALL.load(SeqCst) == TOLD && !self.0.load(SeqCst) && begin.elapsed() < GOING {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_last_word_lasts_until_its_thread_ends() {
        let word = LastWord::default();
        let (go, wait) = std::sync::mpsc::channel::<()>();
        let (tell, told) = std::sync::mpsc::channel();
        let thread = std::thread::spawn({
            let word = word.clone();
            move || {
                word.heard();
                tell.send(()).unwrap();
                let _ = wait.recv();
            }
        });
        told.recv().unwrap();
        assert!(!word.0.load(SeqCst));
        drop(go);
        thread.join().unwrap();
        assert!(word.0.load(SeqCst));
    }
}
