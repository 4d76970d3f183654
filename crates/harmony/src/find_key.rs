//! Which key some notes may be in: the correlation of how long each pitch class sounds with how well it
//! fits each key.
//!
//! The profiles are those of Krumhansl and Kessler 1982 (*Psychological Review* 89(4), 334-368), with the
//! numbers of Krumhansl 1990, *Cognitive Foundations of Musical Pitch*, chapters 2 and 4. The answer is a
//! suggestion: with these profiles about two chorales in three get the key that they are written in, and
//! the errors lean to the dominant and the relative key.

use crate::{PitchClass, key_at};
use chaconne_song::KeySignature;

const MAJOR: [f64; 12] = [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88];
const MINOR: [f64; 12] = [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17];

/// How long each pitch class sounds in all, from C up, in any unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Totals(pub [u64; 12]);

impl Totals {
    /// Adds a note.
    pub fn add(&mut self, pitch: PitchClass, length: u64) {
        let total = &mut self.0[usize::from(pitch.semitones())];
        *total = total.saturating_add(length);
    }
}

/// A key that some notes may be in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess {
    /// The key.
    pub key: KeySignature,
    /// The correlation with its profile, -1..=1.
    pub correlation: f64,
}

/// The 24 keys, the likeliest first; none if all pitch classes sound equally long, because then nothing
/// speaks for a key.
pub fn guesses(totals: &Totals) -> Vec<Guess> {
    let sound = totals.0.map(|total| total as f64);
    let mut found = Vec::new();
    for minor in [false, true] {
        let profile = if minor { &MINOR } else { &MAJOR };
        for tonic in PitchClass::all() {
            let fits = |at: usize| profile[usize::from(PitchClass::new(at as i32).above(tonic))];
            let Some(correlation) = correlation(&sound, &std::array::from_fn(fits)) else {
                return Vec::new();
            };
            found.push(Guess { key: key_at(tonic, minor), correlation });
        }
    }
    found.sort_by(|one, other| other.correlation.total_cmp(&one.correlation));
    found
}

/// Pearson's correlation; `None` if all values of one side are equal.
fn correlation(one: &[f64; 12], other: &[f64; 12]) -> Option<f64> {
    let from_mean = |values: &[f64; 12]| {
        let mean = values.iter().sum::<f64>() / 12.0;
        values.map(|value| value - mean)
    };
    let (one, other) = (from_mean(one), from_mean(other));
    let product = |a: &[f64; 12], b: &[f64; 12]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let norm = (product(&one, &one) * product(&other, &other)).sqrt();
    (norm > 0.0).then(|| product(&one, &other) / norm)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first guesses with four decimals.
    fn first(count: usize, totals: [u64; 12]) -> String {
        let spell = |guess: &Guess| format!("{} {:.4}", guess.key, guess.correlation);
        guesses(&Totals(totals)).iter().take(count).map(spell).collect::<Vec<_>>().join(", ")
    }

    /// The values were computed with numpy and with music21 9, which agree to four decimals.
    #[test]
    fn correlations_agree_with_two_other_implementations() {
        for (totals, expected) in [
            (
                [1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1],
                "C major 0.7564, A minor 0.7121, G major 0.6775, E minor 0.5892",
            ),
            (
                [1, 0, 1, 0, 1, 1, 0, 0, 1, 1, 0, 1],
                "A minor 0.6872, F major 0.3924, C major 0.3817, D minor 0.3784",
            ),
            (
                [1, 0, 0, 0, 1, 0, 0, 1, 0, 0, 0, 0],
                "C major 0.8338, E minor 0.7602, G major 0.5565, C minor 0.4253",
            ),
            (
                [1, 0, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0],
                "Eb major 0.7564, C minor 0.7121, Bb major 0.6775, G minor 0.5892",
            ),
            (
                [0, 0, 1, 0, 0, 1, 0, 1, 0, 0, 0, 1],
                "G major 0.5990, B minor 0.5194, D minor 0.4735, D major 0.3499",
            ),
            // Each doubled.
            (
                [2, 0, 8, 0, 4, 4, 0, 2, 0, 6, 2, 1],
                "D minor 0.9115, D major 0.6703, A minor 0.5745, F major 0.5156",
            ),
        ] {
            assert_eq!(first(4, totals), expected);
        }
        // Two chorales of music21's corpus, bwv269 and bwv66.6, in halves of a quarter note.
        let bwv269 = [48, 0, 126, 0, 39, 2, 41, 115, 0, 52, 0, 81];
        assert_eq!(first(1, bwv269), "G major 0.9501");
        let bwv66 = [0, 60, 18, 2, 31, 12, 53, 0, 26, 36, 7, 43];
        assert_eq!(first(2, bwv66), "F# minor 0.8155, C# minor 0.6535");
    }

    #[test]
    fn where_every_pitch_class_sounds_equally_long_there_is_no_key() {
        for each in [0, 7, u64::MAX] {
            assert!(guesses(&Totals([each; 12])).is_empty());
        }
    }

    #[test]
    fn totals_add_up_and_never_overflow() {
        let mut totals = Totals::default();
        for length in [3, 4, u64::MAX] {
            totals.add(PitchClass::new(9), length);
        }
        assert_eq!(totals.0[9], u64::MAX);
        assert_eq!(first(1, totals.0).split(' ').next(), Some("A"));
    }
}
