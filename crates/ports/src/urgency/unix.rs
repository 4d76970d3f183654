//! Unix: the FIFO scheduling class and locked memory; on Linux also the least timer slack.

use super::{Role, Urgency};
use rustix::mm::{MlockAllFlags, mlockall};
use rustix::process::{Resource, geteuid, getrlimit};
use std::sync::OnceLock;
use thread_priority::{
    RealtimeThreadSchedulePolicy, ThreadPriority, ThreadPriorityValue, ThreadSchedulePolicy,
    set_thread_priority_and_policy, thread_native_id, thread_schedule_policy_param,
};

/// The priority for a role. Delays in the first two are audible, so they get more than the usual 50
/// of interrupt threads, but less than a watchdog.
fn wanted(role: Role) -> u8 {
    match role {
        Role::Scheduler => 70,
        Role::Input => 68,
        // Below the threads of a sound server, which usually have 5 to 10.
        Role::Performer => 4,
    }
}

/// Raises this thread's priority as far as the system allows.
pub(crate) fn raise_priority(role: Role) -> Urgency {
    // If this user is not allowed that much, ask for the most that is allowed.
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

/// This thread's real-time priority; 0 if it has none.
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

/// Asks the system to wake this thread with the least delay; returns the remaining delay in
/// nanoseconds.
#[cfg(target_os = "linux")]
fn least_slack() -> u32 {
    use rustix::thread::{current_timer_slack, set_current_timer_slack};
    // Fails only if the system has no such setting, and then there is no value to report.
    let _ = set_current_timer_slack(std::num::NonZeroU64::new(1));
    current_timer_slack().ok().and_then(|slack| u32::try_from(slack).ok()).unwrap_or(0)
}

#[cfg(not(target_os = "linux"))]
fn least_slack() -> u32 {
    0
}

/// How nice a thread with long work is, of 19: it gets a tenth of what an ordinary thread gets of a busy
/// core, so it still ends.
#[cfg(target_os = "linux")]
const NICE: i32 = 10;

/// Lowers this thread's priority. Only Linux counts niceness by thread, elsewhere it is the process's.
#[cfg(target_os = "linux")]
pub(crate) fn lower_priority() {
    use rustix::{process::setpriority_process, thread::gettid};
    // A thread that is nicer already may not go back.
    let _ = setpriority_process(Some(gettid()), NICE);
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn lower_priority() {}

/// How nice this thread is.
#[cfg(all(test, target_os = "linux"))]
pub(super) fn niceness() -> Option<i32> {
    rustix::process::getpriority_process(Some(rustix::thread::gettid())).ok()
}

/// Locks the memory of this process, once; returns whether it is locked. Existing memory is loaded
/// now; later memory stays once it has been touched.
pub(crate) fn lock_memory() -> bool {
    static LOCKED: OnceLock<bool> = OnceLock::new();
    *LOCKED.get_or_init(|| {
        // Under a limit, later allocations could be refused, which would end the program: in that
        // case nothing is locked.
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
