//! Makes a callback return at once, before its client is closed.
//!
//! To close a client, the library cancels the callback's thread wherever it is, even inside the
//! callback if the server did not wait for it. A thread cancelled inside Rust code ends the whole
//! program. So the callback is first given nothing to do.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::time::{Duration, Instant};

/// What the callback and the thread that closes the client share.
#[derive(Debug, Clone, Default)]
pub struct Rest(Arc<Flags>);

#[derive(Debug, Default)]
struct Flags {
    asked: AtomicBool,
    taken: AtomicBool,
}

impl Rest {
    /// Whether the callback must return at once. The callback checks this first.
    pub fn is_asked(&self) -> bool {
        let is_asked = self.0.asked.load(SeqCst);
        if is_asked {
            self.0.taken.store(true, SeqCst);
        }
        is_asked
    }

    /// Asks the callback to rest, and waits until it has done so or `at_most` has passed: a server
    /// that is gone makes no more calls.
    pub fn ask(&self, at_most: Duration) {
        self.0.asked.store(true, SeqCst);
        let begin = Instant::now();
        while !self.0.taken.load(SeqCst) && begin.elapsed() < at_most {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn asking_waits_until_the_callback_rests() {
        let rest = Rest::default();
        assert!(!rest.is_asked());
        let callback = std::thread::spawn({
            let rest = rest.clone();
            move || {
                while !rest.is_asked() {
                    std::thread::yield_now();
                }
            }
        });
        rest.ask(Duration::from_secs(600));
        callback.join().unwrap();
        // No callback runs any more.
        Rest::default().ask(Duration::from_millis(1));
    }
}
