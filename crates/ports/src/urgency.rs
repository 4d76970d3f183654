//! Asks the system for the priority that wakes the scheduler thread on time under load.
//!
//! In: a request, made once on the thread itself (priority, timer slack) and once per process
//! (memory). Out: [`Urgency`], which says what was granted and how to get the rest. A refusal is
//! not an error: the thread then runs like any other, and is late on a busy machine.

use chaconne_clock::Urgency;

#[cfg_attr(unix, path = "urgency/unix.rs")]
#[cfg_attr(not(unix), path = "urgency/plain.rs")]
mod system;

pub(crate) use system::{hurry as ask, lock_memory};

/// Which thread asks: the more audible its delays, the higher its priority.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Sends what is due.
    Scheduler,
    /// Stamps what is played, and passes it through.
    Input,
    /// Performs ahead of the scheduler, and has a tenth of a second to do it.
    Performer,
}

/// Asks for the priority this thread's role needs; the system may grant less.
pub fn hurry(role: Role) {
    system::hurry(role);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_report_matches_what_the_thread_has() {
        let told = std::thread::spawn(|| {
            let told = ask(Role::Scheduler);
            (told, system::priority())
        });
        let (told, has) = told.join().unwrap();
        assert_eq!(told.priority, has);
    }
}
