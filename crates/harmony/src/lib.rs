//! Harmony: what keys, chords and scales mean, as calculations on the song's own types.
//!
//! In: note numbers, key signatures, chord symbols, metre. Out: note names spelled for a key, the tones of
//! a chord and the name of what sounds, a section's chart as text and back or from notes, likely keys, voicings, how a
//! part fits a compass, in which key a song sounds, and what a key that is played sounds. Nothing here performs or changes a song; whoever asks
//! does that with the answer.

mod chart;
mod chord_keys;
mod compass;
mod degrees;
mod find_key;
mod fingers;
mod in_force;
mod in_key;
mod naming;
mod pitch;
mod recognise;
mod spelling;
mod tones;
mod voicing;

pub use chart::{ChartError, chart, chart_text};
pub use chord_keys::chord_on_key;
pub use compass::{Fit, Reach, best_fit, outside};
pub use degrees::{chord_on, nearest, scale};
pub use find_key::{Guess, Totals, guesses};
pub use fingers::{Fingers, Harmony, KeysNow, Meant, means};
pub use in_force::{compass_name, key_heard, shift, song_key_heard};
pub use in_key::{ToKeyError, sounds_words, transposition_to};
pub use naming::names;
pub use pitch::{PitchClass, Pitches};
pub use recognise::recognised;
pub use spelling::{key_at, note_name, semitones_to, spelled, transposed_chord, transposed_key};
pub use tones::{pitches, tones};
pub use voicing::{Voicing, voiced};
