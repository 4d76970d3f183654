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
/// In which time a correction settles: 500 ms.
const SETTLES: Ns = 500_000_000;
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

/// What is put right of JACK's account of when its blocks begin.
///
/// It reckons when a block begins from when the earlier ones did. Where a server does not keep the
/// rate it believes in, its account falls tens of milliseconds behind what really happened, and
/// swings past it when it catches up: what is due now would wait for so long, or be found past.
/// So the account is believed as long as a block begins when it was called for, or up to two blocks
/// before; outside of that it is moved, evenly, and at once where it would lie ahead. All that a
/// program does follows from what JACK tells every client alike, so that two of them agree about
/// the moment of a frame; what one knew and the other did not is forgotten within seconds.
///
/// When it was held up, the server's account of a single block may be another one than that of the
/// blocks around it. A leap is believed when it is there in the next block, too.
#[derive(Debug, Default)]
pub(crate) struct Correction {
    moved: Ns,
    /// When the next block begins if the account goes on as it did.
    expected: Option<Ns>,
    /// Whether the last block was taken to begin when it was expected, whatever the account said.
    doubted: bool,
}

impl Correction {
    /// A block, put where it belongs; JACK called for it at `called`.
    pub fn apply(&mut self, block: Block, called: Ns) -> Block {
        let block = self.believe(block);
        let Correction { moved, .. } = self;
        let lag = (called - block.start).clamp(-MOST_LAG, MOST_LAG);
        // It cannot begin after it was called for; half a block is left to the noise of a server
        // that keeps its rate.
        let most = lag + block.length / 2;
        let aim = (lag - 2 * block.length).max(0).min(most);
        *moved += (aim - *moved) * block.length.min(SETTLES) / SETTLES;
        *moved = (*moved).min(most);
        Block { start: block.start + *moved, ..block }
    }

    /// The block, as the account has it or, once, as it was expected. A block or two may be missed
    /// when a client is late.
    fn believe(&mut self, block: Block) -> Block {
        let leap = self.expected.map_or(0, |expected| block.start - expected);
        self.doubted = !self.doubted && leap.abs() > 5 * block.length / 2;
        let start = if self.doubted { block.start - leap } else { block.start };
        self.expected = Some(start + block.length);
        Block { start, ..block }
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

    /// When JACK called for a block, on its own clock, where `frames` of it have passed at `jack`
    /// microseconds.
    pub fn called(jack: u64, frames: u32, rate: u32) -> Ns {
        to_ns(jack) - length(frames, rate)
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

    /// What JACK's own account says of its blocks, called for at these moments: the second-order
    /// filter of its frame timer, 0.125 Hz wide.
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

    /// Blocks of 128 frames; before each thousandth the server is held up for so long.
    fn held_up(by: Ns) -> (Vec<Ns>, Ns) {
        let length = length(128, 48_000);
        let called = |n: Ns| 1_000_000_000 + n * length + n / 1000 * by + n * 7919 % 97 * 1000;
        ((0..10_000).map(called).collect(), length)
    }

    #[test]
    fn a_server_that_keeps_its_rate_is_believed_to_the_frame() {
        let (called, length) = held_up(0);
        let mut correction = Correction::default();
        for (block, called) in account(&called, length).into_iter().zip(called) {
            let moved = correction.apply(block, called).start - block.start;
            assert!(moved.abs() < 10_000, "{moved}");
        }
    }

    #[test]
    fn an_account_that_was_held_up_is_corrected_evenly_and_never_lies_ahead() {
        let (called, length) = held_up(45_000_000);
        let mut correction = Correction::default();
        let (mut last, mut furthest) = (None, 0);
        for (block, called) in account(&called, length).into_iter().zip(called) {
            furthest = furthest.max(block.start - called);
            let start = correction.apply(block, called).start;
            assert!(start <= called + block.length / 2, "{} ahead", start - called);
            let gap = last.map_or(0, |end: Ns| start - end);
            // Nothing is due in more than a millisecond between two blocks, or twice.
            assert!(gap.abs() < length / 2, "{gap}");
            last = Some(start + block.length);
        }
        // Left alone it would have lain far ahead.
        assert!(furthest > 2 * length, "{furthest}");
    }

    #[test]
    fn a_leap_of_one_block_is_not_believed_and_one_that_lasts_is() {
        let block = |start: Ns| Block { start, length: 1_000_000, frames: 48 };
        let mut correction = Correction::default();
        // Called for 1.5 ms after it begins by the account.
        let mut start = |number: Ns, account: Ns| {
            correction.apply(block(account), number * 1_000_000 + 1_500_000).start / 1_000_000
        };
        for n in 0..100 {
            assert_eq!(start(n, n * 1_000_000), n);
        }
        assert_eq!(start(100, 130_000_000), 100);
        assert_eq!(start(101, 101_000_000), 101);
        // Two were missed.
        assert_eq!(start(104, 104_000_000), 104);
        // From here on it is another account.
        assert_eq!(start(134, 134_000_000), 105);
        assert_eq!(start(135, 135_000_000), 135);
        assert_eq!(start(136, 136_000_000), 136);
    }

    #[test]
    fn two_that_began_at_other_times_agree_about_the_moment_of_a_frame() {
        let (called, length) = held_up(45_000_000);
        let blocks = account(&called, length);
        let (mut one, mut other) = (Correction::default(), Correction::default());
        for (n, (block, called)) in blocks.into_iter().zip(called).enumerate() {
            let early = one.apply(block, called);
            if n >= 1100 {
                // What they read of the moment is a frame apart.
                let late = other.apply(block, called + n as Ns % 2 * 20_833);
                let apart = late.start - early.start;
                assert!(n < 2500 || apart.abs() < 50_000, "{apart} at {n}");
            }
        }
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
