//! One record on one line: `(id: 6, at: "1.1.0", mute: true)`.

use std::fmt::{Display, Write};

/// A record that is being written.
#[derive(Debug)]
pub(super) struct Record(String);

impl Record {
    /// A record without fields.
    pub(super) fn new() -> Record {
        Record("(".into())
    }

    /// Adds a field without quotes: a number, a flag, a record.
    pub(super) fn plain(mut self, name: &str, value: impl Display) -> Record {
        if self.0.len() > 1 {
            self.0.push_str(", ");
        }
        // Writing to a string cannot fail.
        let _ = write!(self.0, "{name}: {value}");
        self
    }

    /// Adds a field in quotes.
    pub(super) fn text(self, name: &str, value: impl Display) -> Record {
        self.plain(name, quoted(&value.to_string()))
    }

    /// Adds a field without quotes, if there is a value.
    pub(super) fn maybe(self, name: &str, value: Option<impl Display>) -> Record {
        match value {
            Some(value) => self.plain(name, value),
            None => self,
        }
    }

    /// Adds a field without quotes, if its value is not the default.
    pub(super) fn unless<T: Display + PartialEq>(self, usual: T, name: &str, value: T) -> Record {
        let unusual = Some(value).filter(|value| *value != usual);
        self.maybe(name, unusual)
    }

    /// The whole record.
    pub(super) fn end(mut self) -> String {
        self.0.push(')');
        self.0
    }
}

/// `text` in quotes. Line breaks and invisible characters are escaped.
pub(super) fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for letter in text.chars() {
        match letter {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '\t' => out.push_str("\\t"),
            letter if is_unseen(letter) => {
                let _ = write!(out, "\\u{{{:x}}}", u32::from(letter));
            }
            letter => out.push(letter),
        }
    }
    out.push('"');
    out
}

/// Whether a character is invisible: control characters, line and paragraph separators, and
/// bidirectional marks, which can make a line look like a different one.
fn is_unseen(letter: char) -> bool {
    let turns = matches!(letter, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}')
        || matches!(letter, '\u{2066}'..='\u{2069}' | '\u{feff}');
    letter.is_control() || turns || matches!(letter, '\u{2028}' | '\u{2029}')
}
