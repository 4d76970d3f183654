//! The limiter: nothing that leaves it is above [`CEILING_DB`], and it does it without a crack.
//!
//! In: frames of any size, even those that are no number. Out: the same frames, [`Limiter::latency`]
//! frames later, turned down as far as needed. It looks ahead: the gain that a peak needs is
//! reached in a straight line by the time the peak comes out, and given back over a tenth of a
//! second. Both sides are turned down alike, so nothing moves from its place. What stays below the
//! ceiling comes out bit for bit as it went in.

/// The highest level that comes out, in decibels under full scale.
pub const CEILING_DB: f32 = -1.0;

/// The ceiling as a sample: 10^(-1/20), rounded down.
const CEILING: f32 = 0.891_250;
/// How far it looks ahead, in seconds, and in how many it gives back 63 % of what it took.
const AHEAD: f64 = 0.002;
const RELEASE: f64 = 0.1;
/// A gain of one, as a whole number: sums of whole numbers do not drift.
const ONE: u64 = 1 << 32;
/// A sample smaller than this is nothing (-240 dBFS): no denormal number is reckoned with.
const NOTHING: f32 = 1e-12;

/// The limiter. See the header. Made once, it does not allocate.
#[derive(Debug)]
pub struct Limiter {
    ahead: usize,
    /// The frames that wait, in a ring.
    waiting: Vec<[f32; 2]>,
    /// The gains of the last `ahead` frames, in the same ring, and their sum.
    gains: Vec<u64>,
    sum: u64,
    at: usize,
    /// Gains that are the smallest from their frame on: (frame, gain), rising; a ring too.
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

    /// By how many frames it delays, at this sample rate: 2 ms.
    pub fn latency(rate: u32) -> usize {
        ((AHEAD * f64::from(rate)).round() as usize).max(1)
    }

    /// Limits frames in place.
    pub fn process(&mut self, left: &mut [f32], right: &mut [f32]) {
        for (left, right) in left.iter_mut().zip(right) {
            [*left, *right] = self.next([clean(*left), clean(*right)]);
        }
    }

    /// The smallest gain since this was last asked, 0 to 1.
    pub fn take_lowest(&mut self) -> f32 {
        std::mem::replace(&mut self.lowest, ONE) as f32 / ONE as f32
    }

    fn next(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let needed = self.needed(frame);
        if needed == ONE && self.is_at_rest() {
            // Nothing would change but the place in the ring.
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

    /// Whether all gains are one, those that are held and those to come: as long as nothing is above
    /// the ceiling, which is most of the time.
    fn is_at_rest(&self) -> bool {
        self.sum == ONE * self.ahead as u64 && self.count <= 1 && self.smallest[self.first].1 == ONE
    }

    /// Puts a frame into the ring, and takes the one out whose turn it is.
    fn delay(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let out = std::mem::replace(&mut self.waiting[self.at], frame);
        self.at = if self.at + 1 == self.ahead { 0 } else { self.at + 1 };
        self.frame += 1;
        out
    }

    /// The gain that a frame needs to come out below the ceiling, rounded down.
    fn needed(&self, [left, right]: [f32; 2]) -> u64 {
        let peak = left.abs().max(right.abs());
        if peak <= CEILING {
            ONE
        } else {
            (f64::from(CEILING) / f64::from(peak) * ONE as f64) as u64
        }
    }

    /// Keeps the smallest gain of the last `ahead + 1` frames at the front.
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

    /// Falls with the smallest gain at once, and rises after it slowly.
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

/// The sample, or silence for one that is no number, endless, or too small to matter.
fn clean(sample: f32) -> f32 {
    if sample.is_finite() && sample.abs() >= NOTHING { sample } else { 0.0 }
}
