//! What was typed into the finder, as words to look for.
//!
//! In: the text, the words that anything has, and the tracks of the song. Out: the words without
//! fillers, with a wrong letter put right, and the track that they name.

use super::Part;
use chaconne_song::TrackId;
use std::collections::BTreeSet;

/// Words that say nothing about an action.
const FILLERS: [&str; 58] = [
    "a", "an", "the", "to", "of", "or", "my", "this", "that", "it", "its", "i", "want", "would",
    "like", "how", "do", "can", "make", "let", "me", "please", "is", "and", "some", "with", "what",
    "for", "put", "get", "have", "need", "bit", "less", "more", "little", "very", "really", "so",
    "in", "be", "sounds", "feels", "are", "there", "where", "you", "could", "should", "we", "our",
    "us", "i'd", "i'm", "am", "wanna", "gonna", "try",
];

/// Words for drums, which mean the drum track if no track has them in its name.
const DRUMS: [&str; 14] = [
    "drum",
    "drums",
    "hats",
    "hat",
    "hihat",
    "hi-hat",
    "snare",
    "kick",
    "cymbal",
    "toms",
    "clap",
    "percussion",
    "shaker",
    "beats",
];

/// The shortest word in which one wrong letter is forgiven.
const LONG: usize = 5;

/// The most words that are looked for: no request is longer, but a text that was pasted may be.
const MOST: usize = 24;

/// The words to look for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Typed {
    /// The words, in small letters. The name of a track is the word *track*.
    pub words: Vec<String>,
    /// The words that were put right: as typed, and as read.
    pub read_as: Vec<(String, String)>,
    /// The track that they name.
    pub track: Option<TrackId>,
    /// The words as they were before the name of the track became *track*; empty if nothing did.
    pub unnamed: Vec<String>,
}

impl Typed {
    /// Reads a text. `known` are the words that anything can be found by.
    pub fn read(text: &str, known: &[&str], parts: &[Part]) -> Typed {
        let mut typed = Typed { words: meaningful(text), ..Typed::default() };
        let names = parts.iter().flat_map(|part| split(&part.name));
        let all = known.iter().copied().chain(names).chain(DRUMS).map(str::to_lowercase);
        let all: BTreeSet<String> = all.collect();
        for word in &mut typed.words {
            if let Some(right) = put_right(word, &all) {
                typed.read_as.push((std::mem::replace(word, right.clone()), right));
            }
        }
        typed.aim(parts);
        typed
    }

    /// Finds the track that the words name. Its name stands for the word *track*, unless nothing else was
    /// typed; a drum stays what it is, because it may be a row of notes.
    fn aim(&mut self, parts: &[Part]) {
        let names = |word: &str, part: &Part| split(&part.name).any(|name| is_same(name, word));
        let count = |part: &Part| self.words.iter().filter(|word| names(word, part)).count();
        let most = parts.iter().map(count).max().unwrap_or(0);
        let nearest = |fits: &dyn Fn(&Part) -> bool| {
            let chosen = parts.iter().find(|part| part.is_chosen && fits(part));
            chosen.or_else(|| parts.iter().find(|part| fits(part)))
        };
        if most > 0 {
            let Some(part) = nearest(&|part| count(part) == most) else { return };
            self.track = Some(part.id);
            let of_name = |word: &String| names(word, part);
            if !self.words.iter().all(of_name) {
                self.unnamed.clone_from(&self.words);
                self.words.retain(|word| !of_name(word));
                if !self.words.iter().any(|word| is_same(word, "track")) {
                    self.words.push("track".into());
                }
            }
        } else if self.words.iter().any(|word| DRUMS.contains(&word.as_str())) {
            self.track = nearest(&|part| part.is_drums).map(|part| part.id);
        }
    }
}

/// The typed words without fillers, unless there are only those.
fn meaningful(text: &str) -> Vec<String> {
    let all: Vec<String> = split(text).map(str::to_lowercase).collect();
    let kept: Vec<String> = all.iter().filter(|word| !is_filler(word)).cloned().collect();
    let mut words = if kept.is_empty() { all } else { kept };
    words.truncate(MOST);
    words
}

/// Whether a word says nothing about an action.
pub fn is_filler(word: &str) -> bool {
    FILLERS.contains(&word.to_lowercase().as_str())
}

