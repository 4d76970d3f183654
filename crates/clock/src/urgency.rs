//! Which real-time privileges the system granted the scheduler's thread.

use std::fmt;

/// What a user can do so that the system grants them.
#[cfg(target_os = "linux")]
const REMEDY: &str = "put '@audio - rtprio 95' and '@audio - memlock unlimited' into \
     /etc/security/limits.d/audio.conf, run 'sudo usermod -aG audio $USER', and log in again";
#[cfg(all(unix, not(target_os = "linux")))]
const REMEDY: &str = "allow this user to run real-time threads and to lock memory";
#[cfg(not(unix))]
const REMEDY: &str = "allow this user to run threads at the highest priority";

/// The real-time privileges that the system granted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Urgency {
    /// Whether the program asked for any.
    pub asked: bool,
    /// The real-time priority, 1 to 99; 0 if there is none.
    pub priority: u8,
    /// Whether the process's memory is locked, so that it is never swapped to a disk.
    pub memory: bool,
    /// How much later than requested the system may wake the thread to save power, in nanoseconds;
    /// 0 if the system does not say, or if the thread has real-time priority.
    pub slack: u32,
}

impl Urgency {
    /// What the user can do about a refusal, in one line; `None` if nothing was refused or requested.
    pub fn remedy(&self) -> Option<&'static str> {
        let refused = self.asked && (self.priority == 0 || !self.memory);
        refused.then_some(REMEDY)
    }

    /// The privileges in one number, for an atomic.
    pub(crate) fn code(self) -> u64 {
        u64::from(self.priority)
            | u64::from(self.memory) << 8
            | u64::from(self.asked) << 9
            | u64::from(self.slack) << 32
    }

    pub(crate) fn from_code(code: u64) -> Urgency {
        Urgency {
            priority: code as u8,
            memory: code >> 8 & 1 == 1,
            asked: code >> 9 & 1 == 1,
            slack: (code >> 32) as u32,
        }
    }
}

impl fmt::Display for Urgency {
    /// `real-time priority 70, memory locked`, or `no real-time priority, memory not locked`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.priority {
            0 => f.write_str("no real-time priority")?,
            priority => write!(f, "real-time priority {priority}")?,
        }
        f.write_str(if self.memory { ", memory locked" } else { ", memory not locked" })?;
        if self.slack > 0 {
            write!(f, ", timer slack {} ns", self.slack)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_code_gives_back_the_same_privileges() {
        for priority in [0, 1, 70, 99] {
            for (asked, memory) in [(true, true), (true, false), (false, false)] {
                for slack in [0, 1, 50_000, u32::MAX] {
                    let urgency = Urgency { asked, priority, memory, slack };
                    assert_eq!(Urgency::from_code(urgency.code()), urgency);
                }
            }
        }
    }

    #[test]
    fn only_a_refusal_has_a_remedy() {
        let all = Urgency { asked: true, priority: 70, memory: true, slack: 0 };
        assert_eq!(all.remedy(), None);
        assert!(Urgency { priority: 0, ..all }.remedy().is_some());
        assert!(Urgency { memory: false, ..all }.remedy().is_some());
        assert_eq!(Urgency::default().remedy(), None);
        assert_eq!(all.to_string(), "real-time priority 70, memory locked");
        let none = Urgency { asked: true, slack: 1, ..Urgency::default() };
        assert_eq!(none.to_string(), "no real-time priority, memory not locked, timer slack 1 ns");
    }
}
