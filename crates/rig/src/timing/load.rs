//! Load for the machine: a busy thread per core, at ordinary priority.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;

/// Threads that keep the cores busy until the end.
#[derive(Debug)]
pub(super) struct Load {
    over: Arc<AtomicBool>,
    threads: Vec<thread::JoinHandle<()>>,
}

impl Load {
    /// No load.
    pub fn none() -> Load {
        Load { over: Arc::default(), threads: Vec::new() }
    }

    /// Starts a thread per core; fewer if the system has no more threads.
    pub fn start() -> Load {
        let cores = thread::available_parallelism().map_or(1, usize::from);
        let over = Arc::new(AtomicBool::new(false));
        let one = || {
            let over = over.clone();
            thread::Builder::new().name("load".to_string()).spawn(move || run(&over)).ok()
        };
        let threads = (0..cores).map_while(|_| one()).collect();
        Load { over, threads }
    }

    /// Stops them, and returns how many there were.
    pub fn stop(self) -> usize {
        self.threads.len()
    }
}

impl Drop for Load {
    fn drop(&mut self) {
        self.over.store(true, Relaxed);
        for thread in self.threads.drain(..) {
            // Nothing on these threads can panic.
            let _ = thread.join();
        }
    }
}

fn run(over: &AtomicBool) {
    let mut sum = 0u64;
    while !over.load(Relaxed) {
        for number in 0..10_000u64 {
            sum = std::hint::black_box(sum.wrapping_mul(31).wrapping_add(number));
        }
    }
}
