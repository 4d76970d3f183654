//! Keeps the C libraries below the MIDI service from writing over the screen.
//!
//! They complain on standard error when there is no sequencer or no server. While such a call
//! runs, standard error is turned to nowhere; what another thread writes to it in these few
//! milliseconds is lost as well.

/// Runs `work` with standard error turned off.
#[cfg(unix)]
pub(crate) fn quietly<T>(work: impl FnOnce() -> T) -> T {
    use std::sync::{Mutex, PoisonError};
    // Two at a time would put back each other's.
    static ONE: Mutex<()> = Mutex::new(());
    let _one = ONE.lock().unwrap_or_else(PoisonError::into_inner);
    let _back = Back::turn_off();
    work()
}

/// Puts standard error back when it goes.
#[cfg(unix)]
struct Back(std::os::fd::OwnedFd);

#[cfg(unix)]
impl Back {
    fn turn_off() -> Option<Back> {
        let before = rustix::io::fcntl_dupfd_cloexec(rustix::stdio::stderr(), 3).ok()?;
        let nowhere = std::fs::OpenOptions::new().write(true).open("/dev/null").ok()?;
        rustix::stdio::dup2_stderr(&nowhere).ok()?;
        Some(Back(before))
    }
}

#[cfg(unix)]
impl Drop for Back {
    fn drop(&mut self) {
        // Nothing better is left to try where this fails.
        let _ = rustix::stdio::dup2_stderr(&self.0);
    }
}

/// Runs `work`: elsewhere the MIDI services keep quiet.
#[cfg(not(unix))]
pub(crate) fn quietly<T>(work: impl FnOnce() -> T) -> T {
    work()
}
