//! Converts between our clock and JACK's frames.
//!
//! In, once per block: when it begins and ends on JACK's clock, how many frames it has, and both
//! clocks read together. Out: the frame for a time, and the time of a frame. JACK may use another
//! clock than ours, which may run slightly faster or slower, so the difference is measured in each
//! block and smoothed. A reading that was interrupted is ignored.

use chaconne_time::Ns;

/// The longest time between two readings of our clock with one of JACK's between them: 20 us.
const LONGEST_READING: Ns = 20_000;
/// A larger change of the difference is not noise: 1 ms.
const JUMP: Ns = 1_000_000;
/// After this many ignored readings in a row, the next one is used.
const PATIENCE: u32 = 32;
/// A longer lag is ignored as implausible: 1 s.
const MOST_LAG: Ns = 1_000_000_000;
/// How long a correction takes: 500 ms.
const SETTLES: Ns = 500_000_000;
/// Each reading moves the difference by one part in this many.
const PART: Ns = 8;

/// The two clocks, read together.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    /// Our clock, before and after.
    pub before: Ns,
    pub after: Ns,
    /// JACK's clock, read between those, in microseconds.
    pub jack: u64,
}

/// How far our clock is ahead of JACK's.
#[derive(Debug, Default)]
pub(crate) struct Offset {
    ns: Option<Ns>,
    left_out: u32,
}

impl Offset {
    /// Uses a reading; returns the difference in nanoseconds.
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

/// Corrects JACK's own account of when its blocks begin.
///
/// JACK computes the start of a block from the starts of earlier ones. If a server does not keep
/// the rate it assumes, its account falls tens of milliseconds behind and overshoots when it
/// catches up: messages would go out that much too late, or be found overdue. So the account is
/// used as long as a block begins when JACK called for it, or up to two blocks before that. Outside
/// that range it is shifted: gradually, but at once if it would be ahead. The correction depends only
/// on values that JACK gives to every client, so two clients agree on the time of a frame;
/// differences from before both were running are forgotten within seconds.
///
/// After a hold-up, the account of a single block may differ from its neighbours. A jump is
/// believed only when the next block shows it too.
#[derive(Debug, Default)]
pub(crate) struct Correction {
    moved: Ns,
    /// When the next block begins, if the account continues as before.
    expected: Option<Ns>,
    /// Whether the last block's account was replaced by the expected start.
    doubted: bool,
}

impl Correction {
    /// Corrects a block that JACK called for at `called`.
    pub fn apply(&mut self, block: Block, called: Ns) -> Block {
        let block = self.believe(block);
        let Correction { moved, .. } = self;
        let lag = (called - block.start).clamp(-MOST_LAG, MOST_LAG);
        // It cannot begin after it was called for. Half a block is allowed for the noise of a
        // server that keeps its rate.
        let most = lag + block.length / 2;
        let aim = (lag - 2 * block.length).max(0).min(most);
        *moved += (aim - *moved) * block.length.min(SETTLES) / SETTLES;
        *moved = (*moved).min(most);
        Block { start: block.start + *moved, ..block }
    }

    /// The block as the account has it or, once, as it was expected. A late client may miss a block
    /// or two.
    fn believe(&mut self, block: Block) -> Block {
        let leap = self.expected.map_or(0, |expected| block.start - expected);
        self.doubted = !self.doubted && leap.abs() > 5 * block.length / 2;
        let start = if self.doubted { block.start - leap } else { block.start };
        self.expected = Some(start + block.length);
        Block { start, ..block }
    }
}

/// One block, and the times of its frames.
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
    /// A block of `frames` that JACK says began and ended at these microseconds. If that is
    /// impossible, as after an interruption, its length is `usual`.
    pub fn new(begin: u64, end: u64, frames: u32, usual: Ns, offset: Ns) -> Block {
        let length = to_ns(end) - to_ns(begin);
        let is_sane = length > usual / 2 && length < usual * 2;
        Block { start: to_ns(begin) + offset, length: if is_sane { length } else { usual }, frames }
    }

    /// The frame for a time: 0 for the past, `None` for times after this block.
    pub fn frame(&self, due: Ns) -> Option<u32> {
        let since = due.saturating_sub(self.start).max(0);
        if since >= self.length {
            return None;
        }
        let frame = i128::from(since) * i128::from(self.frames) / i128::from(self.length.max(1));
        Some(frame as u32)
    }

    /// When JACK called for a block, on its own clock, if `frames` of it have passed at `jack`
    /// microseconds.
    pub fn called(jack: u64, frames: u32, rate: u32) -> Ns {
        to_ns(jack) - length(frames, rate)
    }

    /// The time of a frame.
    pub fn moment(&self, frame: u32) -> Ns {
        let since = i128::from(self.length) * i128::from(frame) / i128::from(self.frames.max(1));
        self.start + since as Ns
    }
}

/// Converts microseconds to nanoseconds.
fn to_ns(micros: u64) -> Ns {
    Ns::try_from(micros).unwrap_or(Ns::MAX).saturating_mul(1000)
}

