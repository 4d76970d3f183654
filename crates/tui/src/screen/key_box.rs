//! The box that suggests keys from the notes of a section, and says which parts go beyond their compass and by
//! which transposition they fit.
//!
//! In: the song as it is heard. Out: rows to choose from; one taken sets the key of the section, or transposes
//! the song. Nothing changes until then.

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::Move;
use crate::chords::{key_heard, shift};
use crate::desk::DeskState;
use crate::text::plural;
use chaconne_engine::{Command, heard_notes};
use chaconne_harmony::{
    Fit, PitchClass, Reach, Totals, best_fit, guesses, note_name, outside, transposed_key,
};
use chaconne_song::{
    Commit, Compass, Edit, KeySignature, Letter, Section, SectionEdit, Song, Track, Transpose,
};

/// How many likely keys are offered.
const KEYS: usize = 4;

/// The open box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyBox {
    /// The section.
    pub section: Letter,
    /// What can be chosen, the likeliest key first and then the tracks that have a compass.
    pub rows: Vec<KeyRow>,
    /// The row that the cursor is on.
    pub at: usize,
}

/// A row of the box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyRow {
    /// A key that the notes suggest.
    Key {
        /// The key as it sounds.
        sounds: KeySignature,
        /// The key to write, before transposition.
        written: KeySignature,
        /// The correlation with the notes, in hundredths.
        fits: i32,
        /// Whether it is the key of the section already.
        is_set: bool,
    },
    /// A track with a compass.
    Compass {
        /// Its name.
        name: String,
        /// Its lowest and its highest note in the song, spelled; empty without notes.
        range: String,
        /// Its compass.
        compass: Compass,
        /// The sections in which it goes beyond, with how many semitones it is too low and too high.
        beyond: Vec<(Letter, u8, u8)>,
        /// The transposition that fits best.
        fit: (Transpose, u8),
    },
}

impl KeyBox {
    /// What the notes of a section and of the whole song say.
    fn new(song: &Song, section: &Section) -> KeyBox {
        let mut totals = Totals::default();
        let mut reaches: Vec<(&Track, Vec<Reach>)> = Vec::new();
        reaches.extend(
            song.tracks.iter().filter(|track| track.pitched).map(|track| (&**track, vec![])),
        );
        for one in &song.sections {
            for note in heard_notes(song, one.letter) {
                if one.letter == section.letter {
                    let length = u64::try_from(note.length.0).unwrap_or_default();
                    totals.add(PitchClass::of(note.key), length);
                }
                let Some((_, reach)) = reaches.iter_mut().find(|(track, _)| track.id == note.track)
                else {
                    continue;
                };
                match reach.last_mut().filter(|reach| reach.section == one.letter) {
                    Some(reach) => {
                        (reach.low, reach.high) =
                            (reach.low.min(note.key), reach.high.max(note.key));
                    }
                    None => {
                        reach.push(Reach { section: one.letter, low: note.key, high: note.key });
                    }
                }
            }
        }
        let (by, set) = (shift(song, section), section.key.or(song.key));
        let key = |guess: chaconne_harmony::Guess| {
            let written = transposed_key(guess.key, -by);
            let fits = (guess.correlation * 100.0).round() as i32;
            KeyRow::Key { sounds: guess.key, written, fits, is_set: set == Some(written) }
        };
        let mut rows: Vec<KeyRow> = guesses(&totals).into_iter().take(KEYS).map(key).collect();
        let spelled = key_heard(song, section);
        rows.extend(reaches.iter().filter_map(|(track, reaches)| {
            let compass = track.compass?;
            let Fit { by, outside: left } = best_fit(reaches, compass);
            let ends = reaches.iter().map(|reach| reach.low).min();
            let ends = ends.zip(reaches.iter().map(|reach| reach.high).max());
            let range = ends.map(|(low, high)| {
                format!("{} to {}", note_name(low, spelled), note_name(high, spelled))
            });
            Some(KeyRow::Compass {
                name: track.name.clone(),
                range: range.unwrap_or_default(),
                compass,
                beyond: outside(reaches, compass),
                fit: (by, left),
            })
        }));
        KeyBox { section: section.letter, rows, at: 0 }
    }

