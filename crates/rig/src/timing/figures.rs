//! Figures of lateness: percentiles, a histogram, and what they mean to a player.

use crate::{EDGES, HEARD};
use chaconne_time::Ns;

/// The most that the response of an instrument may vary: 1 ms (D. Wessel and
/// M. Wright, "Problems and Prospects for Intimate Musical Control of Computers", Computer Music
/// Journal 26(3), 2002).
pub const EVEN: Ns = 1_000_000;

/// Figures on the lateness of events.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Figures {
    /// The number of events.
    pub count: u64,
    /// The median lateness, in nanoseconds.
    pub p50: Ns,
    /// 99 in 100 were no later than this.
    pub p99: Ns,
    /// 999 in 1000 were no later than this.
    pub p999: Ns,
    /// The worst lateness.
    pub max: Ns,
    /// How many events are in each bucket between the [`EDGES`].
    pub histogram: [u64; EDGES.len() + 1],
}

impl Figures {
    /// The figures for these values, in nanoseconds.
    pub fn of(mut late: Vec<Ns>) -> Figures {
        late.sort_unstable();
        let mut histogram = [0; EDGES.len() + 1];
        for &one in &late {
            histogram[EDGES.partition_point(|&edge| edge <= one)] += 1;
        }
        Figures {
            count: late.len() as u64,
            p50: ranked(&late, 500),
            p99: ranked(&late, 990),
            p999: ranked(&late, 999),
            max: late.last().copied().unwrap_or(0),
            histogram,
        }
    }
}

/// The smallest value that this many thousandths of the values do not exceed; 0 without values.
pub(super) fn ranked(sorted: &[Ns], thousandths: usize) -> Ns {
    let rank = (sorted.len() * thousandths).div_ceil(1000).max(1);
    sorted.get(rank - 1).copied().unwrap_or(0)
}

/// What the lateness of 999 in 1000 events means to a player.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// At most [`EVEN`]: steady enough to play along with.
    Good,
    /// At most [`HEARD`]: not audible in a run of notes, but playing feels less even.
    Fair,
    /// More: audible.
    Poor,
}

impl Verdict {
    /// The verdict on a lateness.
    pub fn of(late: Ns) -> Verdict {
        if late <= EVEN {
            Verdict::Good
        } else if late <= HEARD {
            Verdict::Fair
        } else {
            Verdict::Poor
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_are_those_of_the_nearest_rank() {
        // By hand: of 1 to 2000 the 1000th, the 1980th, the 1998th.
        let figures = Figures::of((1..=2000).rev().collect());
        assert_eq!((figures.p50, figures.p99, figures.p999), (1000, 1980, 1998));
        assert_eq!((figures.count, figures.max), (2000, 2000));
        let one = Figures::of(vec![7]);
        assert_eq!((one.p50, one.p99, one.p999, one.max), (7, 7, 7, 7));
        assert_eq!(Figures::of(Vec::new()), Figures::default());
    }

    #[test]
    fn every_lateness_is_in_one_bucket() {
        let figures = Figures::of(vec![-3, 0, 999, 1000, 1999, 2000, 99_999_999, 100_000_000]);
        assert_eq!(figures.histogram[..3], [3, 2, 1]);
        assert_eq!(figures.histogram[15..], [1, 1]);
        assert_eq!(figures.histogram.iter().sum::<u64>(), figures.count);
        assert!(EDGES.is_sorted());
    }

    #[test]
    fn the_verdict_changes_at_the_published_limits() {
        let verdicts = [0, 1_000_000, 1_000_001, 6_000_000, 6_000_001].map(Verdict::of);
        use Verdict::{Fair, Good, Poor};
        assert_eq!(verdicts, [Good, Good, Fair, Fair, Poor]);
    }
}
