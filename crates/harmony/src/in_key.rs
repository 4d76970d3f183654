//! How music sounds after a transposition, in words, and which transposition leads to another key.

use crate::{semitones_to, transposed_key};
use chaconne_song::{KeySignature, Section, Song, Transpose};

/// How music sounds after a transposition, in words that follow "sounds": in which key, if one is written, or
/// how far from what is written.
pub fn sounds_words(written: Option<KeySignature>, by: i32) -> String {
    let semitones = match by.unsigned_abs() {
        1 => "1 semitone".to_string(),
        many => format!("{many} semitones"),
    };
    match (written, by) {
        (Some(key), _) => format!("in {}", transposed_key(key, by)),
        (None, 0) => "as written".to_string(),
        (None, ..0) => format!("{semitones} lower than written"),
        (None, _) => format!("{semitones} higher than written"),
    }
}

/// Why a transposition to a key is impossible: a fragment of a sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ToKeyError {
    /// No key is written to start from.
    #[error("no key is set to start from")]
    NoKey,
    /// The keys are a major and a minor one.
    #[error("{0} cannot be transposed to {1}: choose a {mode} key", mode = mode(*.0))]
    OtherMode(KeySignature, KeySignature),
    /// It would be more than 36 semitones.
    #[error("that is more than {} semitones away", Transpose::MOST)]
    TooFar,
}

fn mode(key: KeySignature) -> &'static str {
    if key.minor() { "minor" } else { "major" }
}

/// The transposition with which a song, or a section of it, sounds in a key, by the shorter way from the key
/// that is written. A section's comes on top of its song's, so it makes up for that.
///
/// # Errors
/// If no key is written, the keys differ in mode, or it would be more than 36 semitones.
pub fn transposition_to(
    song: &Song,
    section: Option<&Section>,
    to: KeySignature,
) -> Result<Transpose, ToKeyError> {
    let from = section.and_then(|section| section.key).or(song.key).ok_or(ToKeyError::NoKey)?;
    let by = semitones_to(from, to).ok_or(ToKeyError::OtherMode(from, to))?;
    let by = by - section.map_or(0, |_| i32::from(song.transpose.semitones()));
    i8::try_from(by).ok().and_then(Transpose::new).ok_or(ToKeyError::TooFar)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::key_heard;
    use chaconne_song::Letter;
    use chaconne_time::{Metre, MetreMap, Tempo};
    use std::sync::Arc;

    fn song(key: Option<&str>, by: i8) -> Song {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let mut song = Song::new("keys", Section::new(Letter::A, metre, Tempo::DEFAULT));
        song.key = key.map(|key| key.parse().unwrap());
        song.transpose = Transpose::new(by).unwrap();
        song
    }

    fn by(song: &Song, section: bool, to: &str) -> Result<i8, String> {
        let section = section.then(|| &*song.sections[0]);
        let by = transposition_to(song, section, to.parse().unwrap());
        by.map(Transpose::semitones).map_err(|error| error.to_string())
    }

    /// By arithmetic: Eb is three semitones above C, and G four below B.
    #[test]
    fn a_song_goes_to_a_key_from_the_one_that_is_written() {
        assert_eq!(by(&song(Some("C major"), 5), false, "Eb major"), Ok(3));
        assert_eq!(by(&song(Some("B minor"), 0), false, "G minor"), Ok(-4));
        assert_eq!(by(&song(Some("C major"), 0), false, "C major"), Ok(0));
        let error = by(&song(Some("C major"), 0), false, "A minor");
        assert_eq!(
            error,
            Err("C major cannot be transposed to A minor: choose a major key".into())
        );
        assert_eq!(by(&song(None, 0), false, "C major"), Err("no key is set to start from".into()));
    }

    #[test]
    fn a_section_sounds_in_the_key_that_is_asked_for_whatever_its_song_is_transposed_by() {
        for song_by in [-2, 0, 7] {
            let mut song = song(Some("C major"), song_by);
            let by = by(&song, true, "Eb major").unwrap();
            Arc::make_mut(&mut song.sections[0]).transpose = Transpose::new(by).unwrap();
            let heard = key_heard(&song, &song.sections[0]).unwrap();
            assert_eq!(heard.to_string(), "Eb major", "{song_by}");
        }
        let error = by(&song(Some("C major"), 36), true, "Gb major");
        assert_eq!(error, Err("that is more than 36 semitones away".into()));
    }

    #[test]
    fn how_it_sounds_is_a_key_or_a_distance() {
        let key = Some(KeySignature::C_MAJOR);
        assert_eq!(sounds_words(key, -2), "in Bb major");
        assert_eq!(sounds_words(None, 0), "as written");
        assert_eq!(sounds_words(None, 1), "1 semitone higher than written");
        assert_eq!(sounds_words(None, -3), "3 semitones lower than written");
    }
}
