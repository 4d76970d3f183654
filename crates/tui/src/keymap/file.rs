//! Reading a file of changed keys: which action gets which keys in which view.
//!
//! In: the text. Out: the changes, each with its line, or one sentence about the first line that is
//! wrong. The notation is that of the song files: braces, quoted words, lists in brackets, and `//`
//! before a comment. What the words mean is checked in `changed`.
//!
//! ```text
//! {
//!     "views": { "record": ["F12"] },
//!     "notes": { "draw": ["n", "Insert"] },
//! }
//! ```

use std::fmt;

/// What is wrong in a file of keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeysError {
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong and what would be right, as a fragment of a sentence.
    pub what: String,
}

impl fmt::Display for KeysError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: {}", self.line, self.what)
    }
}

/// A word in quotes, and its line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Word {
    /// The word.
    pub text: String,
    /// The line, counted from 1.
    pub line: usize,
}

/// The keys of an action in a view.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// Where: a view or a box.
    pub place: Word,
    /// The id of the action.
    pub action: Word,
    /// The names of its keys.
    pub keys: Vec<Word>,
}

/// Reads the changes of a file, in its order.
///
/// # Errors
/// If the text is not written as it should be: the line, and what should be there.
pub fn read(text: &str) -> Result<Vec<Change>, KeysError> {
    let mut reader = Reader { rest: text, line: 1 };
    let mut changes = Vec::new();
    reader.expect('{', "a file of keys begins with {")?;
    while !reader.takes('}') {
        let place = reader.word("a view in quotes, e.g. \"loop\"")?;
        reader.expect(':', "a colon comes after the name of a view")?;
        reader.expect('{', "the actions of a view are in braces: { \"record\": [\"F12\"] }")?;
        while !reader.takes('}') {
            let action = reader.word("an action in quotes, e.g. \"record\"")?;
            reader.expect(':', "a colon comes after the name of an action")?;
            reader.expect('[', "the keys of an action are in brackets: [\"F12\"]")?;
            let mut keys = Vec::new();
            while !reader.takes(']') {
                keys.push(reader.word("a key in quotes, e.g. \"F12\"")?);
                reader.separator(']')?;
            }
            changes.push(Change { place: place.clone(), action, keys });
            reader.separator('}')?;
        }
        reader.separator('}')?;
    }
    match reader.next() {
        None => Ok(changes),
        Some(c) => {
            Err(reader.wrong(format!("nothing comes after the last brace, but there is '{c}'")))
        }
    }
}

/// The text that is still to be read.
struct Reader<'a> {
    rest: &'a str,
    line: usize,
}

impl Reader<'_> {
    fn wrong(&self, what: impl Into<String>) -> KeysError {
        KeysError { line: self.line, what: what.into() }
    }

    fn skip(&mut self, bytes: usize) {
        let (gone, rest) = self.rest.split_at(bytes);
        self.line += gone.matches('\n').count();
        self.rest = rest;
    }

    /// The next character that is neither space nor in a comment.
    fn next(&mut self) -> Option<char> {
        loop {
            let spaces = self.rest.len() - self.rest.trim_start().len();
            self.skip(spaces);
            if !self.rest.starts_with("//") {
                return self.rest.chars().next();
            }
            let end = self.rest.find('\n').unwrap_or(self.rest.len());
            self.skip(end);
        }
    }

    fn takes(&mut self, sign: char) -> bool {
        let is_next = self.next() == Some(sign);
        if is_next {
            self.skip(sign.len_utf8());
        }
        is_next
    }

    fn expect(&mut self, sign: char, rule: &str) -> Result<(), KeysError> {
        match self.next() {
            Some(c) if c == sign => {
                self.skip(sign.len_utf8());
                Ok(())
            }
            Some(c) => Err(self.wrong(format!("'{c}' is out of place: {rule}"))),
            None => Err(self.wrong(format!("the file ends too early: {rule}"))),
        }
    }

    /// A comma, or nothing before the sign that closes the list.
    fn separator(&mut self, closing: char) -> Result<(), KeysError> {
        if self.takes(',') || self.next() == Some(closing) {
            return Ok(());
        }
        self.expect(',', &format!("a comma or {closing} comes next"))
    }

    fn word(&mut self, what: &str) -> Result<Word, KeysError> {
        self.expect('"', &format!("here comes {what}"))?;
        let line = self.line;
        let (mut text, mut chars) = (String::new(), self.rest.char_indices());
        while let Some((at, c)) = chars.next() {
            match c {
                '"' => {
                    self.skip(at + 1);
                    return Ok(Word { text, line });
                }
                '\n' => break,
                // A quotation mark and a backslash are keys, too.
                '\\' => text.extend(chars.next().map(|(_, c)| c)),
                c => text.push(c),
            }
        }
        Err(self.wrong(format!("the quotation mark before '{text}' is not closed on its line")))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_read_in_order_with_their_lines() {
        let text = "// mine\n{\n  \"views\": { \"record\": [\"F12\"], },\n  \"notes\": {\n    \
                    \"draw\": [\"\\\"\", \"\\\\\"] // odd\n  }\n}\n";
        let read = read(text).unwrap();
        let plain: Vec<_> = read
            .iter()
            .map(|change| {
                let keys: Vec<&str> = change.keys.iter().map(|key| key.text.as_str()).collect();
                (change.place.text.as_str(), change.action.text.as_str(), change.action.line, keys)
            })
            .collect();
        assert_eq!(
            plain,
            [("views", "record", 3, vec!["F12"]), ("notes", "draw", 5, vec!["\"", "\\"])]
        );
        assert_eq!(super::read("{}"), Ok(vec![]));
    }

    #[test]
    fn what_is_not_well_written_is_refused_with_its_line() {
        for (text, error) in [
            ("", "line 1: the file ends too early: a file of keys begins with {"),
            ("\n(", "line 2: '(' is out of place: a file of keys begins with {"),
            (
                "{\n loop: {}}",
                "line 2: 'l' is out of place: here comes a view in quotes, e.g. \"loop\"",
            ),
            (
                "{ \"loop\": {\n \"mute\": \"x\" } }",
                "line 2: '\"' is out of place: the keys of an action are in brackets: [\"F12\"]",
            ),
            (
                "{ \"loop\": {\n \"mute\": [\"x\n\"] } }",
                "line 2: the quotation mark before 'x' is not closed on its line",
            ),
            (
                "{ \"loop\": { \"mute\": [\"x\" \"y\"] } }",
                "line 1: '\"' is out of place: a comma or ] comes next",
            ),
            ("{}\n{", "line 2: nothing comes after the last brace, but there is '{'"),
        ] {
            assert_eq!(read(text).unwrap_err().to_string(), error, "{text}");
        }
    }
}
