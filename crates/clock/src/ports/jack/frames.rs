//! Between our clock and JACK's frames.
//!
//! In, once a block: when it began and ends on JACK's own clock, how many frames it has, and the
//! two clocks read together. Out: the frame of a moment, the moment of a frame. JACK's clock may
//! be another one of the system than ours, and run a little faster or slower: what is between them
//! is measured in each block and smoothed. A reading that was interrupted halfway is left out.

use chaconne_time::Ns;

/// Between two readings of our clock there may be so much where JACK's was read: 20 µs.
const LONGEST_READING: Ns = 20_000;
/// A difference that has moved so far is no noise: 1 ms.
const JUMP: Ns = 1_000_000;
/// After so many readings left out in a row, the next one is taken as it is.
const PATIENCE: u32 = 32;
/// A lag that is longer is none: 1 s.
const MOST_LAG: Ns = 1_000_000_000;
/// Each block moves the lag by one part of so many.
const LAG_PART: Ns = 256;
/// Each reading moves the difference by one part of so many.
const PART: Ns = 8;

/// The two clocks, read together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    /// Our clock before and after.
    pub before: Ns,
    pub after: Ns,
    /// JACK's clock in between, in microseconds.
    pub jack: u64,
}

/// What our clock is ahead of JACK's.
#[derive(Debug, Default)]
pub(crate) struct Offset {
    ns: Option<Ns>,
    left_out: u32,
}

impl Offset {
    /// Takes a reading, and gives the difference in nanoseconds.
    pub fn update(&mut self, reading: Reading) -> Ns {
        let middle = reading.before + (reading.after - reading.before) / 2;
        let sample = middle - to_ns(reading.jack);
        let is_clean = reading.after - reading.before <= LONGEST_READING;
        let ns = match self.ns {
            Some(ns) if self.left_out < PATIENCE => {
                if !is_clean || (sample - ns).abs() > JUMP {
                    self.left_out += 1;
                    return ns;
                }
                ns + (sample - ns) / PART
            }
            _ => sample,
        };
        self.left_out = 0;
        self.ns = Some(ns);
        ns
    }
}

/// How far JACK's account of its blocks is behind.
///
/// It reckons when each block begins from when the earlier ones did. Where a server does not keep
/// the rate it believes in, its account can be tens of milliseconds behind, and what is due now
/// would wait for so long. What is more than two blocks is taken off, evenly; a server that keeps its
/// rate is believed to the frame.
#[derive(Debug, Default)]
pub(crate) struct Lag(Option<Ns>);

impl Lag {
    /// A block, put where it belongs; `now` is when it was called for.
    pub fn correct(&mut self, block: Block, now: Ns) -> Block {
        let lag = (now - block.start).clamp(0, MOST_LAG);
        let lag = self.0.map_or(lag, |before| before + (lag - before) / LAG_PART);
        self.0 = Some(lag);
        Block { start: block.start + (lag - 2 * block.length).max(0), ..block }
    }
}

/// One block: which moments its frames stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Block {
    /// When it began, on our clock.
    pub start: Ns,
    /// How long it is.
    pub length: Ns,
    /// How many frames it has.
    pub frames: u32,
}

impl Block {
    /// A block of `frames` that JACK says began and ends at these microseconds. Where it says
    /// nonsense, as after it was interrupted, the length is `usual`.
    pub fn new(begin: u64, end: u64, frames: u32, usual: Ns, offset: Ns) -> Block {
        let length = to_ns(end) - to_ns(begin);
        let is_sane = length > usual / 2 && length < usual * 2;
        Block { start: to_ns(begin) + offset, length: if is_sane { length } else { usual }, frames }
    }

    /// The frame of a moment: 0 for what is past, `None` for what lies beyond this block.
    pub fn frame(&self, due: Ns) -> Option<u32> {
        let since = due.saturating_sub(self.start).max(0);
        if since >= self.length {
            return None;
        }
        let frame = i128::from(since) * i128::from(self.frames) / i128::from(self.length.max(1));
        Some(frame as u32)
    }

