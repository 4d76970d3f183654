//! SMPTE time: hours, minutes, seconds and frames, as MIDI Time Code counts them.
//!
//! In: frame numbers, nanoseconds. Out: time codes and back, exactly. A frame number counts frames
//! from 00:00:00:00; it may be negative or beyond a day. A time code is always within a day.

use crate::{Ns, TimeError};
use std::fmt;
use std::str::FromStr;

/// Frames per second (MIDI Time Code 1987, "Quarter Frame Messages").
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FrameRate {
    /// 24 frames per second, as on film.
    Film,
    /// 25 frames per second.
    Twenty5,
    /// 29.97 (30,000/1,001) frames per second; some numbers are dropped to keep up with the clock.
    Drop30,
    /// 30 frames per second.
    Thirty,
}

impl FrameRate {
    /// All rates, in the order of their codes, 0 to 3.
    pub const ALL: [FrameRate; 4] =
        [FrameRate::Film, FrameRate::Twenty5, FrameRate::Drop30, FrameRate::Thirty];

    /// Its number in MIDI Time Code, 0 to 3.
    pub fn code(self) -> u8 {
        self as u8
    }

    /// How many frame numbers a second has; they run from 0 to one less.
    pub fn numbers(self) -> u8 {
        match self {
            FrameRate::Film => 24,
            FrameRate::Twenty5 => 25,
            FrameRate::Drop30 | FrameRate::Thirty => 30,
        }
    }

    /// The number of frames in an hour of time code.
    pub fn hour(self) -> i64 {
        match self {
            FrameRate::Drop30 => 6 * TEN_MINUTES,
            _ => 3600 * i64::from(self.numbers()),
        }
    }

    /// The number of frames in a day of time code.
    pub fn day(self) -> i64 {
        24 * self.hour()
    }

    /// The length of `parts` parts of a frame in nanoseconds, rounded down. A frame has `whole` parts:
    /// 1 for frames, 4 for quarter frames.
    pub fn ns_of(self, parts: i64, whole: i64) -> Ns {
        let (num, den) = self.part(whole);
        (i128::from(parts) * num).div_euclid(den) as Ns
    }

    /// The last part that has begun by `ns`: the largest number whose [`ns_of`](Self::ns_of) is at
    /// most `ns`. So `parts_at(ns_of(n, w), w) == n`.
    pub fn parts_at(self, ns: Ns, whole: i64) -> i64 {
        let (num, den) = self.part(whole);
        // floor(n * num / den) <= ns  <=>  n * num < (ns + 1) * den
        ((i128::from(ns) + 1) * den - 1).div_euclid(num) as i64
    }

    /// The length of a part of a frame in nanoseconds, as a fraction.
    fn part(self, whole: i64) -> (i128, i128) {
        let (seconds, frames) = match self {
            FrameRate::Drop30 => (1001, 30_000),
            _ => (1, i128::from(self.numbers())),
        };
        (seconds * 1_000_000_000, frames * i128::from(whole))
    }
}

/// The frames in ten minutes of drop-frame numbers: the first minute drops no number.
const TEN_MINUTES: i64 = 10 * MINUTE + 2;
/// The frames in a minute with two dropped numbers.
const MINUTE: i64 = 60 * 30 - 2;

impl FromStr for FrameRate {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<FrameRate, TimeError> {
        let rate = FrameRate::ALL.into_iter().find(|rate| rate.to_string() == text);
        rate.ok_or_else(|| TimeError::FrameRate(text.to_string()))
    }
}

impl fmt::Display for FrameRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            FrameRate::Film => "24",
            FrameRate::Twenty5 => "25",
            FrameRate::Drop30 => "29.97",
            FrameRate::Thirty => "30",
        })
    }
}

/// A time of day in hours, minutes, seconds and frames, at a frame rate.
///
/// At 29.97 the frames 00 and 01 of each minute but every tenth do not exist (SMPTE 12M, "drop
/// frame"; from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TimeCode {
    rate: FrameRate,
    hours: u8,
    minutes: u8,
    seconds: u8,
    frames: u8,
}

