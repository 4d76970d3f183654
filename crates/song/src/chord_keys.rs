//! What the keys played on a track sound: their own notes, notes of the harmony, or whole chords.
//!
//! This is about playing, not about what was played: a pass keeps the notes that sounded.

use crate::compass::{key_named, note};
use crate::{ChordSymbol, U7};
use std::collections::BTreeMap;
use std::fmt;

/// What the keys played on a pitched track sound.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum KeysPlay {
    /// Each key its own note.
    #[default]
    Notes,
    /// Each key the nearest note of the key's scale.
    Scale,
    /// Each key the nearest note of the chart's chord; of the scale where the chart has none.
    Chord,
    /// Each key a chord in the key.
    Chords,
    /// Each key the chart's chord; where the chart has none, as [`Chords`](KeysPlay::Chords).
    Chart,
}

impl KeysPlay {
    /// All of them, in the order of one key.
    pub const ALL: [KeysPlay; 5] =
        [KeysPlay::Notes, KeysPlay::Scale, KeysPlay::Chord, KeysPlay::Chords, KeysPlay::Chart];

    /// Its text.
    pub fn text(self) -> &'static str {
        match self {
            KeysPlay::Notes => "notes",
            KeysPlay::Scale => "scale",
            KeysPlay::Chord => "chord notes",
            KeysPlay::Chords => "chords",
            KeysPlay::Chart => "chart",
        }
    }

    /// The next one; after the last, the first.
    pub fn next(self) -> KeysPlay {
        next(&KeysPlay::ALL, self)
    }

    /// Whether a key plays a whole chord.
    pub fn has_chords(self) -> bool {
        matches!(self, KeysPlay::Chords | KeysPlay::Chart)
    }
}

/// How many thirds are stacked on a degree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Stack {
    /// Three tones.
    #[default]
    Triad,
    /// Four tones.
    Seventh,
    /// Five tones.
    Ninth,
}

impl Stack {
    /// All of them, in the order of one key.
    pub const ALL: [Stack; 3] = [Stack::Triad, Stack::Seventh, Stack::Ninth];

    /// Its text.
    pub fn text(self) -> &'static str {
        match self {
            Stack::Triad => "triads",
            Stack::Seventh => "sevenths",
            Stack::Ninth => "ninths",
        }
    }

    /// The next one; after the last, the first.
    pub fn next(self) -> Stack {
        next(&Stack::ALL, self)
    }

    /// How many tones it has, 3..=5.
    pub fn tones(self) -> usize {
        match self {
            Stack::Triad => 3,
            Stack::Seventh => 4,
            Stack::Ninth => 5,
        }
    }
}

fn next<T: Copy + PartialEq>(all: &[T], now: T) -> T {
    let at = all.iter().position(|&one| one == now).unwrap_or(0);
    all.get(at + 1).or(all.first()).copied().unwrap_or(now)
}

/// The text is none of a few words.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is none of {1}")]
pub struct WordError(pub String, pub String);

fn read<T: Copy>(all: &[T], text: fn(T) -> &'static str, word: &str) -> Result<T, WordError> {
    let found = all.iter().copied().find(|&one| text(one) == word);
    found.ok_or_else(|| {
        let all: Vec<&str> = all.iter().map(|&one| text(one)).collect();
        WordError(word.to_string(), all.join(", "))
    })
}

impl fmt::Display for KeysPlay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.text())
    }
}

impl std::str::FromStr for KeysPlay {
    type Err = WordError;
    fn from_str(word: &str) -> Result<KeysPlay, WordError> {
        read(&KeysPlay::ALL, KeysPlay::text, word)
    }
}

impl fmt::Display for Stack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.text())
    }
}

impl std::str::FromStr for Stack {
    type Err = WordError;
    fn from_str(word: &str) -> Result<Stack, WordError> {
        read(&Stack::ALL, Stack::text, word)
    }
}

/// The chords that keys play.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ChordKeys {
    /// How many tones the chords in the key have.
    pub stack: Stack,
    /// How many of the lowest tones lie an octave up, 0..=4: 0 is root position. With leading, so in the
    /// first chord only.
    pub inversion: u8,
    /// Whether every second tone from below lies an octave up, so that the chord spreads.
    pub open: bool,
    /// Whether each chord takes the position in which the voices move least from the one before.
    pub leading: bool,
    /// The chords of keys that have one of their own, whatever the key signature.
    pub own: BTreeMap<U7, ChordSymbol>,
}

impl ChordKeys {
    /// The highest inversion: that of a ninth chord with the ninth as its lowest tone.
    pub const LAST_INVERSION: u8 = 4;
}

impl Default for ChordKeys {
    fn default() -> ChordKeys {
        let (stack, own) = (Stack::Triad, BTreeMap::new());
        ChordKeys { stack, inversion: 0, open: false, leading: true, own }
    }
}

/// A key with a chord of its own, as text: `C4 Am7`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OwnChord(pub U7, pub ChordSymbol);

/// The text is no key with a chord.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a key with its chord: write a note and a chord, such as C4 Am7")]
pub struct OwnChordError(pub String);

impl fmt::Display for OwnChord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", note(self.0), self.1)
    }
}

impl std::str::FromStr for OwnChord {
    type Err = OwnChordError;
    fn from_str(text: &str) -> Result<OwnChord, OwnChordError> {
        let wrong = || OwnChordError(text.to_string());
        let (key, chord) = text.split_once(' ').ok_or_else(wrong)?;
        let key = key_named(key).ok_or_else(wrong)?;
        Ok(OwnChord(key, chord.trim().parse().map_err(|_| wrong())?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back_and_others_are_refused_with_those_there_are() {
        assert!(KeysPlay::ALL.iter().all(|one| one.to_string().parse() == Ok(*one)));
        assert!(Stack::ALL.iter().all(|one| one.to_string().parse() == Ok(*one)));
        let refused = "fourths".parse::<Stack>().unwrap_err();
        assert_eq!(refused.to_string(), "'fourths' is none of triads, sevenths, ninths");
        assert_eq!((Stack::Ninth.next(), KeysPlay::Notes.next()), (Stack::Triad, KeysPlay::Scale));
    }

    #[test]
    fn a_key_with_its_chord_is_read_and_written() {
        for (text, key, written) in [
            ("C4 Am7", 60, "C4 Am7"),
            ("bb2  F#m7b5/E", 46, "A#2 F#m7b5/E"),
            ("D0 N.C.", 14, "D0 N.C."),
        ] {
            let own: OwnChord = text.parse().unwrap();
            assert_eq!((own.0.get(), own.to_string().as_str()), (key, written));
        }
        for text in ["", "C4", "Am7", "C4 H7", "C10 Am", "C4Am7", "é é"] {
            assert!(text.parse::<OwnChord>().is_err(), "{text}");
        }
    }
}