    /// The moment of a frame.
    pub fn moment(&self, frame: u32) -> Ns {
        let since = i128::from(self.length) * i128::from(frame) / i128::from(self.frames.max(1));
        self.start + since as Ns
    }
}

/// Microseconds as nanoseconds.
fn to_ns(micros: u64) -> Ns {
    Ns::try_from(micros).unwrap_or(Ns::MAX).saturating_mul(1000)
}

/// How long so many frames are at a rate of frames a second.
pub(crate) fn length(frames: u32, rate: u32) -> Ns {
    Ns::from(frames) * 1_000_000_000 / Ns::from(rate.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_has_the_frame_it_falls_into() {
        // 48,000 frames a second: a block of 48 is one millisecond.
        let block = Block::new(5000, 6000, 48, 1_000_000, 70);
        assert_eq!((block.start, block.length), (5_000_070, 1_000_000));
        for (due, frame) in [(0, Some(0)), (5_000_070, Some(0)), (5_500_070, Some(24))] {
            assert_eq!(block.frame(due), frame);
        }
        assert_eq!(block.frame(6_000_069), Some(47));
        assert_eq!(block.frame(6_000_070), None);
        assert_eq!(block.frame(Ns::MAX), None);
        assert_eq!(block.frame(Ns::MIN), Some(0));
        for frame in 0..48 {
            assert_eq!(block.frame(block.moment(frame) + 1), Some(frame));
        }
    }

    #[test]
    fn a_block_that_cannot_be_has_its_usual_length() {
        for (begin, end) in [(5000, 5000), (5000, 4000), (5000, 90_000), (5000, u64::MAX)] {
            assert_eq!(Block::new(begin, end, 48, 1_000_000, 0).length, 1_000_000);
        }
        assert_eq!(length(64, 48_000), 1_333_333);
        assert_eq!(Block::new(0, 0, 0, 0, 0).frame(5), None);
    }

    #[test]
    fn the_difference_follows_a_clock_that_runs_fast_and_not_an_interrupted_reading() {
        let mut offset = Offset::default();
        let mut last = 0;
        for block in 0..10_000i64 {
            let ns = block * 1_333_333;
            // Ours is fast by 50 in a million; every hundredth reading is interrupted.
            let ours = ns + ns / 20_000 + 500_000_000;
            let late = if block % 100 == 99 { 300_000 } else { 400 };
            let reading = Reading { before: ours, after: ours + late, jack: ns as u64 / 1000 };
            last = offset.update(reading) - (ours - ns);
            assert!(last.abs() < 2500, "{last} after {block} blocks");
        }
        assert!(last.abs() < 2500);
    }

    #[test]
    fn an_account_that_is_behind_is_corrected_and_one_that_is_not_is_believed() {
        let block = Block { start: 10_000_000, length: 1_000_000, frames: 48 };
        let mut lag = Lag::default();
        for _ in 0..1000 {
            assert_eq!(lag.correct(block, 11_900_000), block);
        }
        // Behind by 40 ms: after a while no more than by two blocks.
        let mut last = block;
        for _ in 0..5000 {
            let next = lag.correct(block, 50_000_000);
            assert!(next.start >= last.start && next.start - last.start < 200_000);
            last = next;
        }
        assert!((last.start - 48_000_000).abs() < 1000, "{}", last.start);
    }

    #[test]
    fn a_clock_that_has_jumped_is_followed_after_a_while() {
        let mut offset = Offset::default();
        let read =
            |ns: Ns, jump: Ns| Reading { before: ns, after: ns, jack: ((ns + jump) / 1000) as u64 };
        offset.update(read(1_000_000, 0));
        assert_eq!(offset.update(read(2_000_000, 5_000_000)), 0);
        let moved = (0..100).map(|n| offset.update(read(n * 1_000_000, 5_000_000))).last();
        assert_eq!(moved, Some(-5_000_000));
    }
}
