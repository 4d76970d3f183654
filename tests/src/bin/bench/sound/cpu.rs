//! How long threads and processes have been on a core, as the system counts it.

use crate::Failure;
use std::fs;
use std::path::Path;
use std::time::Duration;

/// The system's ticks per second, in which it counts the time of processes that have ended.
const TICKS: u64 = 100;

/// The time of the calling thread.
pub fn of_this_thread() -> Result<Duration, Failure> {
    of_thread(Path::new("/proc/thread-self"))
}

/// The time of the thread with this folder in /proc.
pub fn of_thread(folder: &Path) -> Result<Duration, Failure> {
    let counts = fs::read_to_string(folder.join("schedstat"))?;
    let ns = counts.split(' ').next().ok_or("the system does not count the time of threads")?;
    Ok(Duration::from_nanos(ns.parse()?))
}

/// The time of all children of this process that have ended and were waited for, to a hundredth of a
/// second.
pub fn of_children() -> Result<Duration, Failure> {
    let stat = fs::read_to_string("/proc/self/stat")?;
    // The second field is the program's name in brackets, which may contain spaces, so the fields are
    // counted from there. The times are the 16th and the 17th field.
    let fields = stat.rsplit_once(')').map_or("", |(_, rest)| rest);
    let mut ticks = fields.split_whitespace().skip(13).take(2).map(str::parse::<u64>);
    let (Some(user), Some(system)) = (ticks.next(), ticks.next()) else {
        return Err("the system does not count the time of processes".into());
    };
    Ok(Duration::from_millis((user? + system?) * 1000 / TICKS))
}
