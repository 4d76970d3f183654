//! The program's one clock: nanoseconds since the process first read it.
//!
//! Every time stamp and deadline in the program counts from the same origin, so they can all be
//! compared and subtracted.

use chaconne_time::Ns;
use std::sync::OnceLock;
use std::time::{Duration, Instant};

static ORIGIN: OnceLock<Instant> = OnceLock::new();

/// Nanoseconds on the monotonic clock since the first call in this process. Never negative, never
/// goes back, unaffected by changes of the wall clock. Does not allocate or wait.
pub fn now() -> Ns {
    let origin = *ORIGIN.get_or_init(Instant::now);
    Ns::try_from(origin.elapsed().as_nanos()).unwrap_or(Ns::MAX)
}

/// The time from `from` until `until`; zero if that has passed.
pub(crate) fn until(from: Ns, until: Ns) -> Duration {
    Duration::from_nanos(until.saturating_sub(from).max(0) as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_clock_never_goes_back() {
        let stamps: Vec<Ns> = (0..1000).map(|_| now()).collect();
        assert!(stamps.is_sorted() && stamps[0] >= 0);
    }

    #[test]
    fn there_is_no_wait_for_a_time_that_has_passed() {
        assert_eq!(until(50, 20), Duration::ZERO);
        assert_eq!(until(20, 50), Duration::from_nanos(30));
    }
}
