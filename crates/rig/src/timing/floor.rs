//! The best the machine can do: a thread that only sleeps until one deadline after the other, with
//! the scheduler's priority and timer slack, and without busy waiting.

use chaconne_ports::{Role, now, raise_priority};
use chaconne_time::Ns;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// A running bare timer.
#[derive(Debug)]
pub(super) struct BareTimer {
    over: Arc<AtomicBool>,
    thread: JoinHandle<Vec<Ns>>,
}

impl BareTimer {
    /// Starts a timer that wakes this many times per second, evenly spaced, for about this many
    /// seconds.
    pub fn start(per_second: u32, seconds: u32) -> Result<BareTimer, String> {
        let over = Arc::new(AtomicBool::new(false));
        let run = {
            let over = over.clone();
            move || run(per_second, seconds, &over)
        };
        let thread = thread::Builder::new().name("bare timer".to_string()).spawn(run);
        let thread = thread.map_err(|error| format!("no thread could be started: {error}"))?;
        Ok(BareTimer { over, thread })
    }

    /// Stops it; returns how late it woke each time, in nanoseconds.
    pub fn stop(self) -> Vec<Ns> {
        self.over.store(true, Relaxed);
        // It can only panic when memory runs out, and then it has measured nothing.
        self.thread.join().unwrap_or_default()
    }
}

/// Sleeps until each deadline and records how late it woke. A missed deadline does not move the
/// later ones.
fn run(per_second: u32, seconds: u32, over: &AtomicBool) -> Vec<Ns> {
    raise_priority(Role::Scheduler);
    // Growing the vector would make a wake-up late.
    let mut late = Vec::with_capacity(per_second as usize * (seconds as usize + 2));
    let start = now();
    for turn in 1.. {
        let due = start + turn * 1_000_000_000 / Ns::from(per_second.max(1));
        if let Ok(left @ 1..) = u64::try_from(due - now()) {
            thread::sleep(Duration::from_nanos(left));
        }
        late.push(now() - due);
        if over.load(Relaxed) {
            break;
        }
    }
    late
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bare_timer_never_wakes_early() {
        let late = BareTimer::start(2000, 1).unwrap().stop();
        assert!(!late.is_empty() && late.iter().all(|&late| late >= 0));
    }
}
