//! Maps the frames of a device to times on the system's clock.
//!
//! In: for each block, the time at which its callback began and the number of frames. Out: the time
//! of the block's first frame. Callbacks can be late but never early, so their times go through a
//! second-order delay-locked loop (the structure of Adriaensen, "Using a DLL to filter time", 2005)
//! in which a late callback counts for at most 50 µs. The loop follows a device that runs slightly
//! fast or slow, and keeps the delay of every event constant, to the frame.

use chaconne_time::Ns;

/// The most a late callback counts for, in nanoseconds.
const LATE_COUNTS: f64 = 50_000.0;
/// The bandwidth of the loop once it has settled, in hertz.
const WIDTH: f64 = 0.1;
/// The bandwidth at first, in hertz.
const FIRST_WIDTH: f64 = 2.0;
/// How long it takes to settle, in nanoseconds: 3 s.
const SETTLES: f64 = 3e9;
/// An error above this is not jitter: the device was held up. 100 ms, in nanoseconds.
const RESET: f64 = 100e6;

/// The map of one device.
#[derive(Debug, Clone)]
pub struct Map {
    /// The length of a frame by the device's nominal rate, in nanoseconds.
    nominal: f64,
    /// Its length by our clock, in nanoseconds.
    frame: f64,
    /// When the next block is expected, in nanoseconds after `origin`.
    next: f64,
    origin: Option<Ns>,
    /// How long the loop has run, in nanoseconds.
    age: f64,
    resets: u64,
}

impl Map {
    /// A map for a device with this many frames per second.
    pub fn new(rate: u32) -> Map {
        let frame = 1e9 / f64::from(rate.max(1));
        Map { nominal: frame, frame, next: 0.0, origin: None, age: 0.0, resets: 0 }
    }

    /// Adds a block of this many frames whose callback began at `arrival`. Returns the time of its
    /// first frame, in nanoseconds on the same clock.
    pub fn block(&mut self, arrival: Ns, frames: u32) -> Ns {
        let length = f64::from(frames) * self.frame;
        let Some(origin) = self.origin else { return self.restart(arrival, length) };
        let error = (arrival - origin) as f64 - self.next;
        if error.abs() > RESET {
            self.resets += 1;
            return self.restart(arrival, length);
        }
        let start = self.next;
        let width = WIDTH + (FIRST_WIDTH - WIDTH) * (1.0 - self.age / SETTLES).max(0.0);
        let omega = (std::f64::consts::TAU * width * length / 1e9).min(0.5);
        let error = error.min(LATE_COUNTS);
        self.next += length + std::f64::consts::SQRT_2 * omega * error;
        let frame = self.frame + omega * omega * error / f64::from(frames.max(1));
        // No device's rate is off by as much as one per cent.
        self.frame = frame.clamp(self.nominal * 0.99, self.nominal * 1.01);
        self.age += length;
        origin + start as Ns
    }

    fn restart(&mut self, arrival: Ns, length: f64) -> Ns {
        (self.origin, self.next, self.age) = (Some(arrival), length, 0.0);
        arrival
    }

    /// The length of a frame, in nanoseconds.
    pub fn frame(&self) -> f64 {
        self.frame
    }

    /// How often the device was held up for so long that the map started again.
    pub fn resets(&self) -> u64 {
        self.resets
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Simulates callbacks of 256 frames at 48 kHz from a device that is this many parts per
    /// million fast, each late by `late`. Returns the errors of the map after the first ten
    /// seconds.
    fn errors(ppm: f64, late: impl Fn(u64) -> Ns) -> Vec<f64> {
        let mut map = Map::new(48_000);
        let length = 256.0 * 1e9 / 48_000.0 / (1.0 + ppm / 1e6);
        let run = |n: u64| {
            let truth = 5_000_000_000.0 + n as f64 * length;
            (n, map.block(truth as Ns + late(n), 256) as f64 - truth)
        };
        let all: Vec<(u64, f64)> = (0..12_000).map(run).collect();
        all.into_iter().filter(|(n, _)| *n > 1900).map(|(_, error)| error).collect()
    }

    fn spread(errors: &[f64]) -> (f64, f64) {
        let mean = errors.iter().sum::<f64>() / errors.len() as f64;
        let square = errors.iter().map(|error| (error - mean).powi(2)).sum::<f64>();
        let (low, high) = errors
            .iter()
            .fold((f64::MAX, f64::MIN), |(low, high), &error| (low.min(error), high.max(error)));
        ((square / errors.len() as f64).sqrt(), high - low)
    }

    #[test]
    fn late_callbacks_have_no_audible_effect() {
        // 40 parts per million fast; up to 60 µs late, 1 in 100 up to 4 ms.
        let late = |n: u64| {
            let noise = (n.wrapping_mul(6_364_136_223_846_793_005) >> 33) as i64;
            if noise % 100 == 0 { noise % 4_000_000 } else { noise % 60_000 }
        };
        let (deviation, range) = spread(&errors(40.0, late));
        assert!(deviation < 20_000.0, "{deviation}");
        // Under five frames of 20.8 µs from one end to the other.
        assert!(range < 100_000.0, "{range}");
    }

    #[test]
    fn a_device_without_jitter_is_followed_to_the_microsecond() {
        for ppm in [-300.0, 0.0, 300.0] {
            let (_, range) = spread(&errors(ppm, |_| 0));
            assert!(range < 2_000.0, "{range} at {ppm}");
        }
    }

    #[test]
    fn the_map_restarts_after_a_hold_up_but_not_after_one_late_callback() {
        let mut map = Map::new(48_000);
        let block = |n: i64| n * 5_333_333;
        for n in 0..100 {
            map.block(block(n), 256);
        }
        let late = map.block(block(100) + 20_000_000, 256);
        assert!((late - block(100)).abs() < 100_000 && map.resets() == 0);
        let held_up = block(101) + 300_000_000;
        assert_eq!(map.block(held_up, 256), held_up);
        assert_eq!(map.resets(), 1);
    }

    #[test]
    fn blocks_may_be_of_any_length() {
        let (mut map, mut frames) = (Map::new(44_100), 0u64);
        for n in 0..5000u64 {
            let length = [64, 441, 1024, 1][n as usize % 4];
            let truth = (frames as f64 * 1e9 / 44_100.0) as Ns;
            let start = map.block(truth, length);
            assert!((start - truth).abs() < 2_000, "{}", start - truth);
            frames += u64::from(length);
        }
        assert!((map.frame() - 1e9 / 44_100.0).abs() < 0.01);
        assert_eq!(map.block(0, 0), map.block(0, 0));
    }
}
