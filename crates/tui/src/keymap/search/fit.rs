//! How well an action fits what was typed.
//!
//! In: the words that were typed, and an action. Out: a rank; more is better.

use super::typed::{Typed, is_filler, is_same, split};
use super::{Entry, Here};
use crate::keymap::{Binding, Words};
use std::cmp::Reverse;

/// How well an action fits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    /// How many of the typed words it has.
    pub(super) words: usize,
    /// How well the weakest of them fits: a name or a synonym, or only the explanation.
    weakest: Strength,
    /// Whether it changes the track that was named.
    is_aimed: bool,
    /// Whether the action is here, or in a list that opens here.
    is_near: bool,
    /// Whether the arrows need not be turned first.
    is_direct: bool,
    /// How well all words fit together.
    sum: u32,
    /// How many words of its name were not typed, if any was.
    spare: usize,
    /// How many of the words are spelt as they were typed.
    exact: usize,
}

impl Fit {
    pub(super) fn of(typed: &Typed, entry: &Entry, here: Here) -> Fit {
        let (named, typed) = (typed.track.is_some(), &typed.words);
        let (words, binding) = (entry.binding.words(), entry.binding);
        let fits: Vec<Word> = typed.iter().filter_map(|word| fit(word, words, binding)).collect();
        let is_typed = |word: &str| typed.iter().any(|typed| is_same(word, typed));
        let name: Vec<&str> = split(words.phrase).filter(|word| !is_filler(word)).collect();
        let spare = name.iter().filter(|word| !is_typed(word)).count();
        Fit {
            words: fits.len(),
            weakest: fits.iter().map(|fit| fit.strength).min().unwrap_or(Strength::Name),
            is_aimed: named && entry.is_about_a_track(),
            is_near: entry.place.distance(here) < 3,
            is_direct: entry.turns.is_none(),
            sum: fits.iter().map(|fit| fit.score).sum(),
            spare: if spare == name.len() { 0 } else { spare },
            exact: fits.iter().filter(|fit| fit.is_exact).count(),
        }
    }

    /// Whether an action has a word.
    pub(super) fn has(word: &str, entry: &Entry) -> bool {
        fit(word, entry.binding.words(), entry.binding).is_some()
    }

    /// Whether each of so many words is in its name, or among its best words.
    pub(super) fn is_by_name(&self, words: usize) -> bool {
        self.words == words && self.weakest == Strength::Name
    }

    /// More is better.
    pub(super) fn rank(&self) -> impl Ord + use<> {
        let &Fit { weakest, is_aimed, is_near, is_direct, sum, spare, exact, .. } = self;
        (weakest, is_aimed, is_near, is_direct, sum, Reverse(spare), exact)
    }
}

/// Where a word was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Strength {
    /// Only in the explanation, or inside another word.
    Mention,
    /// Among the other words for the action.
    Other,
    /// At the beginning of a word of its name: *pan* in *panic*.
    Begins,
    /// In its name, or the best of the other words.
    Name,
}

/// How well one word fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Word {
    strength: Strength,
    score: u32,
    /// Whether it is spelt as it was typed.
    is_exact: bool,
}

/// How well one word fits, if at all.
fn fit(typed: &str, words: Words, binding: &Binding) -> Option<Word> {
    let begins =
        |word: &str| word.get(..typed.len()).is_some_and(|start| start.eq_ignore_ascii_case(typed));
    let best = |text: &str, strength: Strength, whole: u32, start: u32, first: u32| {
        let each = split(text).enumerate().filter_map(|(at, word)| {
            let first = if at == 0 { first } else { 0 };
            let (strength, score) = match (is_same(word, typed), strength) {
                (true, _) => (strength, whole + first),
                (false, Strength::Name) if begins(word) => (Strength::Begins, start + first),
                (false, _) if begins(word) => (strength, start),
                (false, _) => return None,
            };
            Some(Word { strength, score, is_exact: word.eq_ignore_ascii_case(typed) })
        });
        each.max()
    };
    let has = |text: &str| text.contains(typed);
    let inside = typed.len() >= 3 && [words.phrase, words.best, words.also].into_iter().any(has);
    let found = [
        best(words.phrase, Strength::Name, 12, 8, 1),
        best(binding.label, Strength::Name, 10, 7, 0),
        best(words.best, Strength::Name, 12, 8, 0),
        best(words.also, Strength::Other, 9, 5, 0),
        best(binding.sentence, Strength::Mention, 4, 3, 0),
        inside.then_some(Word { strength: Strength::Mention, score: 2, is_exact: false }),
    ];
    found.into_iter().flatten().max()
}