    pub(super) fn go(&mut self, to: Move) {
        self.at = to.along(self.at, self.rows.len(), self.rows.len().saturating_sub(1));
    }

    /// What the row of the cursor says, and what Enter does with it.
    pub fn sentence(&self) -> String {
        match self.rows.get(self.at) {
            None => String::new(),
            Some(KeyRow::Key { sounds, is_set: true, .. }) => {
                format!("{} is in {sounds} already.", self.section)
            }
            Some(KeyRow::Key { sounds, fits, .. }) => format!(
                "Only a suggestion: the notes of {} correlate {} with {sounds}. {{confirm}} makes it the key \
                 of the section; what is played stays.",
                self.section,
                hundredths(*fits)
            ),
            Some(KeyRow::Compass { name, range, .. }) if range.is_empty() => {
                format!("{name} has no notes yet.")
            }
            Some(KeyRow::Compass { name, beyond, compass, .. }) if beyond.is_empty() => {
                format!("{name} stays within {compass} in every section.")
            }
            Some(KeyRow::Compass { name, beyond, fit: (by, left), .. }) => {
                let beyond: Vec<String> = beyond.iter().map(beyond_words).collect();
                let beyond = format!("{name} is {}.", beyond.join(", "));
                match (by.semitones(), left) {
                    (0, _) => format!("{beyond} No transposition fits better."),
                    (by, 0) => {
                        format!(
                            "{beyond} Transposed by {by} it fits: {{confirm}} does that to the whole song."
                        )
                    }
                    (by, left) => format!(
                        "{beyond} Transposed by {by} it is still {} out: {{confirm}} does that to the whole song.",
                        semitones(*left)
                    ),
                }
            }
        }
    }
}

/// A correlation as it is written.
pub fn hundredths(fits: i32) -> String {
    let sign = if fits < 0 { "-" } else { "" };
    format!("{sign}{}.{:02}", fits.abs() / 100, fits.abs() % 100)
}

/// How far a part goes beyond its compass in a section.
fn beyond_words(&(letter, below, above): &(Letter, u8, u8)) -> String {
    match (below, above) {
        (0, above) => format!("{} too high in {letter}", semitones(above)),
        (below, 0) => format!("{} too low in {letter}", semitones(below)),
        (below, above) => {
            format!("{} too low and {above} too high in {letter}", semitones(below))
        }
    }
}

fn semitones(count: u8) -> String {
    format!("{count} {}", plural(usize::from(count), "semitone"))
}

impl Screen {
    /// Opens the box for a section.
    pub(super) fn open_key_box(&mut self, song: &Song, section: &Section) {
        let found = KeyBox::new(song, section);
        if found.rows.is_empty() {
            return self.say_with_keys(
                "There are no pitched notes here to find a key from; {edit-track} gives a track the compass of \
                 its singer.",
            );
        }
        self.open(Overlay::Key(found));
    }

    /// Takes the row of the cursor: the key for the section, or the transposition for the song.
    pub(super) fn confirm_key_box(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Key(open)) = self.overlays.close() else { return };
        let song = &state.status.song;
        let edit = match open.rows.get(open.at) {
            Some(KeyRow::Key { written, is_set: false, .. }) => {
                self.awaited = Some(Awaited::Key(open.section));
                Edit::Section(open.section, SectionEdit::Key(Some(*written)))
            }
            Some(KeyRow::Compass { beyond, fit: (by, _), .. })
                if !beyond.is_empty() && by.semitones() != 0 =>
            {
                let to = song.transpose.semitones().checked_add(by.semitones());
                let Some(to) = to.and_then(Transpose::new) else {
                    return self.complain(
                        "The song would be transposed too far: by more than 36 semitones.",
                    );
                };
                self.awaited = Some(Awaited::Transposed);
                Edit::Transpose(to)
            }
            _ => return,
        };
        out.push(Effect::Command(Command::Edit(Commit::of(edit))));
    }
}