/// The words of a text.
pub fn split(text: &str) -> impl Iterator<Item = &str> {
    let words = text.split(|c: char| !c.is_alphanumeric() && c != '\'');
    words.filter(|word| !word.is_empty())
}

/// Whether two words are the same but for their endings.
pub fn is_same(one: &str, other: &str) -> bool {
    stem(one).eq_ignore_ascii_case(stem(other))
}

/// A word without its ending, so that `notes`, `muting` and `quantised` are found.
fn stem(word: &str) -> &str {
    let without = |word: &'_ str, ending: &str| {
        word.strip_suffix(ending).filter(|rest| rest.len() >= 3).map(str::len)
    };
    let word = word.strip_suffix("'s").unwrap_or(word);
    let mut kept = word.len();
    if let Some(length) = ["ing", "ed"].iter().find_map(|ending| without(word, ending)) {
        return &word[..length];
    }
    for ending in ["s", "e"] {
        kept = without(&word[..kept], ending).unwrap_or(kept);
    }
    &word[..kept]
}

/// The word that was meant, if a long one is not known but one letter away from one that is.
fn put_right(word: &str, known: &BTreeSet<String>) -> Option<String> {
    let begins = |known: &str| known.starts_with(word);
    let length = word.chars().count();
    if length < LONG || known.iter().any(|known| begins(known) || is_same(known, word)) {
        return None;
    }
    let meant = known.iter().filter(|known| {
        // As much of it as is typed, or all of it.
        let start: String = known.chars().take(length).collect();
        is_near(word, known) || (length > LONG && is_near(word, &start))
    });
    // Most mistakes are not in the first letter.
    let first = word.chars().next();
    meant.min_by_key(|known| (known.chars().next() != first, *known)).cloned()
}

/// Whether a word becomes another by one letter that is wrong, missing or too many, or by two that change
/// places.
fn is_near(one: &str, other: &str) -> bool {
    let (one, other): (Vec<char>, Vec<char>) = (one.chars().collect(), other.chars().collect());
    let same = one.iter().zip(&other).take_while(|(one, other)| one == other).count();
    let (one, other) = (&one[same..], &other[same..]);
    let rest = |letters: &[char], skipped: usize| letters.get(skipped..).map(<[char]>::to_vec);
    let swapped = one.len() > 1 && other.len() > 1 && (one[0], one[1]) == (other[1], other[0]);
    rest(one, 1).is_some_and(|rest| rest == other)
        || rest(other, 1).is_some_and(|rest| rest == one)
        || rest(one, 1).zip(rest(other, 1)).is_some_and(|(one, other)| one == other)
        || (swapped && one[2..] == other[2..])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts() -> Vec<Part> {
        let part = |id, name: &str, is_drums, is_chosen| Part {
            id: TrackId(id),
            name: name.into(),
            is_drums,
            is_chosen,
        };
        vec![part(1, "Drums", true, false), part(2, "Bass guitar", false, true)]
    }

    #[test]
    fn one_wrong_letter_in_a_long_word_is_put_right() {
        let known = ["quantise", "volume", "tempo", "mute", "section"];
        for (typed, right) in [
            ("qunatise", "quantise"),
            ("quantize", "quantise"),
            ("volumne", "volume"),
            ("vlume", "volume"),
            ("tenpo", "tempo"),
            ("sectoin", "section"),
            ("sectoi", "section"),
            // Too short, too far off, or known as the start of a word.
            ("mtue", "mtue"),
            ("xylophone", "xylophone"),
            ("quant", "quant"),
            ("sections", "sections"),
        ] {
            assert_eq!(Typed::read(typed, &known, &[]).words, [right], "{typed}");
        }
    }

    #[test]
    fn the_name_of_a_track_is_the_track() {
        let read = |typed| {
            let typed = Typed::read(typed, &["louder", "mute", "swing"], &parts());
            (typed.words.join(" "), typed.track.map(|track| track.0))
        };
        assert_eq!(read("make the bass louder"), ("louder track".into(), Some(2)));
        assert_eq!(read("mute drums"), ("mute track".into(), Some(1)));
        assert_eq!(read("swing the hats"), ("swing hats".into(), Some(1)));
        assert_eq!(read("bass guitar"), ("bass guitar".into(), Some(2)));
        assert_eq!(read("louder"), ("louder".into(), None));
    }
}
