//! The form for the chord of a key.

use super::{Form, Line, Purpose, Value, text_field};
use crate::key_names::pitch;
use crate::text;
use chaconne_song::{ChordSymbol, KeySignature, U7};

impl Form {
    /// The chord of a key: its own, if it has one. `in_key` is what it plays without.
    pub fn chord_of_key(
        key: U7,
        spelled: Option<KeySignature>,
        own: Option<ChordSymbol>,
        in_key: ChordSymbol,
    ) -> Form {
        let mut field = text_field("chord", "", "");
        let typed = own.map(|chord| chord.to_string()).unwrap_or_default();
        field.value = Value::Text(Line::whole(&typed));
        let title = format!("The chord on {}", pitch(key, spelled));
        Form { in_key: Some(in_key), ..Form::of(Purpose::ChordKey(key), title, vec![field]) }
    }

    /// What is written beside the chord.
    pub(super) fn chord_hint(&self) -> Option<String> {
        Some(format!("e.g. Am7, F#m7b5/E; empty: {}", self.in_key?))
    }

    /// The chord in the field; `None` if it is empty.
    pub(super) fn chord(&self) -> Result<Option<ChordSymbol>, (usize, String)> {
        let typed = self.text(0);
        let typed = typed.trim();
        if typed.is_empty() {
            return Ok(None);
        }
        typed.parse().map(Some).map_err(|_| {
            let typed = text::clip(typed, 20, '~');
            (0, format!("'{typed}' is not a chord: write it as Am7, Bb or F#m7b5/E."))
        })
    }
}
