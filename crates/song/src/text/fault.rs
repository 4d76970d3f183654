//! Reads values from leaves, and collects the errors in them with their lines and columns.

use super::leaf::{Leaf, options};
use super::{MOST_ERRORS, TextError};
use chaconne_time::{MetreMap, Place, Tick};
use ron::error::SpannedError;
use serde::Deserialize;
use std::borrow::Cow;
use std::fmt::Display;

/// The errors found in a text so far.
#[derive(Debug)]
pub(super) struct Faults<'a> {
    text: &'a str,
    found: Vec<TextError>,
}

impl<'a> Faults<'a> {
    /// No errors yet.
    pub(super) fn new(text: &'a str) -> Faults<'a> {
        Faults { text, found: Vec::new() }
    }

    /// The errors, in the order of their lines.
    pub(super) fn into_errors(mut self) -> Vec<TextError> {
        self.found.sort_by_key(|error| (error.line, error.column));
        self.found
    }

    /// Whether the most errors have been found; more are dropped.
    pub(super) fn is_full(&self) -> bool {
        self.found.len() >= MOST_ERRORS
    }

    /// Adds an error in a value.
    pub(super) fn add(&mut self, leaf: Leaf<'a>, message: impl Display) {
        if !self.is_full() {
            let (line, column) = self.place_of(leaf.offset(self.text));
            self.found.push(TextError { line, column, message: tidy(&message.to_string()) });
        }
    }

    /// The line and column, from 1, of a byte offset in the text.
    fn place_of(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(self.text);
        let line = before.bytes().filter(|&byte| byte == b'\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |end| end + 1);
        (line, before[start..].chars().count() + 1)
    }

    /// The line, from 1, on which a value starts.
    pub(super) fn line_of(&self, leaf: Leaf<'a>) -> usize {
        self.place_of(leaf.offset(self.text)).0
    }

    /// The value of a result; adds its error, if it is one.
    pub(super) fn keep<T>(&mut self, leaf: Leaf<'a>, result: Result<T, impl Display>) -> Option<T> {
        result.map_err(|error| self.add(leaf, error)).ok()
    }

    /// Reads a whole number from `low` to `high`.
    pub(super) fn number(
        &mut self,
        leaf: Leaf<'a>,
        what: &str,
        low: i64,
        high: i64,
    ) -> Option<i64> {
        let read = || options().from_str(leaf.slice()).ok();
        let value = leaf.slice().parse::<i64>().ok().or_else(read);
        if let Some(value) = value.filter(|value| (low..=high).contains(value)) {
            return Some(value);
        }
        let spelt = leaf.spelt();
        let digits = spelt.trim_start_matches(['-', '+']);
        let message = if !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()) {
            format!("{what} {} is outside {low} to {high}", short(spelt))
        } else {
            format!("{what}: {} is not a whole number from {low} to {high}", quoted(spelt))
        };
        self.add(leaf, message);
        None
    }

    /// Reads `true` or `false`.
    pub(super) fn flag(&mut self, leaf: Leaf<'a>, what: &str) -> Option<bool> {
        match leaf.spelt() {
            "true" => Some(true),
            "false" => Some(false),
            other => {
                self.add(leaf, format!("{what}: {} is not true or false", quoted(other)));
                None
            }
        }
    }

    /// Reads text in quotes.
    pub(super) fn string(&mut self, leaf: Leaf<'a>, what: &str) -> Option<Cow<'a, str>> {
        let plain = leaf.slice().strip_prefix('"').and_then(|rest| rest.strip_suffix('"'));
        if let Some(plain) = plain.filter(|plain| !plain.contains(['"', '\\'])) {
            return Some(Cow::Borrowed(plain));
        }
        match options().from_str::<String>(leaf.slice()) {
            Ok(text) => Some(Cow::Owned(text)),
            Err(_) => {
                self.add(leaf, format!("{what}: {} is not text in quotes", quoted(leaf.spelt())));
                None
            }
        }
    }

    /// Reads a value that is written as text in quotes.
    pub(super) fn parsed<T, E: Display>(
        &mut self,
        leaf: Leaf<'a>,
        what: &str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.string(leaf, what)?;
        self.keep(leaf, read(&text))
    }

    /// Reads a `bar.beat.tick` in a section's metre.
    pub(super) fn tick(&mut self, leaf: Leaf<'a>, what: &str, metre: &MetreMap) -> Option<Tick> {
        self.parsed(leaf, what, |text| {
            let place: Place = text.parse().map_err(|_| {
                format!("{what} {} is not bar.beat.tick, such as \"1.1.0\"", short(text))
            })?;
            metre.tick(place).map_err(|_| not_in_bar(what, place, metre))
        })
    }

    /// Reads a value that is itself a list or record.
    pub(super) fn nested<T: Deserialize<'a>>(&mut self, leaf: Leaf<'a>) -> Option<T> {
        match options().from_str(leaf.slice()) {
            Ok(value) => Some(value),
            Err(error) => {
                self.syntax(leaf.slice(), &error);
                None
            }
        }
    }

    /// Adds an error of the RON parser in `slice`, which is the text or a part of it.
    pub(super) fn syntax(&mut self, slice: &str, error: &SpannedError) {
        if self.is_full() {
            return;
        }
        let offset = (slice.as_ptr() as usize).saturating_sub(self.text.as_ptr() as usize);
        let (line, column) = self.place_of(offset.min(self.text.len()));
        let inside = error.span.end;
        let column = if inside.line == 1 { column + inside.col - 1 } else { inside.col };
        let line = line + inside.line - 1;
        self.found.push(TextError { line, column, message: tidy(&sentence(&error.code)) });
    }
}

/// The message for a well-formed `bar.beat.tick` that its bar does not have.
fn not_in_bar(what: &str, place: Place, metre: &MetreMap) -> String {
    let furthest = 1_000_000;
    if place.bar.abs() > furthest {
        return format!("{what} {place} is outside bar -{furthest} to {furthest}");
    }
    let metre = metre.metre_of(place.bar);
    let last = metre.beat().0 - 1;
    format!(
        "{what} {place} is not in its bar, which has beats 1 to {}, each with ticks 0 to {last}",
        metre.count()
    )
}

/// A message that is safe to show: control characters are escaped, and a very long message loses its
/// middle rather than its end, because the end says what would be right.
fn tidy(message: &str) -> String {
    let (head, tail) = (120, 280);
    let length = message.chars().count();
    let mut shown = String::with_capacity(message.len().min(4 * (head + tail)));
    for (index, letter) in message.chars().enumerate() {
        if index == head && length > head + tail {
            shown.push('…');
        }
        if index >= head && index + tail < length {
            continue;
        }
        if letter.is_control() {
            shown.extend(letter.escape_default());
        } else {
            shown.push(letter);
        }
    }
    shown
}

/// The spelling of a value, escaped and cut to 40 characters.
pub(super) fn short(spelt: &str) -> String {
    let mut cut: String = spelt.chars().take(40).flat_map(char::escape_debug).collect();
    if spelt.chars().nth(40).is_some() {
        cut.push('…');
    }
    cut.replace("\\\"", "\"").replace("\\'", "'")
}

/// The spelling of a value in quotes, which show where it begins and ends.
fn quoted(spelt: &str) -> String {
    if spelt.starts_with('"') { short(spelt) } else { format!("'{}'", short(spelt)) }
}

/// Field names of format 1. They are still read, but error messages do not list them.
const FORMER: [&str; 3] = ["passes", "strength", "window"];

/// Names as a list in a sentence: `a, b and c`.
fn listed(names: &[&str]) -> String {
    match names {
        [] => "none".into(),
        [only] => (*only).into(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// A name with its article.
fn a(name: &str) -> String {
    let article = if name.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {name}")
}

/// The fields of a record, without those of format 1.
fn offered<'a>(expected: &[&'a str]) -> Vec<&'a str> {
    expected.iter().copied().filter(|name| !FORMER.contains(name)).collect()
}

/// The parser's message, in our words.
fn sentence(error: &ron::Error) -> String {
    use ron::Error as E;
    let of = |outer: &Option<String>| outer.clone().unwrap_or_else(|| "record".into());
    match error {
        E::NoSuchStructField { expected, found, outer } => format!(
            "a {} has no field '{}'; its fields are {}",
            of(outer),
            short(found),
            listed(&offered(expected))
        ),
        E::MissingStructField { field, outer } => {
            format!("the {} that ends here is missing its field '{field}'", of(outer))
        }
        E::DuplicateStructField { field, .. } => format!("the field '{field}' is given twice"),
        E::ExpectedNamedStructLike(name) => format!("expected '(' to open {}", a(name)),
        E::ExpectedDifferentStructName { expected, found } => {
            format!("expected '(' to open {}, found '{}'", a(expected), short(found))
        }
        E::ExceededRecursionLimit => {
            format!("brackets are nested deeper than {} levels", super::leaf::DEEPEST)
        }
        E::ExpectedRawValue => "expected a value".into(),
        E::Eof | E::UnclosedLineComment => {
            "the text ends too soon: a bracket or a comment is not closed".into()
        }
        E::TrailingCharacters => "there is more text after the last closing bracket".into(),
        E::InvalidValueForType { expected, found } => {
            format!("expected {}, found {}", short(expected), short(found))
        }
        other => {
            let said = other.to_string().replace('`', "'");
            let mut letters = said.chars();
            let first = letters.next().map(|first| first.to_ascii_lowercase());
            first.into_iter().chain(letters).collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::Metre;

    #[test]
    fn only_a_message_of_more_than_400_characters_loses_its_middle() {
        let letters = |count: usize| ('a'..='z').cycle().take(count).collect::<String>();
        assert_eq!(tidy(&letters(400)), letters(400));
        let long = letters(401);
        assert_eq!(tidy(&long), format!("{}…{}", &long[..120], &long[121..]));
        let longer = letters(2000);
        assert_eq!(tidy(&longer), format!("{}…{}", &longer[..120], &longer[1720..]));
        assert_eq!(tidy("bell \u{7} and\nline"), "bell \\u{7} and\\nline");
    }

    #[test]
    fn a_bar_that_no_song_reaches_is_said_to_be_too_far_rather_than_its_beats() {
        let metre = MetreMap::new(4, Metre::common()).unwrap();
        let message = |bar| not_in_bar("at", Place { bar, beat: 9, tick: 0 }, &metre);
        let beats = "is not in its bar, which has beats 1 to 4, each with ticks 0 to 959";
        let outside = "is outside bar -1000000 to 1000000";
        for (bar, expected) in
            [(1_000_000, beats), (1_000_001, outside), (-1_000_000, beats), (-1_000_001, outside)]
        {
            assert_eq!(message(bar), format!("at {bar}.9.0 {expected}"));
        }
    }
}
