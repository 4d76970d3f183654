//! The form: the order in which sections are played, with repeats, groups and endings.
//!
//! People type it as `A (B C) x2 A`. `x` says how many times a section or group is played. A group
//! may have endings in square brackets, each starting with the times it is for:
//! `(B C [1 D] [2 E])` plays B C D B C E. The form is kept as typed, and only the route of a
//! performance unrolls it. Its length is calculated without unrolling it, because a short form can
//! be very long when unrolled.

mod typed;
mod without;

use crate::{Letter, LetterError};
use std::collections::BTreeMap;
use std::fmt::{self, Display};

pub use typed::read_form;

/// The order of sections; empty if none is set yet.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Form {
    /// The sections and groups, in the order in which they are played.
    pub entries: Vec<FormEntry>,
}

/// A section or a group, and how many times it is played.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct FormEntry {
    /// The section or group.
    pub part: FormPart,
    /// How many times it is played, 1..=10000.
    pub times: u32,
}

/// A section or a group.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum FormPart {
    /// A section.
    Section(Letter),
    /// Several entries, with endings that may differ each time.
    Group(FormGroup),
}

/// Entries that are repeated together.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct FormGroup {
    /// The entries that are played every time; not empty.
    pub entries: Vec<FormEntry>,
    /// The endings, in order of their first time; no two for the same time.
    pub endings: Vec<Ending>,
}

/// An ending of a group, for certain times through it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Ending {
    /// The times through the group that end with it, from 1, ascending; not empty.
    pub times: Vec<u32>,
    /// The entries of the ending; not empty.
    pub entries: Vec<FormEntry>,
}

/// A sentence that says what is wrong with a form, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct FormError(String);

impl From<LetterError> for FormError {
    fn from(error: LetterError) -> Self {
        FormError(error.to_string())
    }
}

fn wrong<T>(message: impl Into<String>) -> Result<T, FormError> {
    Err(FormError(message.into()))
}

impl FormEntry {
    /// A section that is played once.
    pub fn once(letter: Letter) -> FormEntry {
        FormEntry { part: FormPart::Section(letter), times: 1 }
    }
}

impl Form {
    /// The most sections a form may play.
    pub const LONGEST: u64 = 10_000;
    /// How deep groups may be nested.
    pub const DEEPEST: usize = 4;

    /// A form that plays each of these sections once.
    pub fn of(letters: impl IntoIterator<Item = Letter>) -> Form {
        Form { entries: letters.into_iter().map(FormEntry::once).collect() }
    }

    /// Whether no order is set.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// How many sections it plays, repeats included.
    pub fn length(&self) -> u64 {
        length(&self.entries)
    }

    /// The letters in the order in which they are written, without repeats by `x`.
    pub fn letters(&self) -> Vec<Letter> {
        let mut letters = Vec::new();
        each_letter(&self.entries, &mut |letter| letters.push(*letter));
        letters
    }

    /// The sections in the order in which they are played: each as many times as it says, with the
    /// ending of each time. Empty if that would be more than [`LONGEST`](Self::LONGEST).
    pub fn unrolled(&self) -> Vec<Letter> {
        let mut letters = Vec::new();
        if self.length() <= Self::LONGEST {
            unroll(&self.entries, &mut letters);
        }
        letters
    }

    /// Whether a section is in the form.
    pub fn contains(&self, letter: Letter) -> bool {
        self.letters().contains(&letter)
    }

    /// The same form with the letter `from` changed to `to` everywhere.
    pub fn renamed(mut self, from: Letter, to: Letter) -> Form {
        rename(&mut self.entries, from, to);
        self
    }

    /// Checks that no group or ending is empty, that endings are in order, and that times, depth
    /// and length are in range.
    pub fn check(&self) -> Result<(), FormError> {
        check(&self.entries, 0)?;
        let length = self.length();
        if length > Self::LONGEST {
            return wrong(format!(
                "the form plays {length} sections; the most it may play is {}",
                Self::LONGEST
            ));
        }
        Ok(())
    }
}

fn length(entries: &[FormEntry]) -> u64 {
    entries.iter().fold(0, |sum, entry| sum.saturating_add(entry.length()))
}

impl FormEntry {
    fn length(&self) -> u64 {
        let times = u64::from(self.times);
        match &self.part {
            FormPart::Section(_) => times,
            FormPart::Group(group) => {
                let endings = group.endings.iter().fold(0u64, |sum, ending| {
                    let each = length(&ending.entries);
                    sum.saturating_add(each.saturating_mul(ending.times.len() as u64))
                });
                length(&group.entries).saturating_mul(times).saturating_add(endings)
            }
        }
    }
}

