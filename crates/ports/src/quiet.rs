//! Keeps the C libraries below the MIDI services from writing over the screen.
//!
//! They complain on standard error when there is no sequencer or no server. While such a call
//! runs, standard error is turned to nowhere; what another thread writes to it in these few
//! milliseconds is lost as well.

/// Runs `work` with standard error turned off. Several at a time do not wait for each other: it is
/// back when the last of them is done.
#[cfg(unix)]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    let _quiet = unix::Quiet::new();
    work()
}

/// Standard error is back, whoever still wants it quiet: for when one of them may hang for ever.
#[cfg(unix)]
pub fn aloud() {
    unix::aloud();
}

/// The same, where it has been quiet for longer than whatever does not hang takes. To be called now
/// and then.
#[cfg(unix)]
pub(crate) fn aloud_in_time() {
    unix::aloud_in_time();
}

#[cfg(unix)]
mod unix {
    use std::os::fd::OwnedFd;
    use std::sync::{Mutex, MutexGuard, PoisonError};
    use std::time::{Duration, Instant};

    /// What takes longer than this hangs: 5 s.
    const LONGEST: Duration = Duration::from_secs(5);

    /// How many want it quiet, and what standard error was before the first of them.
    struct Quieted {
        count: usize,
        before: Option<OwnedFd>,
        /// Since when it has been quiet, if it is.
        since: Option<Instant>,
        /// How often it was made loud whoever wanted it quiet.
        age: u64,
    }

    impl Quieted {
        fn turn_on(&mut self) {
            self.since = None;
            if let Some(before) = self.before.take() {
                // Nothing better is left to try where this fails.
                let _ = rustix::stdio::dup2_stderr(&before);
            }
        }

        fn turn_on_for_all(&mut self) {
            self.turn_on();
            self.count = 0;
            self.age += 1;
        }
    }

    fn quieted() -> MutexGuard<'static, Quieted> {
        static QUIETED: Mutex<Quieted> =
            Mutex::new(Quieted { count: 0, before: None, since: None, age: 0 });
        QUIETED.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn aloud() {
        quieted().turn_on_for_all();
    }

    pub fn aloud_in_time() {
        let mut quieted = quieted();
        if quieted.since.is_some_and(|since| since.elapsed() > LONGEST) {
            quieted.turn_on_for_all();
        }
    }

    /// It is quiet while one of these of this age is there.
    pub struct Quiet(u64);

    impl Quiet {
        pub fn new() -> Quiet {
            let mut quieted = quieted();
            if quieted.count == 0 {
                quieted.before = turn_off();
                quieted.since = Some(Instant::now());
            }
            quieted.count += 1;
            Quiet(quieted.age)
        }
    }

    impl Drop for Quiet {
        fn drop(&mut self) {
            let mut quieted = quieted();
            if self.0 != quieted.age {
                return;
            }
            quieted.count -= 1;
            if quieted.count == 0 {
                quieted.turn_on();
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

/// Runs `work`: elsewhere the MIDI services keep quiet.
#[cfg(not(unix))]
pub fn quietly<T>(work: impl FnOnce() -> T) -> T {
    work()
}

/// There is nothing to make loud.
#[cfg(not(unix))]
pub fn aloud() {}

/// There is nothing to make loud.
#[cfg(not(unix))]
pub(crate) fn aloud_in_time() {}
