//! Unix: the first-in-first-out class, and memory locked; on Linux, the least timer slack.

use super::{Role, Urgency};
use rustix::mm::{MlockAllFlags, mlockall};
use rustix::process::{Resource, geteuid, getrlimit};
use std::sync::OnceLock;
use thread_priority::{
    RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
    set_thread_priority_and_policy, thread_native_id, thread_schedule_policy_param,
};

/// The priority of a role: those that are heard above the usual 50 of interrupt threads, and
/// below what a watchdog has.
fn wanted(role: Role) -> u8 {
    match role {
        Role::Scheduler => 70,
        Role::Input => 68,
        // Below the threads of a sound server, whose usual priority is 5 to 10.
        Role::Performer => 4,
    }
}

/// Makes this thread urgent, as far as the system lets it.
pub(crate) fn hurry(role: Role) -> Urgency {
    // Where less than that is allowed to this user, as much as is allowed.
    let wanted = wanted(role);
    if !ask_for(wanted)
        && let Some(most) = most_allowed(wanted)
    {
        ask_for(most);
    }
    let priority = priority();
    let slack = if priority == 0 { least_slack() } else { 0 };
    Urgency { asked: true, priority, memory: false, slack }
}

fn ask_for(priority: u8) -> bool {
    let Ok(value) = ThreadPriorityValue::try_from(priority) else { return false };
    let fifo = ThreadSchedulePolicy::Realtime(RealtimeThreadSchedulePolicy::Fifo);
    set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Crossplatform(value), fifo)
        .is_ok()
}

/// The real-time priority that this thread has; 0 where it has none.
pub(super) fn priority() -> u8 {
    match thread_schedule_policy_param(thread_native_id()) {
        Ok((ThreadSchedulePolicy::Realtime(_), params)) => {
            u8::try_from(params.sched_priority).unwrap_or(0)
        }
        _ => 0,
    }
}

#[cfg(target_os = "linux")]
fn most_allowed(wanted: u8) -> Option<u8> {
    let most = getrlimit(Resource::Rtprio).current.unwrap_or(u64::from(wanted));
    u8::try_from(most).ok().filter(|most| (1..wanted).contains(most))
}

#[cfg(not(target_os = "linux"))]
fn most_allowed(_wanted: u8) -> Option<u8> {
    None
}

/// Asks to be woken no later than need be; how much later it may still be.
#[cfg(target_os = "linux")]
fn least_slack() -> u32 {
    use rustix::thread::{current_timer_slack, set_current_timer_slack};
    // Refused only where the system has no such setting; then there is none to tell either.
    let _ = set_current_timer_slack(std::num::NonZeroU64::new(1));
    current_timer_slack().ok().and_then(|slack| u32::try_from(slack).ok()).unwrap_or(0)
}

#[cfg(not(target_os = "linux"))]
fn least_slack() -> u32 {
    0
}

/// Locks the memory of this process, once; whether it is locked. What is there now is fetched in;
/// what comes later stays once it was touched.
pub(crate) fn lock_memory() -> bool {
    static LOCKED: OnceLock<bool> = OnceLock::new();
    *LOCKED.get_or_init(|| {
        // With a limit, memory that is asked for later could be refused, and that would end the
        // program: then nothing is locked.
        let unlimited = getrlimit(Resource::Memlock).current.is_none() || geteuid().is_root();
        unlimited && mlockall(MlockAllFlags::CURRENT).is_ok() && mlockall(later()).is_ok()
    })
}

#[cfg(target_os = "linux")]
fn later() -> MlockAllFlags {
    MlockAllFlags::FUTURE | MlockAllFlags::ONFAULT
}

#[cfg(not(target_os = "linux"))]
fn later() -> MlockAllFlags {
    MlockAllFlags::FUTURE
}