fn unroll(entries: &[FormEntry], letters: &mut Vec<Letter>) {
    for entry in entries {
        for time in 1..=entry.times {
            match &entry.part {
                FormPart::Section(letter) => letters.push(*letter),
                FormPart::Group(group) => {
                    unroll(&group.entries, letters);
                    let ending = group.endings.iter().find(|ending| ending.times.contains(&time));
                    ending.into_iter().for_each(|ending| unroll(&ending.entries, letters));
                }
            }
        }
    }
}

fn each_letter<'a>(entries: &'a [FormEntry], found: &mut impl FnMut(&'a Letter)) {
    for entry in entries {
        match &entry.part {
            FormPart::Section(letter) => found(letter),
            FormPart::Group(group) => {
                each_letter(&group.entries, found);
                group.endings.iter().for_each(|ending| each_letter(&ending.entries, found));
            }
        }
    }
}

fn rename(entries: &mut [FormEntry], from: Letter, to: Letter) {
    for entry in entries {
        match &mut entry.part {
            FormPart::Section(letter) if *letter == from => *letter = to,
            FormPart::Section(_) => {}
            FormPart::Group(group) => {
                rename(&mut group.entries, from, to);
                group.endings.iter_mut().for_each(|ending| rename(&mut ending.entries, from, to));
            }
        }
    }
}

fn check(entries: &[FormEntry], depth: usize) -> Result<(), FormError> {
    for entry in entries {
        check_times(u64::from(entry.times))?;
        if let FormPart::Group(group) = &entry.part {
            check_group(group, entry.times, depth)?;
        }
    }
    Ok(())
}

fn check_times(times: u64) -> Result<(), FormError> {
    if (1..=Form::LONGEST).contains(&times) {
        return Ok(());
    }
    wrong(format!("x{times} is outside x1 to x{}", Form::LONGEST))
}

fn check_depth(depth: usize) -> Result<(), FormError> {
    if depth < Form::DEEPEST {
        return Ok(());
    }
    wrong(format!("the form has groups inside groups more than {} deep", Form::DEEPEST))
}

fn check_group(group: &FormGroup, times: u32, depth: usize) -> Result<(), FormError> {
    check_depth(depth)?;
    if group.entries.is_empty() {
        return wrong("the form has an empty group; put at least one section in it, such as (A B)");
    }
    check(&group.entries, depth + 1)?;
    let mut taken = BTreeMap::new();
    for (index, ending) in group.endings.iter().enumerate() {
        if ending.entries.is_empty() || ending.times.is_empty() {
            return wrong("an ending is empty; put at least one section in it, such as [1 A]");
        }
        for &time in &ending.times {
            if !(1..=times).contains(&time) {
                return wrong(format!("ending {time} is outside the group's times, 1 to {times}"));
            }
            if taken.insert(time, index).is_some() {
                return wrong(format!("ending {time} is given twice in one group"));
            }
        }
        check(&ending.entries, depth + 1)?;
    }
    let sorted = |ending: &Ending| ending.times.is_sorted();
    let firsts = group.endings.iter().map(|ending| ending.times.first().copied());
    if !group.endings.iter().all(sorted) || !firsts.is_sorted() {
        return wrong("endings must be in the order of their times, such as [1 A] [2 B]");
    }
    Ok(())
}

impl Display for Form {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = String::new();
        spell(&self.entries, &mut text);
        f.pad(&text)
    }
}

/// Appends entries to `text`, with spaces between them.
fn spell(entries: &[FormEntry], text: &mut String) {
    for entry in entries {
        if !text.is_empty() && !text.ends_with('(') {
            text.push(' ');
        }
        let mut usual = 1;
        match &entry.part {
            FormPart::Section(letter) => text.push_str(letter.as_str()),
            FormPart::Group(group) => {
                text.push('(');
                spell(&group.entries, text);
                for ending in &group.endings {
                    let times: Vec<String> = ending.times.iter().map(u32::to_string).collect();
                    text.push_str(" [");
                    text.push_str(&times.join(" "));
                    spell(&ending.entries, text);
                    text.push(']');
                }
                text.push(')');
                usual = last_ending(group).unwrap_or(1);
            }
        }
        if entry.times != usual {
            text.push_str(&format!(" x{}", entry.times));
        }
    }
}

/// How many times a group with endings is played if `x` is left out.
fn last_ending(group: &FormGroup) -> Option<u32> {
    group.endings.iter().flat_map(|ending| ending.times.iter().copied()).max()
}

