//! Signals on systems with only two of them: silence first, then an orderly shutdown.
//!
//! In: interrupt and terminate. Out: silence on the ports, a flag for the program's own loop, and
//! the end of the process if that loop does not end it in time.

use crate::rig::hush;
use chaconne_ports::Switch;
use signal_hook::consts::{SIGINT, SIGTERM};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::SeqCst};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How often the flags are checked.
const LOOK: Duration = Duration::from_millis(5);
/// How long the scheduler may take to silence everything before the last resort.
const SILENCE: Duration = Duration::from_millis(250);

/// What to do with a program that does not end by itself after a signal.
pub struct Leave {
    /// How long it may take after the silence.
    pub patience: Duration,
    /// The last thing to do, e.g. to restore the terminal. Must not take long.
    pub restore: Box<dyn Fn() + Send>,
}

/// Signals that are caught and wait to be handled.
pub struct Caught(Arc<AtomicUsize>);

/// Watches for signals until it is dropped.
pub struct Signals {
    asked: Arc<AtomicUsize>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Signals {
    /// Catches signals from now on. Call this before anything can sound, so that no signal ends the
    /// process without silence. These systems have no suspension.
    ///
    /// # Errors
    /// If the system refuses.
    pub fn catch(_suspends: bool) -> std::io::Result<Caught> {
        let asked = Arc::new(AtomicUsize::new(0));
        for number in [SIGINT, SIGTERM] {
            signal_hook::flag::register_usize(number, asked.clone(), number as usize)?;
        }
        Ok(Caught(asked))
    }

    /// The number of the signal that asked the program to end, if one did.
    pub fn asked(&self) -> Option<i32> {
        Some(self.asked.load(SeqCst) as i32).filter(|&number| number != 0)
    }
}

impl Caught {
    /// The number of a signal that asks the program to end, if one has come; for a command that
    /// plays nothing and checks by itself.
    pub fn asked(&mut self) -> Option<i32> {
        Some(self.0.load(SeqCst) as i32).filter(|&number| number != 0)
    }

    /// Handles the signals caught so far and all later ones. The first signal silences everything
    /// and sets [`Signals::asked`]. If the process has not ended after [`Leave::patience`], it ends
    /// with 128 plus the signal's number.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn watch(self, switch: Switch, leave: Leave) -> std::io::Result<Signals> {
        let (asked, over) = (self.0, Arc::new(AtomicBool::new(false)));
        let (flag, end) = (asked.clone(), over.clone());
        let spawn = thread::Builder::new().name("signals".to_string());
        let thread = Some(spawn.spawn(move || run(&switch, &leave, &flag, &end))?);
        Ok(Signals { asked, over, thread })
    }
}

fn run(switch: &Switch, leave: &Leave, asked: &AtomicUsize, over: &AtomicBool) {
    while asked.load(SeqCst) == 0 {
        if over.load(SeqCst) {
            return;
        }
        thread::sleep(LOOK);
    }
    hush(switch, SILENCE);
    let start = Instant::now();
    while !over.load(SeqCst) {
        if start.elapsed() >= leave.patience {
            hush(switch, Duration::from_millis(20));
            (leave.restore)();
            signal_hook::low_level::exit(128 + asked.load(SeqCst) as i32);
        }
        thread::sleep(LOOK);
    }
}

impl Drop for Signals {
    fn drop(&mut self) {
        self.over.store(true, SeqCst);
        if let Some(thread) = self.thread.take() {
            // Its panic was reported where it happened.
            let _ = thread.join();
        }
    }
}

impl fmt::Debug for Signals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Signals").field("asked", &self.asked()).finish_non_exhaustive()
    }
}
