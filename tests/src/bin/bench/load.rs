//! Other work on the machine: as many threads as there are cores, at ordinary priority, that do
//! nothing but keep them busy.

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
    /// Begins, where `busy` says so.
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
            // It has nothing to fail at.
            let _ = thread.join();
        }
    }
}