impl TimeCode {
    /// The time code with these numbers.
    ///
    /// # Errors
    /// If a number is out of range (hours 0..=23, minutes and seconds 0..=59, frames below
    /// [`FrameRate::numbers`]) or dropped.
    pub fn new(
        rate: FrameRate,
        hours: u8,
        minutes: u8,
        seconds: u8,
        frames: u8,
    ) -> Result<TimeCode, TimeError> {
        let code = TimeCode { rate, hours, minutes, seconds, frames };
        let exists = hours < 24 && minutes < 60 && seconds < 60 && frames < rate.numbers();
        let dropped =
            rate == FrameRate::Drop30 && seconds == 0 && frames < 2 && !minutes.is_multiple_of(10);
        if exists && !dropped { Ok(code) } else { Err(TimeError::TimeCode(code.to_string(), rate)) }
    }

    /// The time code of a frame number. It repeats after a day.
    pub fn of(rate: FrameRate, frame: i64) -> TimeCode {
        let number = with_dropped_numbers(rate, frame.rem_euclid(rate.day()));
        let each = i64::from(rate.numbers());
        let (seconds, minutes) = (number / each, number / each / 60);
        TimeCode {
            rate,
            hours: (minutes / 60) as u8,
            minutes: (minutes % 60) as u8,
            seconds: (seconds % 60) as u8,
            frames: (number % each) as u8,
        }
    }

    /// Its frame number, from 0 to less than a day.
    pub fn frame(self) -> i64 {
        let minutes = i64::from(self.hours) * 60 + i64::from(self.minutes);
        let number = (minutes * 60 + i64::from(self.seconds)) * i64::from(self.rate.numbers())
            + i64::from(self.frames);
        match self.rate {
            FrameRate::Drop30 => number - 2 * (minutes - minutes / 10),
            _ => number,
        }
    }

    /// Its frame rate.
    pub fn rate(self) -> FrameRate {
        self.rate
    }

    /// Hours, 0..=23.
    pub fn hours(self) -> u8 {
        self.hours
    }

    /// Minutes, 0..=59.
    pub fn minutes(self) -> u8 {
        self.minutes
    }

    /// Seconds, 0..=59.
    pub fn seconds(self) -> u8 {
        self.seconds
    }

    /// Frames, below [`FrameRate::numbers`].
    pub fn frames(self) -> u8 {
        self.frames
    }
}

/// What the number of a frame of the day would be if the dropped numbers counted too.
fn with_dropped_numbers(rate: FrameRate, frame: i64) -> i64 {
    if rate != FrameRate::Drop30 {
        return frame;
    }
    let (tens, inside) = (frame / TEN_MINUTES, frame % TEN_MINUTES);
    // The first minute of ten drops no number, the other nine drop two each.
    frame + 18 * tens + 2 * ((inside - 2).max(0) / MINUTE)
}

