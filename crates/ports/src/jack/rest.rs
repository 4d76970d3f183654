//! A callback that is to return at once, before its client is closed.
//!
//! To close a client, the library stops the thread of its callback wherever it is, also inside
//! where the server did not wait for it. A thread that is stopped inside Rust code ends the whole
//! program. So first the callback is left with nothing to do.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::time::{Duration, Instant};

/// What the callback and whoever closes the client share.
#[derive(Debug, Clone, Default)]
pub struct Rest(Arc<Flags>);

#[derive(Debug, Default)]
struct Flags {
    asked: AtomicBool,
    taken: AtomicBool,
}

impl Rest {
    /// For the callback, before anything else: whether it is to return at once.
    pub fn is_asked(&self) -> bool {
        let is_asked = self.0.asked.load(SeqCst);
        if is_asked {
            self.0.taken.store(true, SeqCst);
        }
        is_asked
    }

    /// Asks for it, and waits until the callback has returned so, or for so long at most: a server
    /// that is gone calls no more.
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
    fn a_callback_is_waited_for_until_it_rests() {
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
        // Nobody calls any more.
        Rest::default().ask(Duration::from_millis(1));
    }
}
