//! The forms of the view of the form: a section, and the form as text.
//!
//! In: the section or the form as it is. Out: what is wanted instead. On the screen letters may be
//! typed small; in a file they are capitals.

use super::{Form, LONGEST_NAME, Line, Purpose, Value, text_field};
use crate::text;
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Metre, Tempo};

/// What a section is to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionSpec {
    /// The section to change; `None` for a new one.
    pub of: Option<Letter>,
    /// Its letter.
    pub letter: Letter,
    /// Its name; may be empty.
    pub name: String,
    /// How many bars it has, 1..=999.
    pub bars: u32,
    /// The metre of its first bar.
    pub metre: Metre,
    /// Its first tempo.
    pub tempo: Tempo,
}

impl SectionSpec {
    /// The indices of the fields that the rest of the song can speak against.
    pub const LETTER: usize = 0;
    /// Bars.
    pub const BARS: usize = 2;
    /// Metre.
    pub const METRE: usize = 3;
}

/// The index of the name, which most people type first.
const NAME: usize = 1;

impl Form {
    /// A new section of `song`, with the time of the section `like`.
    pub fn new_section(song: &Song, like: &Section) -> Form {
        let letter = song.free_letter().unwrap_or(Letter::A);
        Form::of_section(Purpose::Section(None), "New section", letter, "", like)
    }

    /// What can be changed of a section at once.
    pub fn edit_section(section: &Section) -> Form {
        let purpose = Purpose::Section(Some(section.letter));
        Form::of_section(purpose, "Change the section", section.letter, &section.name, section)
    }

    fn of_section(
        purpose: Purpose,
        title: &'static str,
        letter: Letter,
        name: &str,
        like: &Section,
    ) -> Form {
        let first = like.metre.changes().len() > 1;
        let fields = vec![
            text_field("letter", "A to ZZZ", letter.as_str()),
            text_field("name", "e.g. Verse", name),
            text_field("bars", "1 to 999", &like.metre.bars().to_string()),
            text_field(
                "metre",
                if first { "of the first bar" } else { "e.g. 4/4, 6/8, 7/8" },
                &like.metre.first().to_string(),
            ),
            text_field("tempo", "quarter notes per minute", &like.tempo.first().to_string()),
        ];
        let mut form = Form::of(purpose, title, fields);
        form.focus = NAME;
        form
    }

    /// The song's form, to be typed.
    pub fn write_form(song: &Song) -> Form {
        let mut field = text_field("form", "e.g. A A B A, or A (B C) x2", "");
        field.value = Value::Text(Line::whole(&song.form.to_string()));
        Form::of(Purpose::SongForm, "The form: sections in their order", vec![field])
    }

    pub(super) fn section(&self, of: Option<Letter>) -> Result<SectionSpec, (usize, String)> {
        let typed = self.text(0).trim().to_uppercase();
        let letter = typed.parse::<Letter>();
        let letter = letter.map_err(|error| (0, text::sentence(&error.to_string())))?;
        let name = self.text(NAME).trim().to_string();
        if name.chars().count() > LONGEST_NAME {
            let error = format!("The name is too long: use at most {LONGEST_NAME} characters.");
            return Err((NAME, error));
        }
        let (bars, metre, tempo) = self.time(SectionSpec::BARS)?;
        Ok(SectionSpec { of, letter, name, bars, metre, tempo })
    }

    pub(super) fn song_form(&self) -> Result<chaconne_song::Form, (usize, String)> {
        let form = with_capitals(&self.text(0)).parse::<chaconne_song::Form>();
        form.map_err(|error| (0, text::sentence(&error.to_string())))
    }
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