impl fmt::Display for TimeCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let TimeCode { hours, minutes, seconds, frames, .. } = self;
        write!(f, "{hours:02}:{minutes:02}:{seconds:02}:{frames:02}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn code(rate: FrameRate, text: &str) -> TimeCode {
        let parts: Vec<u8> = text.split(':').map(|part| part.parse().unwrap()).collect();
        TimeCode::new(rate, parts[0], parts[1], parts[2], parts[3]).unwrap()
    }

    /// The numbers of the next frame by the definition, for comparison.
    fn next(rate: FrameRate, [mut h, mut m, mut s, mut f]: [u8; 4]) -> [u8; 4] {
        f += 1;
        if f == rate.numbers() {
            (f, s) = (0, s + 1);
        }
        if s == 60 {
            (s, m) = (0, m + 1);
        }
        if m == 60 {
            (m, h) = (0, h + 1);
        }
        // SMPTE 12M, drop frame (from memory): the first two numbers of each minute are left
        // out, except in minutes 0, 10, 20, 30, 40 and 50.
        if rate == FrameRate::Drop30 && m % 10 != 0 && s == 0 && f == 0 {
            f = 2;
        }
        [h % 24, m, s, f]
    }

    /// MIDI Time Code 1987, "Quarter Frame Messages": 0 is 24, 1 is 25, 2 is 30 drop-frame, 3 is 30
    /// non-drop.
    #[test]
    fn the_rates_have_the_numbers_of_midi_time_code() {
        let codes =
            ["24", "25", "29.97", "30"].map(|text| text.parse::<FrameRate>().unwrap().code());
        assert_eq!(codes, [0, 1, 2, 3]);
    }

    #[test]
    fn a_time_code_gives_the_numbers_it_was_made_of() {
        let code = code(FrameRate::Twenty5, "13:42:57:24");
        assert_eq!([code.hours(), code.minutes(), code.seconds(), code.frames()], [13, 42, 57, 24]);
        assert_eq!(code.rate(), FrameRate::Twenty5);
    }

    #[test]
    fn every_frame_of_a_day_converts_to_a_time_code_and_back() {
        for rate in FrameRate::ALL {
            let mut counted = [0; 4];
            for frame in 0..rate.day() {
                let code = TimeCode::of(rate, frame);
                assert_eq!([code.hours, code.minutes, code.seconds, code.frames], counted);
                assert_eq!(code.frame(), frame, "{rate} {code}");
                let [h, m, s, f] = counted;
                assert_eq!(TimeCode::new(rate, h, m, s, f), Ok(code));
                counted = next(rate, counted);
            }
            assert_eq!(counted, [0; 4], "a day at {rate} ends at midnight");
        }
    }

    #[test]
    fn an_hour_of_drop_frame_numbers_lasts_almost_exactly_an_hour() {
        let rate = FrameRate::Drop30;
        // SMPTE 12M (from memory): an hour of drop-frame numbers is 107,892 frames.
        assert_eq!(code(rate, "01:00:00:00").frame(), 107_892);
        assert_eq!(TimeCode::of(rate, 1799).to_string(), "00:00:59:29");
        assert_eq!(TimeCode::of(rate, 1800).to_string(), "00:01:00:02");
        assert_eq!(TimeCode::of(rate, 17_982).to_string(), "00:10:00:00");
        // 3.6 ms less than an hour: 107,892 * 1,001 / 30,000 = 3,599.9964 s.
        assert_eq!(rate.ns_of(rate.hour(), 1), 3_599_996_400_000);
        for wrong in [[0, 1, 0, 0], [0, 1, 0, 1], [23, 59, 0, 0], [24, 0, 0, 0], [0, 0, 0, 30]] {
            let [h, m, s, f] = wrong;
            assert!(TimeCode::new(rate, h, m, s, f).is_err(), "{wrong:?}");
        }
        let error = TimeCode::new(FrameRate::Twenty5, 0, 60, 0, 25).unwrap_err().to_string();
        assert_eq!(error, "there is no time code 00:60:00:25 at 25 frames per second");
    }

    #[test]
    fn a_frame_lasts_as_long_as_its_rate_says() {
        // A second is 24, 25, 30,000/1,001 or 30 frames (MIDI Time Code, "Quarter Frame
        // Messages"); 30,000 frames at 29.97 are 1,001 s.
        assert_eq!(FrameRate::Film.ns_of(24, 1), 1_000_000_000);
        assert_eq!(FrameRate::Twenty5.ns_of(1, 4), 10_000_000);
        assert_eq!(FrameRate::Drop30.ns_of(30_000, 1), 1_001_000_000_000);
        assert_eq!(FrameRate::Thirty.ns_of(-1, 4), -8_333_334);
        assert_eq!(FrameRate::Thirty.parts_at(-1, 4), -1);
    }

    proptest! {
        #[test]
        fn parts_of_frames_convert_to_times_and_back(
            rate in 0usize..4, n in -40_000_000i64..40_000_000, whole in 1i64..=100, part in 0i64..8_000_000,
        ) {
            let rate = FrameRate::ALL[rate];
            let at = rate.ns_of(n, whole);
            prop_assert_eq!(rate.parts_at(at, whole), n);
            prop_assert_eq!(rate.parts_at(at - 1, whole), n - 1);
            let later = rate.parts_at(at + part, whole);
            prop_assert!(rate.ns_of(later, whole) <= at + part);
            prop_assert!(rate.ns_of(later + 1, whole) > at + part);
        }

        #[test]
        fn the_time_code_repeats_after_a_day(rate in 0usize..4, frame in any::<i32>(), days in -9i64..9) {
            let rate = FrameRate::ALL[rate];
            let (frame, shifted) = (i64::from(frame), i64::from(frame) + days * rate.day());
            prop_assert_eq!(TimeCode::of(rate, frame), TimeCode::of(rate, shifted));
        }
    }
}
