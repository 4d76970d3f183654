//! How late events of one kind were: counted on the scheduler thread, read on any other.
//!
//! In: the lateness of each event, in nanoseconds. Out: a [`Spread`]. Percentiles come from buckets
//! that are fine at every size; the bins for people have round limits and are counted exactly.

use chaconne_time::Ns;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering::Relaxed};

/// The limits between the bins of a histogram, in nanoseconds: the first bin ends before the first
/// limit, the last one begins at the last.
pub const EDGES: [Ns; 16] = [
    1_000,
    2_000,
    5_000,
    10_000,
    20_000,
    50_000,
    100_000,
    200_000,
    500_000,
    1_000_000,
    2_000_000,
    5_000_000,
    10_000_000,
    20_000_000,
    50_000_000,
    100_000_000,
];

/// Buckets per octave of lateness: the upper end of a bucket is at most an eighth above its lower
/// end.
const STEPS: u32 = 8;
/// The lower end of the second bucket, as a power of two: 128 ns.
const FLOOR: u32 = 7;
/// The top octave: 2^40 ns, 18 minutes.
const CEILING: u32 = 40;
const BUCKETS: usize = ((CEILING - FLOOR) * STEPS + 2) as usize;

/// Counts events by their lateness.
#[derive(Debug)]
pub(super) struct Histogram {
    buckets: Box<[AtomicU64]>,
    bins: [AtomicU64; EDGES.len() + 1],
    worst: AtomicI64,
}

impl Histogram {
    pub fn new() -> Histogram {
        let buckets = (0..BUCKETS).map(|_| AtomicU64::new(0)).collect();
        Histogram { buckets, bins: Default::default(), worst: AtomicI64::new(0) }
    }

    /// Counts an event. For the scheduler thread: three atomic operations and a short search.
    pub fn count(&self, late: Ns) {
        self.buckets[bucket(late)].fetch_add(1, Relaxed);
        self.bins[EDGES.partition_point(|&edge| edge <= late)].fetch_add(1, Relaxed);
        self.worst.fetch_max(late, Relaxed);
    }

    /// Forgets all events. One that is counted meanwhile may be in some of the figures and not in
    /// others.
    pub fn restart(&self) {
        self.buckets.iter().chain(&self.bins).for_each(|bucket| bucket.store(0, Relaxed));
        self.worst.store(0, Relaxed);
    }

    pub fn spread(&self) -> Spread {
        let counts: Vec<u64> = self.buckets.iter().map(|bucket| bucket.load(Relaxed)).collect();
        let count: u64 = counts.iter().sum();
        let worst = self.worst.load(Relaxed);
        let at = |percent: u64| {
            // The smallest rank with this percentage of events at or below it.
            let rank = (count * percent).div_ceil(100);
            let mut seen = 0;
            let found = counts.iter().position(|here| {
                seen += here;
                seen >= rank
            });
            found.map_or(0, upper_end).min(worst)
        };
        let bins = self.bins.each_ref().map(|bin| bin.load(Relaxed));
        Spread { count, p50: at(50), p99: at(99), worst, bins }
    }
}

/// The bucket of a lateness; early and punctual events go into the first.
fn bucket(late: Ns) -> usize {
    let Ok(late @ 128..) = u64::try_from(late) else { return 0 };
    let octave = late.ilog2();
    if octave >= CEILING {
        return BUCKETS - 1;
    }
    let step = (late >> (octave - FLOOR)) & 127;
    ((octave - FLOOR) * STEPS) as usize + ((step as usize * STEPS as usize) >> FLOOR) + 1
}

/// The largest lateness that falls into a bucket.
fn upper_end(bucket: usize) -> Ns {
    if bucket == 0 {
        return 127;
    }
    let octave = FLOOR + (bucket as u32 - 1) / STEPS;
    let step = i64::from((bucket as u32 - 1) % STEPS) + 1;
    (1i64 << octave) + (step << octave) / i64::from(STEPS) - 1
}

/// How late the events of one kind were.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spread {
    /// The number of events.
    pub count: u64,
    /// Half of them were no later than this, in nanoseconds; at most an eighth too high.
    pub p50: Ns,
    /// 99 in 100 were no later than this, in nanoseconds; at most an eighth too high.
    pub p99: Ns,
    /// The latest, in nanoseconds, exactly.
    pub worst: Ns,
    /// How many are in each bin between the [`EDGES`].
    pub bins: [u64; EDGES.len() + 1],
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lateness_is_within_the_ends_of_its_bucket() {
        for late in
            (0..38).flat_map(|octave| [1i64 << octave, (1 << octave) + 1, (3 << octave) - 1])
        {
            let here = bucket(late);
            assert!(late <= upper_end(here), "{late} above bucket {here}");
            assert!(here == 0 || late > upper_end(here - 1), "{late} below bucket {here}");
            assert!(late < 128 || upper_end(here) <= late + late / 8, "{late} in a wide bucket");
        }
        assert_eq!(bucket(-5), 0);
        assert_eq!(bucket(i64::MAX), BUCKETS - 1);
    }

    #[test]
    fn percentiles_are_near_and_the_worst_is_exact() {
        let histogram = Histogram::new();
        (1..=1000).for_each(|us| histogram.count(us * 1000));
        let Spread { count, p50, p99, worst, .. } = histogram.spread();
        assert_eq!((count, worst), (1000, 1_000_000));
        assert!((500_000..=562_500).contains(&p50), "{p50}");
        assert!((990_000..=1_000_000).contains(&p99), "{p99}");
        assert_eq!(Histogram::new().spread(), Spread::default());
    }

    #[test]
    fn bins_are_exact_and_begin_at_their_limits() {
        let histogram = Histogram::new();
        for late in [-3, 0, 999, 1000, 1999, 2000, 999_999, 1_000_000, 99_999_999, 100_000_000] {
            histogram.count(late);
        }
        let bins = histogram.spread().bins;
        assert_eq!((bins[0], bins[1], bins[2]), (3, 2, 1));
        assert_eq!((bins[9], bins[10], bins[15], bins[16]), (1, 1, 1, 1));
        assert_eq!(bins.iter().sum::<u64>(), 10);
    }

    #[test]
    fn a_restart_forgets_everything() {
        let histogram = Histogram::new();
        histogram.count(5_000_000);
        histogram.restart();
        assert_eq!(histogram.spread(), Spread::default());
        histogram.count(300_000);
        assert_eq!((histogram.spread().count, histogram.spread().worst), (1, 300_000));
    }
}
