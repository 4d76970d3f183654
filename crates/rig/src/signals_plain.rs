//! Signals where there are only two of them: silence first, then an orderly end.
//!
//! In: interrupt and terminate. Out: silence on the ports, a flag that the program's own loop
//! looks at, and the process's end where that loop does not end it in time.

use crate::rig::hush;
use chaconne_ports::Switch;
use signal_hook::consts::{SIGINT, SIGTERM};
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::SeqCst};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How often the flags are looked at.
const LOOK: Duration = Duration::from_millis(5);
/// How long the scheduler may take to silence everything before the last resort is used.
const SILENCE: Duration = Duration::from_millis(250);

/// What becomes of a program that does not end by itself after a signal.
pub struct Leave {
    /// How long it may take after the silence.
    pub patience: Duration,
    /// What is done last: giving the terminal back, for instance. Must not wait.
    pub restore: Box<dyn Fn() + Send>,
}

/// Signals that are caught and wait to be seen to.
pub struct Caught(Arc<AtomicUsize>);

/// Watches for signals until it is dropped.
pub struct Signals {
    asked: Arc<AtomicUsize>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Signals {
    /// Catches signals from now on: before anything can sound, so that none ends the process
    /// without silence. There is no suspension on these systems.
    ///
    /// # Errors
    /// Where the system refuses.
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
    /// The number of a signal that has come and asks the program to end, for a job that sounds
    /// nothing and looks for itself.
    pub fn asked(&mut self) -> Option<i32> {
        Some(self.0.load(SeqCst) as i32).filter(|&number| number != 0)
    }

    /// Sees to what was caught and to what comes. The first signal silences everything and sets
    /// [`Signals::asked`]. If the process has not ended when the patience is over, it ends with 128
    /// and the signal's number.
    ///
    /// # Errors
    /// Where the system gives no thread.
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
            // Its panic has been told where it happened.
            let _ = thread.join();
        }
    }
}

impl fmt::Debug for Signals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Signals").field("asked", &self.asked()).finish_non_exhaustive()
    }
}
