//! SMPTE time: hours, minutes, seconds and frames, as MIDI Time Code counts them.

use crate::TimeError;
use std::fmt;
use std::str::FromStr;

/// How many frames a second there are (MIDI Time Code 1987, "Quarter Frame Messages").
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FrameRate {
    /// 24 frames a second: film.
    Film,
    /// 25 frames a second.
    Twenty5,
    /// 29.97 (30,000/1,001) frames a second; numbers are dropped so that the clock stays right.
    Drop30,
    /// 30 frames a second.
    Thirty,
}

impl FrameRate {
    /// All of them, in the order of their codes, 0 to 3.
    pub const ALL: [FrameRate; 4] =
        [FrameRate::Film, FrameRate::Twenty5, FrameRate::Drop30, FrameRate::Thirty];
}

impl FromStr for FrameRate {
    type Err = TimeError;

    fn from_str(text: &str) -> Result<FrameRate, TimeError> {
        let named = FrameRate::ALL.into_iter().find(|rate| rate.to_string() == text);
        named.ok_or_else(|| TimeError::FrameRate(text.to_string()))
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
