//! A form as people type it for a song: more freely than a file has it.

use crate::{Form, FormError, Letter, Song};

/// The form that was typed, for a song: its letters may be small, and those of sections with one letter
/// may be written together.
pub fn read_form(typed: &str, song: &Song) -> Result<Form, FormError> {
    apart(&with_capitals(typed), song).parse()
}

/// A typed form in which a word that is no section's letter, but made of such, is taken apart.
fn apart(typed: &str, song: &Song) -> String {
    let is_section =
        |word: &str| word.parse().is_ok_and(|letter: Letter| song.section(letter).is_some());
    let each = |word: &str| word.chars().map(String::from).collect::<Vec<_>>();
    let mut text = String::new();
    let mut rest = typed;
    while !rest.is_empty() {
        let (word, after) = rest.split_at(run(rest));
        let letters = each(word);
        let split = !is_section(word) && letters.iter().all(|letter| is_section(letter));
        text += &if split { letters.join(" ") } else { word.to_string() };
        rest = after;
    }
    text
}

/// The length of the word of capitals that a text starts with, or of what comes before the next one.
fn run(text: &str) -> usize {
    let is_capital = |c: char| c.is_ascii_uppercase();
    let first = text.starts_with(is_capital);
    text.find(|c| is_capital(c) != first).unwrap_or(text.len())
}

/// A typed form with capitals for its letters. An `x` before a number stays: it says how many times.
fn with_capitals(typed: &str) -> String {
    let is_times = |rest: &str| rest.trim_start().starts_with(|c: char| c.is_ascii_digit());
    let capital = |(at, c): (usize, char)| match c {
        'x' if is_times(&typed[at + 1..]) => c,
        _ => c.to_ascii_uppercase(),
    };
    typed.char_indices().map(capital).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Section;
    use chaconne_time::{Metre, MetreMap, Tempo};
    use std::sync::Arc;

    #[test]
    fn letters_written_together_are_taken_apart_unless_a_section_is_called_so() {
        let metre = MetreMap::new(1, Metre::common()).unwrap();
        let section =
            |letter: &str| Section::new(letter.parse().unwrap(), metre.clone(), Tempo::DEFAULT);
        let mut song = Song::new("letters", section("A"));
        song.sections.extend(["B", "AB"].map(|letter| Arc::new(section(letter))));
        let read = |typed| read_form(typed, &song).map(|form| form.to_string());
        assert_eq!(read("aaba"), Ok("A A B A".into()));
        assert_eq!(read("aax2(bab)x3"), Ok("A A x2 (B A B) x3".into()));
        assert_eq!(read("ab ba"), Ok("AB B A".into()));
        // C is no section, so the word stays.
        assert_eq!(read("abc"), Ok("ABC".into()));
        assert!(read("abcd").is_err());
    }

    #[test]
    fn small_letters_of_a_form_become_capitals_and_times_stay() {
        for (typed, meant) in [
            ("a a b a", "A A B A"),
            ("a x2 (b c)x 3", "A x2 (B C)x 3"),
            ("ax2", "Ax2"),
            ("x y x", "X Y X"),
            ("x x2", "X x2"),
            ("(a [1 b] [2 c])", "(A [1 B] [2 C])"),
            ("é x", "é X"),
        ] {
            assert_eq!(with_capitals(typed), meant);
        }
    }
}
