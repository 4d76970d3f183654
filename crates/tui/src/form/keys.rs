//! The fields for a key and a transposition, of the song and of a section.

use super::{Form, Purpose};
use crate::text;
use chaconne_harmony::{semitones_to, transposed_key};
use chaconne_song::{KeySignature, Transpose};

/// What the field for a key is called.
pub(super) const KEY_LABEL: &str = "key";

/// What is written beside a transposition.
pub(super) const TRANSPOSE_HINT: &str = "semitones, or to F minor";

impl Form {
    /// The key in a field; `None` if it is empty.
    pub(super) fn key(&self, field: usize) -> Result<Option<KeySignature>, (usize, String)> {
        let typed = self.text(field);
        let typed = typed.trim();
        if typed.is_empty() {
            return Ok(None);
        }
        typed.parse().map(Some).map_err(|_| {
            let typed = text::clip(typed, 20, '~');
            (field, format!("'{typed}' is not a key: write it as C major or F# minor."))
        })
    }

    /// What is written beside the key of a song or section that is transposed: the field keeps the key as
    /// written, and the rest of the screen shows the one that sounds.
    pub(super) fn key_hint(&self, field: usize) -> Option<String> {
        let has_key = matches!(self.purpose, Purpose::Song | Purpose::Section(_));
        if !has_key || self.fields[field].label != KEY_LABEL {
            return None;
        }
        let own = self.key(field).ok()?;
        let written = own.or(self.song_key)?;
        // The transposition is asked for under the key.
        let by = self.transposition(field + 1, Some(written)).ok()?.semitones();
        let by = i32::from(by) + i32::from(self.song_transpose.semitones());
        let whose = if own.is_some() { "written" } else { "empty: the song's" };
        (by != 0).then(|| format!("{whose}; sounds in {}", transposed_key(written, by)))
    }

    /// The transposition in a field: semitones, or the key to go to from `from`.
    pub(super) fn transposition(
        &self,
        field: usize,
        from: Option<KeySignature>,
    ) -> Result<Transpose, (usize, String)> {
        let typed = self.text(field);
        let typed = typed.trim();
        let wrong = |error: String| (field, error);
        if let Some(by) = typed.parse().ok().and_then(Transpose::new) {
            return Ok(by);
        }
        let shown = text::clip(typed, 20, '~');
        let name = typed.strip_prefix("to ").unwrap_or(typed).trim();
        let Ok(to) = name.parse::<KeySignature>() else {
            return Err(wrong(format!(
                "'{shown}' is not a transposition: use -36 to 36 semitones, or a key such as to F minor."
            )));
        };
        let from = from.ok_or_else(|| {
            wrong(format!("The key to start from is not set: fill in the key, then {shown}."))
        })?;
        let by = semitones_to(from, to).ok_or_else(|| {
            let mode = if from.minor() { "minor" } else { "major" };
            wrong(format!("{from} cannot be transposed to {to}: choose a {mode} key."))
        })?;
        // A section's comes on top of the song's, which is none for the song itself.
        let by = by - i32::from(self.song_transpose.semitones());
        let by = i8::try_from(by).ok().and_then(Transpose::new);
        by.ok_or_else(|| wrong(format!("'{shown}' is too far away.")))
    }
}
