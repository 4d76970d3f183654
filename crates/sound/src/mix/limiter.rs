//! The limiter: keeps every sample below [`CEILING_DB`] without a pop.
//!
//! In: frames of any amplitude, even NaN. Out: the same frames, [`Limiter::latency`] frames later
//! and turned down as far as necessary. It looks ahead: the gain moves in a straight line and
//! reaches what a peak needs by the time the peak comes out, then recovers over a tenth of a
//! second. Both sides get the same gain, so the stereo image does not shift. While nothing exceeds
//! the ceiling, frames pass unchanged to the bit.

/// The highest level that comes out, in dBFS.
pub const CEILING_DB: f32 = -1.0;

/// The ceiling as a sample: 10^(-1/20), rounded down.
const CEILING: f32 = 0.891_250;
/// How far it looks ahead, and how long it takes to recover by 63 %, in seconds.
const AHEAD: f64 = 0.002;
const RELEASE: f64 = 0.1;
/// A gain of one, as an integer: sums of integers do not drift.
const ONE: u64 = 1 << 32;
/// A smaller sample (-240 dBFS) becomes 0, which avoids slow denormal numbers.
const NOTHING: f32 = 1e-12;

/// The limiter. See the header. Once created, it does not allocate.
#[derive(Debug)]
pub struct Limiter {
    ahead: usize,
    /// The delayed frames, in a ring.
    waiting: Vec<[f32; 2]>,
    /// The gains of the last `ahead` frames, in a ring at the same index, and their sum.
    gains: Vec<u64>,
    sum: u64,
    at: usize,
    /// Gains that no later frame undercuts, as (frame, gain) in ascending order; another ring.
    smallest: Vec<(u64, u64)>,
    first: usize,
    count: usize,
    frame: u64,
    held: u64,
    release: f64,
    lowest: u64,
}

impl Limiter {
    /// A limiter at this sample rate.
    pub fn new(rate: u32) -> Limiter {
        let ahead = Limiter::latency(rate);
        Limiter {
            ahead,
            waiting: vec![[0.0; 2]; ahead],
            gains: vec![ONE; ahead],
            sum: ONE * ahead as u64,
            at: 0,
            smallest: vec![(0, ONE); ahead + 1],
            first: 0,
            count: 0,
            frame: 0,
            held: ONE,
            release: 1.0 - (-1.0 / (RELEASE * f64::from(rate.max(1)))).exp(),
            lowest: ONE,
        }
    }

    /// Its delay in frames at this sample rate: 2 ms.
    pub fn latency(rate: u32) -> usize {
        ((AHEAD * f64::from(rate)).round() as usize).max(1)
    }

    /// Limits frames in place.
    pub fn process(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.iter_mut().zip(right) {
            [*left, *right] = self.next([clean(*left), clean(*right)]);
        }
    }

    /// The smallest gain since the last call, 0 to 1.
    pub fn take_lowest(&mut self) -> f32 {
        std::mem::replace(&mut self.lowest, ONE) as f32 / ONE as f32
    }

    fn next(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let needed = self.needed(frame);
        if needed == ONE && self.is_at_rest() {
            // Only the position in the ring would change.
            return self.delay(frame);
        }
        self.push(needed);
        let smallest = self.smallest[self.first].1;
        self.hold(smallest);
        self.sum = self.sum + self.held - self.gains[self.at];
        self.gains[self.at] = self.held;
        let out = self.delay(frame);
        if self.sum == ONE * self.ahead as u64 {
            return out;
        }
        let gain = self.sum / self.ahead as u64;
        self.lowest = self.lowest.min(gain);
        let gain = gain as f64 / ONE as f64;
        out.map(|sample| ((f64::from(sample) * gain) as f32).clamp(-CEILING, CEILING))
    }

    /// Whether all gains, current and upcoming, are one. That is so while nothing exceeds the ceiling,
    /// which is most of the time.
    fn is_at_rest(&self) -> bool {
        self.sum == ONE * self.ahead as u64 && self.count <= 1 && self.smallest[self.first].1 == ONE
    }

    /// Puts a frame into the ring and returns the oldest.
    fn delay(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let out = std::mem::replace(&mut self.waiting[self.at], frame);
        self.at = if self.at + 1 == self.ahead { 0 } else { self.at + 1 };
        self.frame += 1;
        out
    }

    /// The gain that brings a frame below the ceiling, rounded down.
    fn needed(&self, [left, right]: [f32; 2]) -> u64 {
        let peak = left.abs().max(right.abs());
        if peak <= CEILING {
            ONE
        } else {
            (f64::from(CEILING) / f64::from(peak) * ONE as f64) as u64
        }
    }

    /// Adds a gain, and keeps the smallest of the last `ahead + 1` frames at the front.
    fn push(&mut self, gain: u64) {
        let size = self.ahead + 1;
        if self.count > 0 && self.smallest[self.first].0 + size as u64 <= self.frame {
            self.first = (self.first + 1) % size;
            self.count -= 1;
        }
        while self.count > 0 {
            let last = (self.first + self.count - 1) % size;
            if self.smallest[last].1 < gain {
                break;
            }
            self.count -= 1;
        }
        self.smallest[(self.first + self.count) % size] = (self.frame, gain);
        self.count += 1;
    }

    /// Falls to the smallest gain at once, and rises to it slowly.
    fn hold(&mut self, smallest: u64) {
        if smallest <= self.held {
            self.held = smallest;
            return;
        }
        let way = (smallest - self.held) as f64;
        let step = ((way * self.release) as u64).max(ONE >> 24);
        self.held = (self.held + step).min(smallest);
    }
}

/// The sample, or 0 if it is NaN, infinite or too small to matter.
fn clean(sample: f32) -> f32 {
    if sample.is_finite() && sample.abs() >= NOTHING { sample } else { 0.0 }
}
