//! What the system grants the scheduler thread, so that it wakes on time whatever else runs.
//!
//! In: a request, made once on the thread itself (priority, timer slack) and once a process
//! (memory). Out: [`Urgency`], what of it was granted, and how to be granted the rest. A refusal
//! is no error: the thread then runs like any other, and a busy machine makes it late.

use chaconne_clock::Urgency;

#[cfg_attr(unix, path = "urgency/unix.rs")]
#[cfg_attr(not(unix), path = "urgency/plain.rs")]
mod system;

pub(crate) use system::{hurry as ask, lock_memory};

/// Which thread asks: the more a delay would be heard, the more urgent it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It sends what is due.
    Scheduler,
    /// It stamps what is played, and passes it through.
    Input,
    /// It performs ahead of the scheduler, and has a tenth of a second for it.
    Performer,
}

/// Asks for this thread to be as urgent as its role needs, as far as the system grants it.
pub fn hurry(role: Role) {
    system::hurry(role);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_told_is_what_the_thread_has() {
        let told = std::thread::spawn(|| {
            let told = ask(Role::Scheduler);
            (told, system::priority())
        });
        let (told, has) = told.join().unwrap();
        assert_eq!(told.priority, has);
    }
}
