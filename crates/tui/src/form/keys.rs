//! The fields for a key and a transposition, of the song and of a section.

use super::Form;
use crate::text;
use chaconne_harmony::semitones_to;
use chaconne_song::{KeySignature, Transpose};

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
        let by = i8::try_from(by).ok().and_then(Transpose::new);
        by.ok_or_else(|| wrong(format!("'{shown}' is too far away.")))
    }
}
