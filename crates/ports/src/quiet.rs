//! Keeps the C libraries under the MIDI services from writing over the screen.
//!
//! They write to standard error when there is no sequencer or no server. During such a call,
//! standard error goes nowhere; anything another thread writes to it in those few milliseconds is
//! lost too.

/// Runs `work` with standard error silenced. Concurrent calls do not wait for each other; standard
/// error is restored when the last of them ends.
#[cfg(unix)]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    let _quiet = unix::Quiet::new();
    work()
}

/// Restores standard error even while calls to [`quietly`] are running, because one of them may
/// hang.
#[cfg(unix)]
pub fn restore_stderr() {
    unix::restore_stderr();
}

/// Restores standard error if it has been silent for so long that a call must be hanging. Call this
/// regularly.
#[cfg(unix)]
pub(crate) fn restore_stderr_if_hung() {
    unix::restore_stderr_if_hung();
}

#[cfg(unix)]
mod unix {
    use std::os::fd::OwnedFd;
    use std::sync::{Mutex, MutexGuard, PoisonError};
    use std::time::{Duration, Instant};

    /// A call that takes longer than this hangs: 5 s.
    const LONGEST: Duration = Duration::from_secs(5);

    /// The calls that need standard error silent.
    struct Silenced {
        /// How many such calls are running.
        count: usize,
        /// Standard error as it was before the first of them.
        before: Option<OwnedFd>,
        /// When it was silenced; `None` if it is not.
        since: Option<Instant>,
        /// How many times it was restored while calls were still running.
        age: u64,
    }

    impl Silenced {
        fn turn_on(&mut self) {
            self.since = None;
            if let Some(before) = self.before.take() {
                // If this fails there is nothing else to try.
                let _ = rustix::stdio::dup2_stderr(&before);
            }
        }

        fn turn_on_for_all(&mut self) {
            self.turn_on();
            self.count = 0;
            self.age += 1;
        }
    }

    fn silenced() -> MutexGuard<'static, Silenced> {
        static SILENCED: Mutex<Silenced> =
            Mutex::new(Silenced { count: 0, before: None, since: None, age: 0 });
        SILENCED.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn restore_stderr() {
        silenced().turn_on_for_all();
    }

    pub fn restore_stderr_if_hung() {
        let mut silenced = silenced();
        if silenced.since.is_some_and(|since| since.elapsed() > LONGEST) {
            silenced.turn_on_for_all();
        }
    }

    /// Standard error is silent while one of these, of the current age, exists.
    pub struct Quiet(u64);

    impl Quiet {
        pub fn new() -> Quiet {
            let mut silenced = silenced();
            if silenced.count == 0 {
                silenced.before = turn_off();
                silenced.since = Some(Instant::now());
            }
            silenced.count += 1;
            Quiet(silenced.age)
        }
    }

    impl Drop for Quiet {
        fn drop(&mut self) {
            let mut silenced = silenced();
            if self.0 != silenced.age {
                return;
            }
            silenced.count -= 1;
            if silenced.count == 0 {
                silenced.turn_on();
            }
        }
    }

    fn turn_off() -> Option<OwnedFd> {
        let before = rustix::io::fcntl_dupfd_cloexec(rustix::stdio::stderr(), 3).ok()?;
        let nowhere = std::fs::OpenOptions::new().write(true).open("/dev/null").ok()?;
        rustix::stdio::dup2_stderr(&nowhere).ok()?;
        Some(before)
    }
}

/// Runs `work`. On these systems the MIDI services write nothing to standard error.
#[cfg(not(unix))]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    work()
}

/// Nothing was silenced.
#[cfg(not(unix))]
pub fn restore_stderr() {}

/// Nothing was silenced.
#[cfg(not(unix))]
pub(crate) fn restore_stderr_if_hung() {}
