//! Elsewhere: the highest priority that the system gives a thread; memory is not locked.

use super::{Role, Urgency};
use thread_priority::{ThreadPriority, set_current_thread_priority};

/// Makes this thread urgent, as far as the system lets it.
pub(crate) fn hurry(_role: Role) -> Urgency {
    let granted = set_current_thread_priority(ThreadPriority::Max).is_ok();
    Urgency { asked: true, priority: u8::from(granted), memory: false, slack: 0 }
}

/// What [`hurry`] was granted cannot be read back here.
#[cfg(test)]
pub(super) fn priority() -> u8 {
    hurry(Role::Scheduler).priority
}

/// Memory is not locked here.
pub(crate) fn lock_memory() -> bool {
    false
}