/// A token of a typed form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token<'a> {
    Letters(&'a str),
    Number(&'a str),
    Times,
    Mark(char),
}

/// Cuts the first token off `text`; `None` at its end.
fn token(text: &str) -> Result<Option<(Token<'_>, &str)>, FormError> {
    let text = text.trim_start();
    let Some(first) = text.chars().next() else { return Ok(None) };
    let run = |belongs: fn(&char) -> bool| {
        let end = text.find(|letter| !belongs(&letter)).unwrap_or(text.len());
        text.split_at(end)
    };
    let cut = match first {
        'A'..='Z' => {
            let (word, rest) = run(char::is_ascii_alphabetic);
            let letters = word.find('x').map_or(word.len(), |at| at.max(1));
            let (word, times) = word.split_at(letters);
            let rest = if times.is_empty() { rest } else { &text[letters..] };
            (Token::Letters(word), rest)
        }
        '0'..='9' => {
            let (number, rest) = run(char::is_ascii_digit);
            (Token::Number(number), rest)
        }
        'x' => (Token::Times, &text[1..]),
        '(' | ')' | '[' | ']' => (Token::Mark(first), &text[1..]),
        'a'..='z' => (Token::Letters(run(char::is_ascii_alphabetic).0), ""),
        other => {
            let shown = other.escape_debug();
            return wrong(format!("a form cannot contain '{shown}'; write it like A (B C) x2 A"));
        }
    };
    Ok(Some(cut))
}

/// Reads a typed form, token by token.
struct Parser<'a> {
    rest: &'a str,
}

impl<'a> Parser<'a> {
    fn peek(&self) -> Result<Option<Token<'a>>, FormError> {
        Ok(token(self.rest)?.map(|(token, _)| token))
    }

    fn next(&mut self) -> Result<Option<Token<'a>>, FormError> {
        let found = token(self.rest)?;
        self.rest = found.map_or("", |(_, rest)| rest);
        Ok(found.map(|(token, _)| token))
    }

    /// Reads entries up to the first token that cannot start one.
    fn entries(&mut self, depth: usize) -> Result<Vec<FormEntry>, FormError> {
        let mut entries = Vec::new();
        loop {
            let (part, usual) = match self.peek()? {
                Some(Token::Letters(letters)) => {
                    self.next()?;
                    (FormPart::Section(letters.parse()?), 1)
                }
                Some(Token::Mark('(')) => {
                    self.next()?;
                    let group = self.group(depth)?;
                    let usual = last_ending(&group).unwrap_or(1);
                    (FormPart::Group(group), usual)
                }
                _ => return Ok(entries),
            };
            let times = self.times()?.unwrap_or(usual);
            entries.push(FormEntry { part, times });
        }
    }

    /// Reads `x2`, if it comes next.
    fn times(&mut self) -> Result<Option<u32>, FormError> {
        if self.peek()? != Some(Token::Times) {
            return Ok(None);
        }
        self.next()?;
        match self.next()? {
            Some(Token::Number(number)) => self.number(number).map(Some),
            _ => wrong("x must be followed by a number of times, such as x2"),
        }
    }

    fn number(&self, digits: &str) -> Result<u32, FormError> {
        let number: u64 = digits.parse().unwrap_or(u64::MAX);
        check_times(number)?;
        Ok(number as u32)
    }

    /// Reads a group, after its opening bracket.
    fn group(&mut self, depth: usize) -> Result<FormGroup, FormError> {
        check_depth(depth)?;
        let entries = self.entries(depth + 1)?;
        let mut endings = Vec::new();
        while self.peek()? == Some(Token::Mark('[')) {
            self.next()?;
            endings.push(self.ending(depth)?);
        }
        match self.next()? {
            Some(Token::Mark(')')) => Ok(FormGroup { entries, endings }),
            None => wrong("a group is not closed; end it with )"),
            Some(_) if endings.is_empty() => wrong("a group contains sections, such as (A B)"),
            Some(_) => wrong("endings must come last in a group, such as (A [1 B] [2 C])"),
        }
    }

    /// Reads an ending, after its opening bracket.
    fn ending(&mut self, depth: usize) -> Result<Ending, FormError> {
        let mut times = Vec::new();
        while let Some(Token::Number(number)) = self.peek()? {
            self.next()?;
            times.push(self.number(number)?);
        }
        if times.is_empty() {
            return wrong("an ending begins with the times it is for, such as [1 A] or [1 2 A]");
        }
        times.sort_unstable();
        let entries = self.entries(depth + 1)?;
        match self.next()? {
            Some(Token::Mark(']')) => Ok(Ending { times, entries }),
            None => wrong("an ending is not closed; end it with ]"),
            Some(_) => wrong("an ending has its times first and then sections, such as [1 A]"),
        }
    }
}

impl std::str::FromStr for Form {
    type Err = FormError;
    /// Reads a form as people type it.
    fn from_str(text: &str) -> Result<Form, FormError> {
        let mut parser = Parser { rest: text };
        let form = Form { entries: parser.entries(0)? };
        match parser.next()? {
            None => {}
            Some(Token::Mark(')')) => return wrong("a ) has no matching (; open the group with ("),
            Some(Token::Mark(_)) => {
                return wrong("an ending must be inside a group, such as (A [1 B] [2 C])");
            }
            Some(_) => {
                return wrong("times must follow a section or group, such as A x2 or (A B) x2");
            }
        }
        form.check()?;
        Ok(form)
    }
}

#[cfg(test)]
mod tests;
