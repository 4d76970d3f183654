//! The one clock of a run: nanoseconds since the process first asked.
//!
//! Every stamp and every deadline in the program counts from the same moment, so that they can
//! be compared and subtracted without knowing where they came from.

use chaconne_time::Ns;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

static ORIGIN: OnceLock<Instant> = OnceLock::new();

/// Nanoseconds on the monotonic clock since the first call in this process; never negative, never
/// going back, not moved by changes of the wall clock. Neither allocates nor waits.
pub fn now() -> Ns {
    let origin = *ORIGIN.get_or_init(Instant::now);
    Ns::try_from(origin.elapsed().as_nanos()).unwrap_or(Ns::MAX)
}

/// How long it is from `from` until `until`; nothing where that is past.
pub(crate) fn until(from: Ns, until: Ns) -> Duration {
    Duration::from_nanos(until.saturating_sub(from).max(0) as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_never_goes_back() {
        let stamps: Vec<Ns> = (0..1000).map(|_| now()).collect();
        assert!(stamps.is_sorted() && stamps[0] >= 0);
    }

    #[test]
    fn a_moment_that_is_past_is_not_waited_for() {
        assert_eq!(until(50, 20), Duration::ZERO);
        assert_eq!(until(20, 50), Duration::from_nanos(30));
    }
}