/// The length of this many frames at a rate in frames per second.
pub(crate) fn length(frames: u32, rate: u32) -> Ns {
    Ns::from(frames) * 1_000_000_000 / Ns::from(rate.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_time_maps_to_the_frame_it_falls_into() {
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
    fn an_impossible_block_gets_the_usual_length() {
        for (begin, end) in [(5000, 5000), (5000, 4000), (5000, 90_000), (5000, u64::MAX)] {
            assert_eq!(Block::new(begin, end, 48, 1_000_000, 0).length, 1_000_000);
        }
        assert_eq!(length(64, 48_000), 1_333_333);
        assert_eq!(Block::new(0, 0, 0, 0, 0).frame(5), None);
    }

    #[test]
    fn the_difference_follows_a_fast_clock_and_ignores_interrupted_readings() {
        let mut offset = Offset::default();
        let mut last = 0;
        for block in 0..10_000i64 {
            let ns = block * 1_333_333;
            // Ours is fast by 50 parts per million; every hundredth reading is interrupted.
            let ours = ns + ns / 20_000 + 500_000_000;
            let late = if block % 100 == 99 { 300_000 } else { 400 };
            let reading = Reading { before: ours, after: ours + late, jack: ns as u64 / 1000 };
            last = offset.update(reading) - (ours - ns);
            assert!(last.abs() < 2500, "{last} after {block} blocks");
        }
        assert!(last.abs() < 2500);
    }

    /// JACK's own account of blocks called for at these times: the second-order filter of its frame
    /// timer, 0.125 Hz wide.
    fn account(called: &[Ns], length: Ns) -> Vec<Block> {
        let omega = length as f64 * 7.854e-10;
        let (mut next, mut period) = (called[0] as f64, length as f64);
        let block = |&called: &Ns| {
            let (start, delta) = (next, called as f64 - next);
            next += period + 1.41 * delta * omega;
            period += omega * omega * delta;
            Block { start: start as Ns, length: (next - start) as Ns, frames: 128 }
        };
        called.iter().map(block).collect()
    }

    /// Blocks of 128 frames; before each thousandth the server is held up by this much.
    fn held_up(by: Ns) -> (Vec<Ns>, Ns) {
        let length = length(128, 48_000);
        let called = |n: Ns| 1_000_000_000 + n * length + n / 1000 * by + n * 7919 % 97 * 1000;
        ((0..10_000).map(called).collect(), length)
    }

    #[test]
    fn a_server_that_keeps_its_rate_is_not_corrected() {
        let (called, length) = held_up(0);
        let mut correction = Correction::default();
        for (block, called) in account(&called, length).into_iter().zip(called) {
            let moved = correction.apply(block, called).start - block.start;
            assert!(moved.abs() < 10_000, "{moved}");
        }
    }

    #[test]
    fn a_held_up_account_is_corrected_gradually_and_is_never_ahead() {
        let (called, length) = held_up(45_000_000);
        let mut correction = Correction::default();
        let (mut last, mut furthest) = (None, 0);
        for (block, called) in account(&called, length).into_iter().zip(called) {
            furthest = furthest.max(block.start - called);
            let start = correction.apply(block, called).start;
            assert!(start <= called + block.length / 2, "{} ahead", start - called);
            let gap = last.map_or(0, |end: Ns| start - end);
            // Two blocks never leave a gap of more than a millisecond, or overlap by more.
            assert!(gap.abs() < length / 2, "{gap}");
            last = Some(start + block.length);
        }
        // Uncorrected, the account would have been far ahead.
        assert!(furthest > 2 * length, "{furthest}");
    }

    #[test]
    fn a_jump_of_one_block_is_ignored_and_a_lasting_one_believed() {
        let block = |start: Ns| Block { start, length: 1_000_000, frames: 48 };
        let mut correction = Correction::default();
        // Called for 1.5 ms after it begins according to the account.
        let mut start = |number: Ns, account: Ns| {
            correction.apply(block(account), number * 1_000_000 + 1_500_000).start / 1_000_000
        };
        for n in 0..100 {
            assert_eq!(start(n, n * 1_000_000), n);
        }
        assert_eq!(start(100, 130_000_000), 100);
        assert_eq!(start(101, 101_000_000), 101);
        // Two blocks were missed.
        assert_eq!(start(104, 104_000_000), 104);
        // From here on the account is a different one.
        assert_eq!(start(134, 134_000_000), 105);
        assert_eq!(start(135, 135_000_000), 135);
        assert_eq!(start(136, 136_000_000), 136);
    }

    #[test]
    fn clients_started_at_different_times_agree_on_the_time_of_a_frame() {
        let (called, length) = held_up(45_000_000);
        let blocks = account(&called, length);
        let (mut one, mut other) = (Correction::default(), Correction::default());
        for (n, (block, called)) in blocks.into_iter().zip(called).enumerate() {
            let early = one.apply(block, called);
            if n >= 1100 {
                // Their readings of the time differ by a frame.
                let late = other.apply(block, called + n as Ns % 2 * 20_833);
                let apart = late.start - early.start;
                assert!(n < 2500 || apart.abs() < 50_000, "{apart} at {n}");
            }
        }
    }

    #[test]
    fn a_clock_that_jumps_is_followed_after_a_while() {
        let mut offset = Offset::default();
        let read =
            |ns: Ns, jump: Ns| Reading { before: ns, after: ns, jack: ((ns + jump) / 1000) as u64 };
        offset.update(read(1_000_000, 0));
        assert_eq!(offset.update(read(2_000_000, 5_000_000)), 0);
        let moved = (0..100).map(|n| offset.update(read(n * 1_000_000, 5_000_000))).last();
        assert_eq!(moved, Some(-5_000_000));
    }
}
