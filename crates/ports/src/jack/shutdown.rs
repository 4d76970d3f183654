//! Notices that the JACK server has gone, as soon as the library reports it.
//!
//! In: the library's call, on a separate thread for each client. Out: flags, and whether that thread
//! has ended. A server that is back a moment later is a new one; without the report, an old client
//! would notice only because its callback is no longer called.

use super::line::CallbackState;
use jack::{ClientStatus, NotificationHandler};
use std::cell::Cell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU8, Ordering::SeqCst};
use std::time::{Duration, Instant};

/// The state of the server that this process's clients belong to.
static SERVER: AtomicU8 = AtomicU8::new(RUNNING);
const RUNNING: u8 = 0;
/// It no longer calls anyone.
const SILENT: u8 = 1;
/// It has reported that it is shutting down.
const SHUTTING_DOWN: u8 = 2;

/// How long a server may take to shut down.
const SHUTDOWN_TIME: Duration = Duration::from_secs(2);

/// Whether the server of this process's clients is gone.
pub(super) fn is_server_gone() -> bool {
    SERVER.load(SeqCst) != RUNNING
}

/// Allows a new server, because all clients of the old one are closed.
pub(super) fn allow_new_server() {
    SERVER.store(RUNNING, SeqCst);
}

/// Receives the library's reports about one client's server.
pub(super) struct ShutdownHandler {
    shared: Arc<CallbackState>,
    shutdown_notice: ShutdownNotice,
}

impl ShutdownHandler {
    pub fn new(shared: Arc<CallbackState>, shutdown_notice: ShutdownNotice) -> ShutdownHandler {
        ShutdownHandler { shared, shutdown_notice }
    }
}

/// Takes notice that a client has lost its server without a report: tells the other end of its port,
/// and prevents new clients until the old ones are closed.
pub(super) fn server_missed(shared: &CallbackState) {
    shared.gone.store(true, SeqCst);
    // The server's own report takes precedence.
    let _ = SERVER.compare_exchange(RUNNING, SILENT, SeqCst, SeqCst);
}

// Sound: the trait declares the method unsafe because JACK may call it where a signal handler could
// run. jackd's library calls it on a separate thread that waits for the server's messages, where it
// may allocate, and setting up the notice of that thread's end does. Apart from that it only sets
// flags; nothing in it is unsafe.
#[allow(unsafe_code)]
impl NotificationHandler for ShutdownHandler {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.shared.gone.store(true, SeqCst);
        self.shutdown_notice.heard();
    }
}

#[allow(unsafe_code)]
impl NotificationHandler for ShutdownNotice {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.heard();
    }
}

/// Knows whether the thread on which the library receives the server's messages for a client has
/// ended. It can be the client's notification handler, or be [notified](ShutdownNotice::heard) by it.
///
/// To close a client, the library cancels that thread wherever it is. A server that shuts down
/// tells its clients of each other's end, and the library handles that under a lock shared by all
/// clients of a process: a thread cancelled inside keeps the lock for ever, and nothing can be
/// opened or closed any more. So a client is closed only after the thread has ended by itself, as
/// it does when the server is gone.
#[derive(Debug, Clone, Default)]
pub struct ShutdownNotice(Arc<AtomicBool>);

/// Dropped when the thread that holds it ends.
struct ThreadEnd(ShutdownNotice);

impl Drop for ThreadEnd {
    fn drop(&mut self) {
        self.0.0.store(true, SeqCst);
    }
}

thread_local! {
    static THREAD_END: Cell<Option<ThreadEnd>> = const { Cell::new(None) };
}

impl ShutdownNotice {
    /// Call this on that thread when the server reports that it is shutting down.
    pub fn heard(&self) {
        SERVER.store(SHUTTING_DOWN, SeqCst);
        // If the thread is already ending, nothing needs to be kept.
        let _ = THREAD_END.try_with(|end| end.set(Some(ThreadEnd(self.clone()))));
    }

    /// If the server has reported that it is shutting down, to this client or another: waits until
    /// the thread has ended, for at most two seconds.
    pub(super) fn wait(&self) {
        let begin = Instant::now();
        while SERVER.load(SeqCst) == SHUTTING_DOWN
            && !self.0.load(SeqCst)
            && begin.elapsed() < SHUTDOWN_TIME
        {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shutdown_is_complete_when_its_thread_has_ended() {
        let word = ShutdownNotice::default();
        let (end, wait) = std::sync::mpsc::channel::<()>();
        let (sender, has_heard) = std::sync::mpsc::channel();
        let thread = std::thread::spawn({
            let word = word.clone();
            move || {
                word.heard();
                sender.send(()).unwrap();
                let _ = wait.recv();
            }
        });
        has_heard.recv().unwrap();
        assert!(!word.0.load(SeqCst));
        drop(end);
        thread.join().unwrap();
        assert!(word.0.load(SeqCst));
    }
}
