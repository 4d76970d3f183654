//! How long something has been on a core, by the system's own account.

use crate::Failure;
use std::fs;
use std::path::Path;
use std::time::Duration;

/// Parts of a second in which the system counts the time of processes that have ended.
const TICKS: u64 = 100;

/// The calling thread.
pub fn of_this_thread() -> Result<Duration, Failure> {
    of_thread(Path::new("/proc/thread-self"))
}

/// The thread with this folder in /proc.
pub fn of_thread(folder: &Path) -> Result<Duration, Failure> {
    let account = fs::read_to_string(folder.join("schedstat"))?;
    let ns = account.split(' ').next().ok_or("the system keeps no account of threads")?;
    Ok(Duration::from_nanos(ns.parse()?))
}

/// All children of this process that have ended and were waited for, to a hundredth of a second.
pub fn of_children() -> Result<Duration, Failure> {
    let account = fs::read_to_string("/proc/self/stat")?;
    // The name of the program stands in brackets and may hold spaces; what counts is the 16th and
    // the 17th field, and the 3rd comes right after the name.
    let fields = account.rsplit_once(')').map_or("", |(_, rest)| rest);
    let mut ticks = fields.split_whitespace().skip(13).take(2).map(str::parse::<u64>);
    let (Some(user), Some(system)) = (ticks.next(), ticks.next()) else {
        return Err("the system keeps no account of processes".into());
    };
    Ok(Duration::from_millis((user? + system?) * 1000 / TICKS))
}
