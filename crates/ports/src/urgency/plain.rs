//! Systems other than Unix: the highest priority the system gives a thread; memory is not locked.

use super::{Role, Urgency};
use thread_priority::{ThreadPriority, set_current_thread_priority};

/// Raises this thread's priority as far as the system allows.
pub(crate) fn raise_priority(_role: Role) -> Urgency {
    let granted = set_current_thread_priority(ThreadPriority::Max).is_ok();
    Urgency { asked: true, priority: u8::from(granted), memory: false, slack: 0 }
}

/// The granted priority cannot be read back here.
#[cfg(test)]
pub(super) fn priority() -> u8 {
    raise_priority(Role::Scheduler).priority
}

/// Lowers this thread's priority.
pub(crate) fn lower_priority() {
    // If it is refused, the thread runs like any other.
    let _ = set_current_thread_priority(ThreadPriority::Min);
}

/// Memory is not locked here.
pub(crate) fn lock_memory() -> bool {
    false
}
