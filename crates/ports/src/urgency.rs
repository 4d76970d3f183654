//! Asks the system for the priority that the scheduler thread needs to wake on time under load.
//!
//! In: a request, made once on the thread itself (priority, timer slack) and once per process
//! (memory). Out: [`Urgency`], which says what was granted and how to get the rest. A refusal is
//! not an error: the thread then runs like any other, and is late on a busy machine.

use chaconne_clock::Urgency;

#[cfg_attr(unix, path = "urgency/unix.rs")]
#[cfg_attr(not(unix), path = "urgency/plain.rs")]
mod system;

pub(crate) use system::{lock_memory, raise_priority as ask};

/// The role of a thread: the more audible its delays are, the higher its priority.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It sends messages when they are due.
    Scheduler,
    /// It stamps messages that arrive, and passes them through.
    Input,
    /// It performs ahead of the scheduler, and has a tenth of a second to do it.
    Performer,
}

/// Raises this thread's priority to what its role needs; the system may grant less.
pub fn raise_priority(role: Role) {
    system::raise_priority(role);
}

/// Lowers this thread's priority, so that long work yields to everything that should be on time. Does
/// nothing where the system has no such setting for a single thread.
pub fn lower_priority() {
    system::lower_priority();
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_report_matches_what_the_thread_has() {
        let thread = std::thread::spawn(|| (ask(Role::Scheduler), system::priority()));
        let (reported, priority) = thread.join().unwrap();
        assert_eq!(reported.priority, priority);
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn only_the_thread_that_asks_gets_a_lower_priority() {
        let before = system::niceness();
        let lowered = std::thread::spawn(|| {
            lower_priority();
            system::niceness()
        });
        assert!(lowered.join().unwrap() > before, "{before:?}");
        assert_eq!(system::niceness(), before);
    }
}
