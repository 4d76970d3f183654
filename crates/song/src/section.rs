//! A section: a fixed number of bars, with passes stacked over them as layers.

use crate::{Chord, KeySignature, PassId, Track, Transpose};
use chaconne_time::{MetreMap, Tempo, TempoMap, Tick};
use std::fmt;

/// A rehearsal letter: one to three capitals, A to ZZZ.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Letter([u8; 3]);

/// The text is not a rehearsal letter.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a rehearsal letter: use one to three capitals, A to ZZZ")]
pub struct LetterError(pub String);

impl Letter {
    /// The first: A.
    pub const A: Letter = Letter([b'A', 0, 0]);

    /// All letters in order: A … Z, AA … ZZ, AAA … ZZZ.
    pub fn all() -> impl Iterator<Item = Letter> {
        let capitals = || b'A'..=b'Z';
        let one = capitals().map(|a| Letter([a, 0, 0]));
        let two = capitals().flat_map(move |a| capitals().map(move |b| Letter([a, b, 0])));
        let three = capitals().flat_map(move |a| {
            capitals().flat_map(move |b| capitals().map(move |c| Letter([a, b, c])))
        });
        one.chain(two).chain(three)
    }

    /// The letter as text.
    pub fn as_str(&self) -> &str {
        let length = self.0.iter().position(|&byte| byte == 0).unwrap_or(3);
        std::str::from_utf8(&self.0[..length]).unwrap_or("A")
    }
}

impl fmt::Display for Letter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.as_str())
    }
}

impl std::str::FromStr for Letter {
    type Err = LetterError;
    fn from_str(text: &str) -> Result<Letter, LetterError> {
        let fits = (1..=3).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_uppercase());
        if !fits {
            return Err(LetterError(text.to_string()));
        }
        let mut letter = [0; 3];
        letter[..text.len()].copy_from_slice(text.as_bytes());
        Ok(Letter(letter))
    }
}

/// A pass as it lies in a section's stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Layer {
    /// The pass; other sections may share it.
    pub pass: PassId,
    /// Whether it is silent here.
    pub mute: bool,
}

impl Layer {
    /// A layer that sounds.
    pub fn of(pass: PassId) -> Layer {
        Layer { pass, mute: false }
    }
}

/// A fixed number of bars with its own metre and tempo, and the passes stacked over it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Section {
    /// Its rehearsal letter, which the form uses too.
    pub letter: Letter,
    /// Its name ("Verse"); empty if it has none.
    pub name: String,
    /// Its key, if it is not the song's.
    pub key: Option<KeySignature>,
    /// How far its pitched tracks are transposed, in addition to the song's transposition.
    pub transpose: Transpose,
    /// Its bars and their metres.
    pub metre: MetreMap,
    /// Its tempi. Tempi, fermatas and chords past the last bar are kept, so that a section can be made
    /// shorter and longer again.
    pub tempo: TempoMap,
    /// Its fermatas, in time order: at the end of the beat on which one stands, the time waits until it is let go.
    /// Only playing live waits; an export plays on.
    pub fermatas: Vec<Tick>,
    /// Its chords, in time order, no two at the same tick.
    pub chords: Vec<Chord>,
    /// The layers of all tracks, lowest first; no pass twice.
    pub layers: Vec<Layer>,
}

impl Section {
    /// A section without a name, chords or layers, in the song's key.
    pub fn new(letter: Letter, metre: MetreMap, tempo: Tempo) -> Section {
        Section {
            letter,
            name: String::new(),
            key: None,
            transpose: Transpose::default(),
            metre,
            tempo: TempoMap::new(tempo),
            fermatas: Vec::new(),
            chords: Vec::new(),
            layers: Vec::new(),
        }
    }

    /// Its length in ticks.
    pub fn length(&self) -> Tick {
        self.metre.length()
    }

    /// Where the beat that contains a tick ends, as the click counts; the last beat of a bar may be short.
    pub fn beat_end(&self, at: Tick) -> Tick {
        let bar = self.metre.bar_at(at);
        let (start, end) = (self.metre.bar_start(bar), self.metre.bar_start(bar + 1));
        let beat = self.metre.metre_of(bar).click();
        let beats = (at - start).cycle(beat).0;
        (start + beat * (beats + 1)).min(end)
    }

    /// The longest that a pass in it can be: 999 bars, where the section's bars repeat past its end.
    pub fn longest_pass(&self) -> Tick {
        self.metre.bar_start(i64::from(MetreMap::MAX_BARS) + 1)
    }

    /// The length of a new pass of `track`: what the track asks for, rounded up to whole beats and
    /// limited to [`longest_pass`](Self::longest_pass); the section's length if it asks for none.
    pub fn new_pass_length(&self, track: &Track) -> Tick {
        let asked = track.pass_length.unwrap_or(self.length());
        let length = asked.max(Tick(1)).min(self.longest_pass());
        let place = self.metre.place(length);
        match i64::from(place.tick) {
            0 => length,
            into => length - Tick(into) + self.metre.metre_of(place.bar).beat(),
        }
    }

    /// The layer of a pass, if this section contains it.
    pub fn layer(&self, pass: PassId) -> Option<&Layer> {
        self.layers.iter().find(|layer| layer.pass == pass)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::TrackId;
    use chaconne_time::MetreChange;

    #[test]
    fn letters_continue_past_z() {
        let letters: Vec<String> =
            Letter::all().take(53).map(|letter| letter.to_string()).collect();
        assert_eq!((letters[0].as_str(), letters[25].as_str()), ("A", "Z"));
        assert_eq!((letters[26].as_str(), letters[52].as_str()), ("AA", "BA"));
        for text in ["", "a", "ABCD", "A1", "É"] {
            assert!(text.parse::<Letter>().is_err(), "{text}");
        }
    }

    /// Two bars of 4/4 and one of 6/8.
    fn section() -> Section {
        let change = |bar, metre: &str| MetreChange { bar, metre: metre.parse().unwrap() };
        let changes = vec![change(1, "4/4"), change(3, "6/8")];
        Section::new(Letter::A, MetreMap::with_changes(3, changes).unwrap(), Tempo::DEFAULT)
    }

    #[test]
    fn a_pass_may_be_999_bars_long_in_the_metres_of_the_section_as_they_repeat() {
        assert_eq!(section().length(), Tick(2 * 3840 + 2880));
        assert_eq!(section().longest_pass(), Tick(333 * (2 * 3840 + 2880)));
    }

    #[test]
    fn a_new_pass_is_as_long_as_its_track_asks_in_whole_beats() {
        let section = section();
        let length = |asked: Option<i64>| {
            let pass_length = asked.map(Tick);
            section.new_pass_length(&Track { pass_length, ..Track::pitched(TrackId(1), "Keys") }).0
        };
        assert_eq!(length(None), section.length().0);
        // Beats of 960 ticks up to the third bar, and of 480 in it.
        for (asked, expected) in [(1, 960), (960, 960), (961, 1920), (7680, 7680), (7681, 8160)] {
            assert_eq!(length(Some(asked)), expected, "{asked}");
        }
        let longest = section.longest_pass().0;
        assert_eq!(length(Some(longest + 1)), longest);
        assert_eq!(length(Some(0)), 960);
    }
}
