//! Key signatures, by their position on the circle of fifths.

use std::fmt;

/// A key signature: sharps (positive) or flats (negative), -7..=7, and major or minor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct KeySignature {
    fifths: i8,
    minor: bool,
}

/// The text is not the name of a key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a key: use a note name from Cb to C# and 'major' or 'minor'")]
pub struct KeySignatureError(pub String);

/// The major keys from seven flats to seven sharps.
const MAJOR: [&str; 15] =
    ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"];
/// The minor keys with the same signatures.
const MINOR: [&str; 15] =
    ["Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#"];

impl KeySignature {
    /// No sharps and no flats, major.
    pub const C_MAJOR: KeySignature = KeySignature { fifths: 0, minor: false };

    /// The signature with this many sharps, or flats if negative; `None` outside -7..=7.
    pub fn new(fifths: i8, minor: bool) -> Option<KeySignature> {
        (-7..=7).contains(&fifths).then_some(KeySignature { fifths, minor })
    }

    /// The number of sharps, or of flats if negative; -7..=7.
    pub fn fifths(self) -> i8 {
        self.fifths
    }

    /// Whether the key is minor.
    pub fn minor(self) -> bool {
        self.minor
    }
}

impl fmt::Display for KeySignature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let index = (self.fifths + 7) as usize;
        let (names, mode) = if self.minor { (MINOR, "minor") } else { (MAJOR, "major") };
        write!(f, "{} {mode}", names[index])
    }
}

impl std::str::FromStr for KeySignature {
    type Err = KeySignatureError;
    fn from_str(text: &str) -> Result<KeySignature, KeySignatureError> {
        let wrong = || KeySignatureError(text.to_string());
        let (name, mode) = text.trim().split_once(' ').ok_or_else(wrong)?;
        let (names, minor) = match mode {
            "major" => (MAJOR, false),
            "minor" => (MINOR, true),
            _ => return Err(wrong()),
        };
        let index = names.iter().position(|&known| known == name).ok_or_else(wrong)?;
        Ok(KeySignature { fifths: index as i8 - 7, minor })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_their_standard_names() {
        // Standard MIDI Files 1.0, meta event "Key Signature": the number of sharps, or flats if
        // negative, then 0 for major and 1 for minor. The names are common practice; no source.
        for (fifths, minor, name) in [
            (0, false, "C major"),
            (0, true, "A minor"),
            (-3, false, "Eb major"),
            (-3, true, "C minor"),
            (4, false, "E major"),
            (-1, false, "F major"),
            (3, true, "F# minor"),
        ] {
            let key = KeySignature::new(fifths, minor).unwrap();
            assert_eq!(key.to_string(), name);
            assert_eq!((key.fifths(), key.minor()), (fifths, minor), "{name}");
            assert_eq!(name.parse::<KeySignature>().unwrap(), key);
        }
        assert!(KeySignature::new(8, false).is_none());
        assert!("H major".parse::<KeySignature>().is_err());
    }
}
