//! Other work on the machine: one thread per core, at ordinary priority, that keeps it busy.

use std::hint::black_box;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread::{self, JoinHandle};

/// The work; it ends when this is dropped.
pub struct Load {
    over: Arc<AtomicBool>,
    threads: Vec<JoinHandle<()>>,
}

impl Load {
    /// Starts the work if `busy`.
    pub fn new(busy: bool) -> Load {
        let over = Arc::new(AtomicBool::new(false));
        let cores = thread::available_parallelism().map_or(2, usize::from);
        let work = |over: Arc<AtomicBool>| {
            let mut number = 1u64;
            while !over.load(Relaxed) {
                number = black_box(number.wrapping_mul(6_364_136_223_846_793_005) | 1);
            }
        };
        let count = if busy { cores } else { 0 };
        let spawn = |_| {
            let over = over.clone();
            thread::spawn(move || work(over))
        };
        let threads = (0..count).map(spawn).collect();
        Load { over, threads }
    }
}

impl Drop for Load {
    fn drop(&mut self) {
        self.over.store(true, Relaxed);
        for thread in self.threads.drain(..) {
            // The thread cannot fail.
            let _ = thread.join();
        }
    }
}
