//! Keeps the C libraries below the MIDI services from writing over the screen.
//!
//! They complain on standard error when there is no sequencer or no server. While such a call
//! runs, standard error is turned to nowhere; what another thread writes to it in these few
//! milliseconds is lost as well.

/// Runs `work` with standard error turned off. Several at a time do not wait for each other: it is
/// back when the last of them is done.
#[cfg(unix)]
pub(crate) fn quietly<T>(work: impl FnOnce() -> T) -> T {
    let _quiet = unix::Quiet::new();
    work()
}

#[cfg(unix)]
mod unix {
    use std::os::fd::OwnedFd;
    use std::sync::{Mutex, MutexGuard, PoisonError};

    /// How many want it quiet, and what standard error was before the first of them.
    struct Quieted {
        count: usize,
        before: Option<OwnedFd>,
    }

    fn quieted() -> MutexGuard<'static, Quieted> {
        static QUIETED: Mutex<Quieted> = Mutex::new(Quieted { count: 0, before: None });
        QUIETED.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// It is quiet while one of these is there.
    pub struct Quiet;

    impl Quiet {
        pub fn new() -> Quiet {
            let mut quieted = quieted();
            if quieted.count == 0 {
                quieted.before = turn_off();
            }
            quieted.count += 1;
            Quiet
        }
    }

    impl Drop for Quiet {
        fn drop(&mut self) {
            let mut quieted = quieted();
            quieted.count -= 1;
            if quieted.count == 0
                && let Some(before) = quieted.before.take()
            {
                // Nothing better is left to try where this fails.
                let _ = rustix::stdio::dup2_stderr(&before);
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
pub(crate) fn quietly<T>(work: impl FnOnce() -> T) -> T {
    work()
}
