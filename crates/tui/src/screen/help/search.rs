//! Searching the help.
//!
//! What is the name of a key as it is written finds that key; anything else finds the sentences that have all
//! of its words, or that explain an action which the finder finds by them.

use super::super::{Overlay, Screen};
use super::HelpPage;
use crate::action::Vertical;
use crate::form::Line as Typed;
use crate::input::Key;
use crate::keymap::{Binding, Keymap, Words, is_filler, is_same, split};
use crate::manual::{self, Line};

/// A search in the help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HelpSearch {
    /// What is searched for.
    pub typed: Typed,
    /// Whether it is still being typed.
    pub is_typing: bool,
    /// The line found, counted from 0.
    pub at: Option<usize>,
    /// Which of the lines found that is, counted from 1, and how many there are.
    pub count: (usize, usize),
    /// The first visible line before the search.
    from: usize,
}

/// The lines in which entries begin that have what was typed.
fn matches(lines: &[Line], typed: &str, keymap: Keymap) -> Vec<usize> {
    let all: Vec<String> = typed.split_whitespace().map(str::to_lowercase).collect();
    let meant: Vec<String> = all.iter().filter(|word| !is_filler(word)).cloned().collect();
    let words = if meant.is_empty() { all } else { meant };
    let mut entries: Vec<(usize, String, String)> = Vec::new();
    let mut goes_on = false;
    for (at, line) in lines.iter().enumerate() {
        match (line, entries.last_mut()) {
            (Line::More(text), Some((_, _, known))) => *known += &format!(" {text}"),
            (Line::Text(text), Some((_, _, known))) if goes_on => *known += &format!(" {text}"),
            (Line::Text(text) | Line::More(text), _) => {
                entries.push((at, String::new(), text.clone()));
            }
            (Line::Heading(text), _) => entries.push((at, String::new(), (*text).to_string())),
            (Line::Key(keys, text), _) => entries.push((at, keys.clone(), text.clone())),
            (Line::Blank, _) => {}
        }
        goes_on = matches!(line, Line::Text(text) if !text.ends_with('.'));
    }
    let is_key = |keys: &str| keys.split(' ').any(|key| key == typed.trim());
    if entries.iter().any(|(_, keys, _)| is_key(keys)) {
        return entries.iter().filter(|(_, keys, _)| is_key(keys)).map(|(at, ..)| *at).collect();
    }
    let actions: Vec<(String, Words)> = keymap.rows().map(|row| explained(row, keymap)).collect();
    let has = |keys: &str, text: &str| {
        let lower = text.to_lowercase();
        // A sentence may explain several actions, such as up and down.
        let others =
            actions.iter().filter(|(sentence, _)| !keys.is_empty() && text.starts_with(sentence));
        let others: Vec<&str> = others
            .flat_map(|(_, words)| [words.phrase, words.best, words.also])
            .flat_map(split)
            .collect();
        let is_there = |word: &String| {
            lower.contains(word.as_str()) || others.iter().any(|other| is_same(other, word))
        };
        !words.is_empty() && words.iter().all(is_there)
    };
    entries.iter().filter(|(_, keys, text)| has(keys, text)).map(|(at, ..)| *at).collect()
}

/// The sentence that explains an action in the help, without its full stop, and what the finder calls it.
fn explained(row: &Binding, keymap: Keymap) -> (String, Words) {
    (keymap.fill(row.sentence).trim_end_matches('.').to_string(), row.words())
}

impl HelpPage {
    fn begin_search(&mut self) {
        let (typed, from) = (Typed::whole(""), self.first);
        let search = HelpSearch { typed, is_typing: true, at: None, count: (0, 0), from };
        self.search = Some(search);
    }

    /// Finds what is typed, at or after the line from which the search began, or else from the top.
    fn find(&mut self, size: (u16, u16)) {
        let Some(search) = &self.search else { return };
        let from = search.from;
        self.show_match(size, |found| found.iter().position(|&line| line >= from).unwrap_or(0));
    }

    /// Goes to one of the lines found.
    fn show_match(&mut self, size: (u16, u16), which: impl FnOnce(&[usize]) -> usize) {
        let last = self.last(size);
        let lines = manual::help(size.0, self.keymap, self.about.as_ref());
        let Some(search) = &mut self.search else { return };
        let found = matches(&lines, &search.typed.text(), self.keymap);
        if found.is_empty() {
            (search.at, search.count) = (None, (0, 0));
            self.first = search.from;
            return;
        }
        let index = which(&found);
        (search.at, search.count) = (Some(found[index]), (index + 1, found.len()));
        // A line of what comes before stays in sight.
        self.first = found[index].saturating_sub(1).min(last);
    }

    pub(in crate::screen) fn type_key(&mut self, key: &Key, size: (u16, u16)) {
        let Some(search) = &mut self.search else { return };
        match key.code {
            crate::input::Code::Char(c) => search.typed.insert(c.encode_utf8(&mut [0; 4])),
            code => search.typed.edit(code),
        }
        self.find(size);
    }

    pub(in crate::screen) fn paste(&mut self, text: &str, size: (u16, u16)) {
        let Some(search) = self.search.as_mut().filter(|search| search.is_typing) else { return };
        search.typed.insert(text);
        self.find(size);
    }

    pub(in crate::screen) fn clear(&mut self, size: (u16, u16)) {
        if let Some(search) = &mut self.search {
            search.typed.clear();
            self.find(size);
        }
    }

    /// Whether something is being typed.
    pub fn is_typing(&self) -> bool {
        self.search.as_ref().is_some_and(|search| search.is_typing)
    }

    /// Drops the search, and goes back to where it began.
    pub(in crate::screen) fn drop_search(&mut self) {
        if let Some(search) = self.search.take() {
            self.first = search.from;
        }
    }

    /// Ends the typing; what was found stays in sight.
    pub(in crate::screen) fn end_typing(&mut self) {
        match &mut self.search {
            Some(search) if search.at.is_some() => search.is_typing = false,
            _ => self.drop_search(),
        }
    }
}

impl Screen {
    pub(in crate::screen) fn search_help(&mut self) {
        if let Some(Overlay::Help(page)) = self.overlays.top_mut() {
            page.begin_search();
        }
    }

    /// Goes to the next line found or the one before, from the last to the first and back.
    pub(in crate::screen) fn next_match(&mut self, way: Vertical) {
        let size = self.size;
        let Some(Overlay::Help(page)) = self.overlays.top_mut() else { return };
        let Some(at) = page.search.as_ref().and_then(|search| search.at) else {
            return self
                .say_with_keys("Nothing was searched for yet: press {search-help} and type.");
        };
        page.show_match(size, |found| {
            let (known, count) = (found.iter().position(|&line| line == at), found.len());
            match (known, way) {
                (None, _) => 0,
                (Some(index), Vertical::Down) => (index + 1) % count,
                (Some(index), Vertical::Up) => (index + count - 1) % count,
            }
        });
    }
}
