//! Reading values out of leaves, and gathering what is wrong with them, each with its place.

use super::leaf::{Leaf, options};
use super::{MOST_ERRORS, TextError};
use chaconne_time::{MetreMap, Place, Tick};
use ron::error::SpannedError;
use serde::Deserialize;
use std::borrow::Cow;
use std::fmt::Display;

/// What was found wrong with a text so far.
#[derive(Debug)]
pub(super) struct Faults<'a> {
    text: &'a str,
    found: Vec<TextError>,
}

impl<'a> Faults<'a> {
    /// Nothing wrong yet.
    pub(super) fn new(text: &'a str) -> Faults<'a> {
        Faults { text, found: Vec::new() }
    }

    /// What was found, in order of place; empty where nothing is wrong.
    pub(super) fn into_errors(mut self) -> Vec<TextError> {
        self.found.sort_by_key(|error| (error.line, error.column));
        self.found
    }

    /// Whether no more errors are taken.
    pub(super) fn is_full(&self) -> bool {
        self.found.len() >= MOST_ERRORS
    }

    /// Adds what is wrong with a value.
    pub(super) fn add(&mut self, leaf: Leaf<'a>, message: impl Display) {
        if !self.is_full() {
            let (line, column) = self.place_of(leaf.offset(self.text));
            self.found.push(TextError { line, column, message: tidy(&message.to_string()) });
        }
    }

    /// The line and column of a byte of the text.
    fn place_of(&self, offset: usize) -> (usize, usize) {
        let before = self.text.get(..offset).unwrap_or(self.text);
        let line = before.bytes().filter(|&byte| byte == b'\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |end| end + 1);
        (line, before[start..].chars().count() + 1)
    }

    /// The line of a value.
    pub(super) fn line_of(&self, leaf: Leaf<'a>) -> usize {
        self.place_of(leaf.offset(self.text)).0
    }

    /// Keeps the good of a result, and adds the bad.
    pub(super) fn keep<T>(&mut self, leaf: Leaf<'a>, result: Result<T, impl Display>) -> Option<T> {
        result.map_err(|error| self.add(leaf, error)).ok()
    }

    /// A whole number from `low` to `high`.
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

    /// `true` or `false`.
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

    /// Text in quotes.
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

    /// Text in quotes that says something else.
    pub(super) fn said<T, E: Display>(
        &mut self,
        leaf: Leaf<'a>,
        what: &str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.string(leaf, what)?;
        self.keep(leaf, read(&text))
    }

    /// A `bar.beat.tick` in a section's metre.
    pub(super) fn tick(&mut self, leaf: Leaf<'a>, what: &str, metre: &MetreMap) -> Option<Tick> {
        self.said(leaf, what, |text| {
            let place: Place = text.parse().map_err(|_| {
                format!("{what} {} is not bar.beat.tick, such as \"1.1.0\"", short(text))
            })?;
            metre.tick(place).map_err(|_| not_in_bar(what, place, metre))
        })
    }

    /// A value that is itself a list or record.
    pub(super) fn nested<T: Deserialize<'a>>(&mut self, leaf: Leaf<'a>) -> Option<T> {
        match options().from_str(leaf.slice()) {
            Ok(value) => Some(value),
            Err(error) => {
                self.parsing(leaf.slice(), &error);
                None
            }
        }
    }

    /// Adds what the parser found wrong in `slice`, a part of the text or all of it.
    pub(super) fn parsing(&mut self, slice: &str, error: &SpannedError) {
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

/// Why a well-formed place is none.
fn not_in_bar(what: &str, place: Place, metre: &MetreMap) -> String {
    let furthest = 1_000_000;
    if place.bar.abs() > furthest {
        return format!("{what} {place} is outside bar -{furthest} to {furthest}");
    }
    let metre = metre.metre_of(place.bar);
    let last = metre.beat().0 - 1;
    format!(
        "{what} {place} is not in its bar, which has beats 1 to {} of ticks 0 to {last}",
        metre.count()
    )
}

/// A message that is safe to show: what cannot be seen is escaped, and where something long was
/// quoted, its middle is left out, so that the accepted range at the end stays.
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

/// The spelling of a value, cut to what fits into a sentence.
pub(super) fn short(spelt: &str) -> String {
    let mut cut: String = spelt.chars().take(40).flat_map(char::escape_debug).collect();
    if spelt.chars().nth(40).is_some() {
        cut.push('…');
    }
    cut.replace("\\\"", "\"").replace("\\'", "'")
}

/// The spelling of a value, in quotes that show where it begins and ends.
fn quoted(spelt: &str) -> String {
    if spelt.starts_with('"') { short(spelt) } else { format!("'{}'", short(spelt)) }
}

/// Names that fields had in format 1. They are read, and not offered.
const FORMER: [&str; 3] = ["passes", "strength", "window"];

/// A list as people read it.
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

/// The fields that a record has.
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
            format!("the {} that ends here lacks its field '{field}'", of(outer))
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
        E::Eof => "the text ends before the song does".into(),
        E::TrailingCharacters => "the song ends here, but more text follows".into(),
        E::InvalidValueForType { expected, found } => {
            format!("expected {}, found {}", short(expected), short(found))
        }
        E::UnclosedLineComment => "the text ends before the song does".into(),
        other => {
            let said = other.to_string().replace('`', "'");
            let mut letters = said.chars();
            let first = letters.next().map(|first| first.to_ascii_lowercase());
            first.into_iter().chain(letters).collect()
        }
    }
}
