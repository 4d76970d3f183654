//! The compass of a voice or an instrument: the lowest and the highest note that it reaches.

use crate::U7;
use std::fmt;

/// The lowest and the highest note that a singer or a player reaches. Written as `A3 to E5`, where C4 is
/// middle C, key 60 (scientific pitch notation).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Compass {
    low: U7,
    high: U7,
}

/// The text is no compass.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a compass: write the lowest and the highest note, such as A3 to E5")]
pub struct CompassError(pub String);

impl Compass {
    /// From a lowest note to a highest; `None` if that is below it.
    pub fn new(low: U7, high: U7) -> Option<Compass> {
        (low <= high).then_some(Compass { low, high })
    }

    /// The lowest note.
    pub fn low(self) -> U7 {
        self.low
    }

    /// The highest note.
    pub fn high(self) -> U7 {
        self.high
    }
}

impl fmt::Display for Compass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", note(self.low), note(self.high))
    }
}

impl std::str::FromStr for Compass {
    type Err = CompassError;
    /// Reads two notes with `to` or `-` between them; sharps and flats are `#` and `b`.
    fn from_str(text: &str) -> Result<Compass, CompassError> {
        let wrong = || CompassError(text.to_string());
        let parts = text.split_once(" to ").or_else(|| text.split_once('-'));
        let (low, high) = parts.ok_or_else(wrong)?;
        let [low, high] = [low, high].map(|name| key_named(name.trim()));
        low.zip(high).and_then(|(low, high)| Compass::new(low, high)).ok_or_else(wrong)
    }
}

/// A note as the song's text has it: with sharps only, so that the same compass is always the same text.
pub(crate) fn note(key: U7) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    let key = key.get();
    format!("{}{}", NAMES[usize::from(key % 12)], i16::from(key / 12) - 1)
}

/// The key with this name and octave.
pub(crate) fn key_named(name: &str) -> Option<U7> {
    let letter = name.chars().next()?.to_ascii_uppercase();
    let natural = [9, 11, 0, 2, 4, 5, 7].get((letter as usize).checked_sub('A' as usize)?)?;
    let rest = name.get(1..)?;
    // Up to two of the same sign: F##4, Bbb3.
    let signs = |sign: char| rest.chars().take_while(|&c| c == sign).count().min(2);
    let (sharps, flats) = (signs('#'), signs('b'));
    let octave = &rest[sharps + flats..];
    let alter = sharps as i32 - flats as i32;
    // B#-2 is the lowest key in some spellings.
    let octave: i32 = octave.parse().ok().filter(|octave| (-2..=10).contains(octave))?;
    let key = (octave + 1) * 12 + natural + alter;
    U7::new(u8::try_from(key).ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_compass_is_read_and_written() {
        for (text, low, high, written) in [
            ("A3 to E5", 57, 76, "A3 to E5"),
            ("bb2-f4", 46, 65, "A#2 to F4"),
            ("C-1 to G9", 0, 127, "C-1 to G9"),
            ("C4 to C4", 60, 60, "C4 to C4"),
            ("Cb4 to B#4", 59, 72, "B3 to C5"),
            ("Bbb3 to F##4", 57, 67, "A3 to G4"),
        ] {
            let read: Compass = text.parse().unwrap();
            assert_eq!((read.low().get(), read.high().get()), (low, high), "{text}");
            assert_eq!(read.to_string(), written);
            assert_eq!(written.parse::<Compass>(), Ok(read));
        }
        for text in [
            "",
            "A3",
            "E5 to A3",
            "H3 to C4",
            "A3 to",
            "C10 to C11",
            "G#9 to A9",
            "é to é",
            "C###4 to C5",
            "C#b4 to C5",
        ] {
            assert!(text.parse::<Compass>().is_err(), "{text}");
        }
    }
}
