//! The form of a new song.
//!
//! Out: its title, its time, and what it starts from, which proposes a time of its own.

use super::time::TEMPO;
use super::{Field, Filled, Form, Line, Purpose, Value, text_field};
use crate::desk::NewSong;
use crate::start::Start;

/// The title of a song that was given none.
pub const UNTITLED: &str = "untitled";

/// The index of what a new song starts from, after bars, metre and tempo.
pub(super) const START: usize = 4;

impl Form {
    /// A new song, with common values to start from.
    pub fn new_song() -> Form {
        let fields = vec![
            text_field("title", "", UNTITLED),
            text_field("bars", "1 to 999", "4"),
            text_field("metre", "e.g. 4/4, 6/8, 7/8", "4/4"),
            text_field(TEMPO, "", "120"),
            Field { label: "start", hint: "", value: Value::Choice { words: Start::WORDS, at: 0 } },
        ];
        Form::of(Purpose::NewSong, "New song", fields)
    }

    /// What a new song starts from.
    pub(super) fn start(&self) -> Start {
        match self.fields.get(START).map(|field| &field.value) {
            Some(Value::Choice { at, .. }) => Start::ALL.get(*at).copied().unwrap_or_default(),
            _ => Start::Empty,
        }
    }

    /// Proposes the bars, the metre and the tempo of what a new song starts from, where nothing else
    /// was typed.
    pub(super) fn follow_start(&mut self) {
        if self.purpose != Purpose::NewSong || self.focus != START {
            return;
        }
        for (field, value) in (1..START).zip(self.start().time()) {
            if let Value::Text(line) = &mut self.fields[field].value
                && line.is_proposal()
            {
                *line = Line::proposal(value);
            }
        }
    }

    pub(super) fn song(&self) -> Result<Filled, (usize, String)> {
        let title = self.filled(0, "The song needs a title.")?;
        let (bars, metre, tempo) = self.time(1)?;
        let start = self.start();
        Ok(Filled::NewSong(NewSong { title, tempo, metre, bars, start }))
    }
}
