//! The forms of the view of the form: a section, and the form as text.
//!
//! In: the section or the form as it is. Out: what is wanted instead. On the screen letters may be
//! typed small; in a file they are capitals.

use super::keys::{KEY_LABEL, TRANSPOSE_HINT};
use super::time::{Known, TEMPO};
use super::{Form, Line, Purpose, Value, not_too_long, text_field};
use crate::chords::sounding;
use crate::text;
use chaconne_harmony::chart_text;
use chaconne_song::{Chord, KeySignature, Letter, Section, Song, Transpose, fermatas_text};
use chaconne_time::{MetreMap, Place, Tempo};

/// What a section is to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionSpec {
    /// The section to change; `None` for a new one.
    pub of: Option<Letter>,
    /// Its letter.
    pub letter: Letter,
    /// Its name; may be empty.
    pub name: String,
    /// Its bars and metres.
    pub metre: MetreMap,
    /// Its first tempo.
    pub tempo: Tempo,
    /// Its key; `None` for that of the song.
    pub key: Option<KeySignature>,
    /// By how much its pitched tracks are transposed, besides the song.
    pub transpose: Transpose,
    /// Where its fermatas stand, in order.
    pub fermatas: Vec<Place>,
}

impl SectionSpec {
    /// The indices of the fields that the rest of the song can speak against.
    pub const LETTER: usize = 0;
    /// Bars.
    pub const BARS: usize = 2;
    /// Metre.
    pub const METRE: usize = 3;
    /// Fermatas.
    pub const FERMATAS: usize = 7;
}

/// What can be written for the metre; there is room for no more.
const METRE_HINT: &str = "e.g. 6/8, or pickup 1/4, 4/4";

/// The index of the key.
const KEY: usize = 5;
/// The index of the transposition.
const TRANSPOSE: usize = 6;
/// The index of the name, which most people type first.
const NAME: usize = 1;

impl Form {
    /// A new section of `song`, with the time of the section `like`.
    pub fn new_section(song: &Song, like: &Section) -> Form {
        let letter = song.free_letter().unwrap_or(Letter::A);
        Form::of_section(song, Purpose::Section(None), "New section", letter, "", like)
    }

    /// What can be changed of a section at once.
    pub fn edit_section(song: &Song, section: &Section) -> Form {
        let purpose = Purpose::Section(Some(section.letter));
        Form::of_section(
            song,
            purpose,
            "Change the section",
            section.letter,
            &section.name,
            section,
        )
    }

    fn of_section(
        song: &Song,
        purpose: Purpose,
        title: &'static str,
        letter: Letter,
        name: &str,
        like: &Section,
    ) -> Form {
        let (known, tempo) = (like.metre.first().clone(), like.tempo.first());
        let written = tempo.in_beats(known.tempo_unit());
        let key = like.key.map(|key| key.to_string()).unwrap_or_default();
        let fermatas = match purpose {
            Purpose::Section(Some(_)) => fermatas_text(like),
            _ => String::new(),
        };
        let fields = vec![
            text_field("letter", "A to ZZZ", letter.as_str()),
            text_field("name", "e.g. Verse", name),
            text_field("bars", "1 to 999", &like.metre.bars().to_string()),
            text_field("metre", METRE_HINT, &like.metre.written()),
            text_field(TEMPO, "", &written),
            text_field(KEY_LABEL, "e.g. A minor; empty: the song's", &key),
            text_field("transpose", TRANSPOSE_HINT, &like.transpose.to_string()),
            text_field("fermatas", "bar.beat, e.g. 8.4 12.4", &fermatas),
        ];
        let mut form = Form::of(purpose, title, fields);
        (form.song_key, form.song_transpose) = (song.key, song.transpose);
        form.focus = NAME;
        form.known = Some(Box::new(Known { metre: known, tempo, written }));
        form.known_bars = Some(Box::new(like.metre.clone()));
        form
    }

    /// The places in a field, in order, each once.
    fn fermatas(&self, field: usize) -> Result<Vec<Place>, (usize, String)> {
        let typed = self.text(field);
        let each = typed.split([' ', ',']).filter(|word| !word.is_empty());
        let place = |word: &str| {
            // The tick is left out if it is 0.
            let full =
                if word.matches('.').count() == 1 { format!("{word}.0") } else { word.into() };
            full.parse::<Place>().map_err(|_| {
                let word = text::clip(word, 20, '~');
                (field, format!("'{word}' is not a place for a fermata: write bar.beat, e.g. 8.4."))
            })
        };
        let mut places = each.map(place).collect::<Result<Vec<Place>, _>>()?;
        places.sort_by_key(|place| (place.bar, place.beat, place.tick));
        places.dedup();
        Ok(places)
    }

    /// The song's form, to be typed.
    pub fn write_form(song: &Song) -> Form {
        let mut field = text_field("form", "e.g. A A B A, or A (B C) x2", "");
        field.value = Value::Text(Line::whole(&song.form.to_string()));
        Form::of(Purpose::SongForm, "The form: sections in their order", vec![field])
    }

    /// The chords of a section, to be typed.
    pub fn write_chords(song: &Song, section: &Section) -> Form {
        let chart = chart_text(&sounding(song, section), &section.metre);
        let mut field = text_field("chords", "e.g. C | Am7 | Dm7 G7 | C", "");
        field.value = Value::Text(Line::whole(&chart));
        let title = match section.metre.bars() {
            1 => format!("The chords of {}: 1 bar", section.letter),
            bars => format!("The chords of {}: {bars} bars", section.letter),
        };
        Form::of(Purpose::Chords(section.letter), &title, vec![field])
    }

    /// Puts other chords into the field.
    pub fn suggest_chords(&mut self, section: &Section, chords: &[Chord]) {
        self.fields[0].value = Value::Text(Line::whole(&chart_text(chords, &section.metre)));
        self.error = None;
    }

    pub(super) fn section(&self, of: Option<Letter>) -> Result<SectionSpec, (usize, String)> {
        let typed = self.text(0).trim().to_uppercase();
        let letter = typed.parse::<Letter>();
        let letter = letter.map_err(|error| (0, text::sentence(&error.to_string())))?;
        let name = self.text(NAME).trim().to_string();
        not_too_long(NAME, &name)?;
        let (metre, tempo) = self.times(SectionSpec::BARS)?;
        let key = self.key(KEY)?;
        let transpose = self.transposition(TRANSPOSE, key.or(self.song_key))?;
        let fermatas = self.fermatas(SectionSpec::FERMATAS)?;
        Ok(SectionSpec { of, letter, name, metre, tempo, key, transpose, fermatas })
    }
}
