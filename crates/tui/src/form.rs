//! Small forms: a new song, a new track, a file to save to; in `sections`, a section and the song's
//! form.
//!
//! In: keys and pasted text. Out: valid values, or one sentence that says what is wrong, with the
//! focus on that field.

mod about;
mod export;
mod layer;
mod line;
mod sections;
mod track;

use crate::action::{Side, Vertical};
use crate::desk::{ExportSpec, Kits, NewSong};
use crate::input::{Code, Key};
use crate::sounds::{self, Sounds};
use crate::start::Start;
use crate::text;
use chaconne_song::{Letter, PassId, Song, TrackId, U7};
use chaconne_time::{Metre, MetreMap, NoteKind, NoteValue, Tempo, TimeError};

pub use layer::LayerSpec;
pub use line::Line;
pub use sections::{SectionSpec, read_form};
pub use track::{SongSpec, TrackSpec};

/// What a form is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// A new song.
    NewSong,
    /// A new track.
    NewTrack,
    /// Where to save the song.
    SaveAs,
    /// A section of the song; `None` for a new one.
    Section(Option<Letter>),
    /// The song's form.
    SongForm,
    /// An export.
    Export,
    /// A track of the song.
    Track(TrackId),
    /// The song as a whole.
    Song,
    /// A layer, by its pass.
    Layer(PassId),
}

/// The values of an accepted form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Filled {
    /// A new song.
    NewSong(NewSong),
    /// A new track.
    NewTrack {
        /// Its name.
        name: String,
        /// Whether it is a drum track.
        drums: bool,
        /// Its program; `None` if it selects none.
        program: Option<U7>,
    },
    /// Where to save, as it was typed.
    SaveAs(String),
    /// A section.
    Section(SectionSpec),
    /// The song's form, as it was typed.
    SongForm(String),
    /// An export.
    Export(ExportSpec),
    /// A track.
    Track(TrackSpec),
    /// The song as a whole.
    Song(SongSpec),
    /// A layer.
    Layer(LayerSpec),
}

/// A field of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Its name on the screen.
    pub label: &'static str,
    /// A few words on which values are valid.
    pub hint: &'static str,
    /// Its value.
    pub value: Value,
}

/// The value of a field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// Text.
    Text(Line),
    /// One of several words.
    Choice {
        /// The words.
        words: &'static [&'static str],
        /// The index of the chosen word.
        at: usize,
    },
}

/// A form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Form {
    /// What it is for.
    pub purpose: Purpose,
    /// The heading.
    pub title: String,
    /// The fields.
    pub fields: Vec<Field>,
    /// The index of the field that gets the keys.
    pub focus: usize,
    /// What is wrong with a value, in one sentence.
    pub error: Option<String>,
    /// Whether it was accepted and stays open until the save has ended.
    pub is_waiting: bool,
    /// Whether the user has chosen the kind of track.
    chosen: bool,
    /// Whether the user has typed a sound.
    sound_given: bool,
    /// The drum kits to choose from.
    kits: Kits,
    /// The time of the section that it changes or copies.
    known: Option<Known>,
}

/// A metre and a tempo, and how the tempo was written into its field.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Known {
    metre: Metre,
    tempo: Tempo,
    written: String,
}

/// The label of a tempo, which comes right below the metre in which it counts.
const TEMPO: &str = "tempo";

/// Words in a track's name that make it a drum track.
const DRUM_WORDS: &[&str] =
    &["drum", "kit", "percussion", "hats", "hi-hat", "snare", "cymbal", "shaker", "clap"];

/// The index of the sound among the fields of a new track.
const SOUND: usize = 2;

/// The index of what a new song starts from, after bars, metre and tempo.
const START: usize = 4;
const KINDS: &[&str] = &["pitched", "drums"];
/// The longest name of a track, in characters.
const LONGEST_NAME: usize = 64;
/// The parts of a sketch, in the order in which they are often recorded.
const PARTS: [&str; 4] = ["drums", "bass", "chords", "line"];

impl Form {
    /// A new song, with common values to start from.
    pub fn new_song() -> Form {
        let fields = vec![
            text_field("title", "", UNTITLED),
            text_field("bars", "1 to 999", "4"),
            text_field("metre", "e.g. 4/4, 6/8, 7/8", "4/4"),
            text_field(TEMPO, "", "120"),
            Field { label: "start", hint: "", value: Value::Choice { words: Start::WORDS, at: 0 } },
        ];
        Form::of(Purpose::NewSong, "New song", fields)
    }

    /// A new track of `song`, named after the first part that is missing.
    pub fn new_track(song: &Song, kits: &Kits) -> Form {
        let part = PARTS.iter().find(|part| song.track_named(part).is_none());
        let name = part
            .map_or_else(|| format!("track {}", song.tracks.len() + 1), |part| (*part).to_string());
        let at = usize::from(name == "drums");
        let fields = vec![
            text_field("name", "", &name),
            Field {
                label: "kind",
                hint: "drums play on channel 10",
                value: Value::Choice { words: KINDS, at },
            },
            text_field("sound", "a General MIDI name, or 1 to 128", ""),
        ];
        let mut form = Form::of(Purpose::NewTrack, "New track", fields);
        form.kits = kits.clone();
        form.follow_name();
        form
    }

    /// Where to save a song of that title for the first time.
    pub fn save_as(title: &str) -> Form {
        let fields = vec![text_field("file", "", &format!("{}.ron", plain_stem(title)))];
        Form::of(Purpose::SaveAs, "Save the song", fields)
    }

    /// Where else to save a song that has this file.
    pub fn save_beside(path: &str) -> Form {
        let fields = vec![text_field("file", "", &next_name(path))];
        Form::of(Purpose::SaveAs, "Save the song as", fields)
    }

    fn of(purpose: Purpose, title: impl Into<String>, fields: Vec<Field>) -> Form {
        Form {
            purpose,
            title: title.into(),
            fields,
            focus: 0,
            error: None,
            is_waiting: false,
            chosen: false,
            sound_given: false,
            kits: Kits::Any,
            known: None,
        }
    }

    /// Sets the kind and the sound of a new track from its name, unless the user has chosen them.
    fn follow_name(&mut self) {
        if self.purpose != Purpose::NewTrack {
            return;
        }
        let name = self.text(0).to_lowercase();
        if let Value::Choice { at, .. } = &mut self.fields[1].value
            && !self.chosen
        {
            *at = usize::from(DRUM_WORDS.iter().any(|word| name.contains(word)));
        }
        if !self.sound_given {
            let drums = self.is_drums();
            let sound = sounds::name(sounds::proposal(&name, drums), drums, &self.kits);
            self.fields[SOUND].value = Value::Text(Line::proposal(&sound));
        }
    }

    /// The words beside a field: the sound found for the typed text, or which values are valid.
    pub fn hint(&self, field: usize) -> String {
        let given = self.fields[field].hint.to_string();
        if self.purpose == Purpose::NewSong && field == START {
            return self.start().about().to_string();
        }
        if self.fields[field].label == TEMPO {
            let metre = self.metre(field - 1).unwrap_or(Metre::common());
            return per_minute(metre.tempo_unit());
        }
        if self.purpose != Purpose::NewTrack || field != SOUND {
            return given;
        }
        let (typed, sounds) = (self.text(SOUND), self.sounds());
        let found = sounds.find(&typed);
        let number = |program: U7| program.get() + 1;
        match found {
            Err(_) => "no such sound".to_string(),
            Ok(None) if self.is_drums() => sounds.kit_numbers(),
            Ok(None) => given,
            Ok(Some(program)) => {
                let name = sounds.name(sounds.place(Some(program)));
                match name.eq_ignore_ascii_case(typed.trim()) {
                    true => format!("program {}", number(program)),
                    false => format!("{} {name}", number(program)),
                }
            }
        }
    }

    /// What a new song starts from.
    fn start(&self) -> Start {
        match self.fields.get(START).map(|field| &field.value) {
            Some(Value::Choice { at, .. }) => Start::ALL.get(*at).copied().unwrap_or_default(),
            _ => Start::Empty,
        }
    }

    /// Proposes the bars, the metre and the tempo of what a new song starts from, where nothing else
    /// was typed.
    fn follow_start(&mut self) {
        if self.purpose != Purpose::NewSong || self.focus != START {
            return;
        }
        for (field, value) in (1..START).zip(self.start().time()) {
            if let Value::Text(line) = &mut self.fields[field].value
                && line.is_proposal()
            {
                *line = Line::proposal(value);
            }
        }
    }

    /// The sounds that the track can have.
    fn sounds(&self) -> Sounds {
        Sounds::of(self.is_drums(), &self.kits)
    }

    fn is_drums(&self) -> bool {
        matches!(self.fields[1].value, Value::Choice { at: 1, .. })
    }

    /// Records that the user has changed the focused field.
    fn note_choice(&mut self) {
        self.follow_kind_of_track();
        self.chosen |= matches!(self.fields[self.focus].value, Value::Choice { .. });
        self.sound_given |= self.purpose == Purpose::NewTrack && self.focus == SOUND;
        self.follow_name();
        self.follow_kind();
        self.follow_start();
    }

    /// Moves the focus to the field below or above, wrapping around.
    pub fn step(&mut self, way: Vertical) {
        self.focus = way.around(self.focus, self.fields.len());
    }

    /// Selects the next or previous word of a choice, or moves the cursor in a text.
    pub fn adjust(&mut self, side: Side) {
        self.error = None;
        match (&mut self.fields[self.focus].value, side) {
            (Value::Text(line), Side::Left) => line.edit(Code::Left),
            (Value::Text(line), Side::Right) => line.edit(Code::Right),
            (Value::Choice { words, at }, Side::Left) => {
                *at = (*at + words.len() - 1) % words.len();
            }
            (Value::Choice { words, at }, Side::Right) => *at = (*at + 1) % words.len(),
        }
        self.note_choice();
    }

    /// Handles a key that types or moves the cursor in the focused field.
    pub fn type_key(&mut self, key: &Key) {
        self.error = None;
        match (&mut self.fields[self.focus].value, key.code) {
            (Value::Text(line), Code::Char(c)) if !key.ctrl && !key.alt => {
                line.insert(c.encode_utf8(&mut [0; 4]));
            }
            (Value::Text(line), code) => line.edit(code),
            (Value::Choice { words, at }, Code::Char(' ')) => *at = (*at + 1) % words.len(),
            (Value::Choice { words, at }, Code::Char(c)) => {
                *at = words.iter().position(|word| word.starts_with(c)).unwrap_or(*at);
            }
            (Value::Choice { .. }, _) => {}
        }
        self.note_choice();
    }

    /// Clears the focused field, if it holds text.
    pub fn clear(&mut self) {
        self.error = None;
        if let Value::Text(line) = &mut self.fields[self.focus].value {
            line.clear();
            self.note_choice();
        }
    }

    /// Inserts pasted text into the focused field, if it holds text.
    pub fn paste(&mut self, text: &str) {
        if let Value::Text(line) = &mut self.fields[self.focus].value {
            line.insert(text);
            self.note_choice();
        }
    }

    /// The values, if all are valid. If not, sets [`Form::error`] and focuses the wrong field.
    pub fn accept(&mut self) -> Option<Filled> {
        let filled = match self.purpose {
            Purpose::NewSong => self.song(),
            Purpose::NewTrack => self.track(),
            Purpose::SaveAs => self.filled(0, "The file needs a name.").map(Filled::SaveAs),
            Purpose::Section(of) => self.section(of).map(Filled::Section),
            Purpose::SongForm => Ok(Filled::SongForm(self.text(0))),
            Purpose::Export => self.export_spec().map(Filled::Export),
            Purpose::Track(of) => self.track_spec(of).map(Filled::Track),
            Purpose::Song => self.song_spec().map(Filled::Song),
            Purpose::Layer(of) => self.layer_spec(of).map(Filled::Layer),
        };
        match filled {
            Ok(filled) => Some(filled),
            Err((field, error)) => {
                self.refuse(field, error);
                None
            }
        }
    }

    /// Says what is wrong with a field, and focuses it.
    pub fn refuse(&mut self, field: usize, error: String) {
        self.focus = field;
        self.error = Some(error);
    }

    fn song(&self) -> Result<Filled, (usize, String)> {
        let title = self.filled(0, "The song needs a title.")?;
        let (bars, metre, tempo) = self.time(1)?;
        let start = self.start();
        Ok(Filled::NewSong(NewSong { title, tempo, metre, bars, start }))
    }

    /// The bars, the metre and the tempo, in three fields from `first` on.
    fn time(&self, first: usize) -> Result<(u32, Metre, Tempo), (usize, String)> {
        let typed = self.text(first);
        let bars = typed.trim().parse::<u32>().ok();
        let bars =
            bars.filter(|bars| (1..=MetreMap::MAX_BARS).contains(bars)).ok_or_else(|| {
                let typed = text::clip(typed.trim(), 20, '~');
                let error =
                    format!("'{typed}' is not a bar count: use a whole number from 1 to 999.");
                (first, error)
            })?;
        let metre = self.metre(first + 1)?;
        let typed = self.text(first + 2);
        let known = self.known.as_ref().filter(|it| it.written == typed && it.metre == metre);
        let tempo = match known {
            // As it was, with more decimals than can be shown.
            Some(known) => known.tempo,
            None => Tempo::parse_beats(&typed, metre.tempo_unit())
                .map_err(|error| (first + 2, text::sentence(&error.to_string())))?,
        };
        Ok((bars, metre, tempo))
    }

    /// The metre in a field: the known one if it is written there, else one with the usual unit of tempo.
    fn metre(&self, field: usize) -> Result<Metre, (usize, String)> {
        let metre: Metre = self
            .text(field)
            .parse()
            .map_err(|error: TimeError| (field, text::sentence(&error.to_string())))?;
        let known = self.known.as_ref().map(|known| &known.metre);
        let same = known.filter(|known| known.to_string() == metre.to_string());
        Ok(same.cloned().unwrap_or_else(|| metre.counted()))
    }

    fn track(&self) -> Result<Filled, (usize, String)> {
        let name = self.filled(0, "The track needs a name.")?;
        not_too_long(0, &name)?;
        let drums = self.is_drums();
        let found = self.sounds().find(&self.text(SOUND));
        let program = found.map_err(|error| (SOUND, error))?;
        Ok(Filled::NewTrack { name, drums, program })
    }

    fn filled(&self, field: usize, missing: &str) -> Result<String, (usize, String)> {
        let text = self.text(field).trim().to_string();
        if text.is_empty() { Err((field, missing.to_string())) } else { Ok(text) }
    }

    fn text(&self, field: usize) -> String {
        match &self.fields[field].value {
            Value::Text(line) => line.text(),
            Value::Choice { words, at } => words[*at].to_string(),
        }
    }
}

/// The title of a song that was given none.
pub const UNTITLED: &str = "untitled";

/// A title as the name of a file, without an ending.
fn plain_stem(title: &str) -> String {
    let plain: String = title
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect::<String>()
        .to_lowercase();
    let stem = plain.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-");
    if stem.is_empty() { UNTITLED.to_string() } else { stem }
}

/// Refuses a name in a field that has too many characters.
fn not_too_long(field: usize, name: &str) -> Result<(), (usize, String)> {
    let error = || format!("The name is too long: use at most {LONGEST_NAME} characters.");
    if name.chars().count() > LONGEST_NAME { Err((field, error())) } else { Ok(()) }
}

/// What a tempo counts.
fn per_minute(unit: NoteValue) -> String {
    match (unit.division(), unit.kind()) {
        (4, NoteKind::Straight) => "quarter notes per minute".to_string(),
        (4, NoteKind::Dotted) => "dotted quarters per minute".to_string(),
        _ => format!("{unit} notes per minute"),
    }
}

/// The next name in a series: `tide.ron`, `tide-2.ron`, `tide-3.ron`.
fn next_name(path: &str) -> String {
    let (stem, ending) = path.strip_suffix(".ron").map_or((path, ""), |stem| (stem, ".ron"));
    let numbered = stem.rsplit_once('-').and_then(|(stem, number)| {
        let number: u32 = number.parse().ok()?;
        Some((stem, number.checked_add(1)?))
    });
    let (stem, number) = numbered.unwrap_or((stem, 2));
    format!("{stem}-{number}{ending}")
}

fn text_field(label: &'static str, hint: &'static str, proposal: &str) -> Field {
    Field { label, hint, value: Value::Text(Line::proposal(proposal)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::{Letter, Section, Track, TrackId};
    use std::sync::Arc;

    fn type_text(form: &mut Form, text: &str) {
        text.chars().for_each(|c| form.type_key(&Key::char(c)));
    }

    fn song() -> Song {
        let metre = MetreMap::new(4, Metre::common()).unwrap();
        Song::new("x", Section::new(Letter::A, metre, Tempo::DEFAULT))
    }

    #[test]
    fn a_new_song_is_four_bars_at_120_by_default() {
        let Some(Filled::NewSong(spec)) = Form::new_song().accept() else { panic!() };
        assert_eq!((spec.title.as_str(), spec.bars), ("untitled", 4));
        assert_eq!((spec.metre.to_string(), spec.tempo.to_string()), ("4/4".into(), "120".into()));
    }

    #[test]
    fn what_a_song_starts_from_proposes_its_time_unless_another_was_typed() {
        let mut form = Form::new_song();
        form.focus = 3;
        type_text(&mut form, "76");
        form.focus = START;
        type_text(&mut form, "p");
        assert_eq!(form.hint(START), "piano in 6/8");
        let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
        assert_eq!(
            (spec.start, spec.bars, spec.metre.to_string().as_str()),
            (Start::Piano, 8, "6/8")
        );
        // 76 dotted quarters are 114 quarters.
        assert_eq!(spec.tempo.to_string(), "114");
        assert_eq!(spec.song().unwrap().tracks.len(), 1);
        form.adjust(Side::Left);
        let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
        assert_eq!((spec.start, spec.bars), (Start::Rhythm, 4));
    }

    #[test]
    fn a_tempo_counts_what_the_metre_counts() {
        let mut form = Form::new_song();
        assert_eq!(form.hint(3), "quarter notes per minute");
        form.focus = 2;
        type_text(&mut form, "6/8");
        assert_eq!(form.hint(3), "dotted quarters per minute");
        form.step(Vertical::Down);
        type_text(&mut form, "80");
        let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
        // 80 dotted quarters are 120 quarters.
        assert_eq!(spec.tempo.to_string(), "120");
        // A section that counts eighths keeps its unit and its exact tempo.
        let eighth = NoteValue::new(8, NoteKind::Straight).unwrap();
        let metre = "6/8".parse::<Metre>().unwrap().with_tempo_unit(eighth);
        let tempo = Tempo::from_micros(700_001).unwrap();
        let section = Section::new(Letter::A, MetreMap::new(2, metre.clone()).unwrap(), tempo);
        let mut form = Form::edit_section(&section);
        assert_eq!((form.text(4), form.hint(4)), ("171.428".into(), "1/8 notes per minute".into()));
        let Some(Filled::Section(spec)) = form.accept() else { panic!() };
        assert_eq!((spec.metre, spec.tempo), (metre, tempo));
    }

    #[test]
    fn typing_replaces_a_proposal_and_editing_keeps_it() {
        let mut form = Form::new_song();
        type_text(&mut form, "Tide");
        form.step(Vertical::Down);
        form.type_key(&Key::new(Code::End));
        type_text(&mut form, "0");
        let Some(Filled::NewSong(spec)) = form.accept() else { panic!() };
        assert_eq!((spec.title.as_str(), spec.bars), ("Tide", 40));
    }

    #[test]
    fn a_field_is_cleared_as_a_whole() {
        let mut form = Form::new_track(&song(), &Kits::Any);
        form.adjust(Side::Left);
        form.clear();
        type_text(&mut form, "Horn");
        form.type_key(&Key::new(Code::Home));
        type_text(&mut form, "French ");
        assert_eq!(form.text(0), "French Horn");
        form.clear();
        assert_eq!(form.accept(), None);
        assert_eq!(form.error.as_deref(), Some("The track needs a name."));
        // The kind of track cannot be cleared, and still follows the name.
        form.step(Vertical::Down);
        form.clear();
        form.step(Vertical::Up);
        type_text(&mut form, "Drum");
        assert_eq!(
            form.accept(),
            Some(Filled::NewTrack { name: "Drum".into(), drums: true, program: U7::new(0) })
        );
    }

    #[test]
    fn an_error_is_explained_and_its_field_gets_the_focus() {
        let cases = [
            (1, "0", "'0' is not a bar count: use a whole number from 1 to 999."),
            (
                2,
                "4/3",
                "'4/3' is not a metre: write it as 4/4, with 1 to 64 beats over 1, 2, 4, 8, 16 or 32.",
            ),
            (3, "9", "Tempo 9 is outside 10 to 1000 quarter notes per minute."),
            (0, " ", "The song needs a title."),
        ];
        for (field, text, error) in cases {
            let mut form = Form { focus: field, ..Form::new_song() };
            type_text(&mut form, text);
            form.step(Vertical::Down);
            assert_eq!(form.accept(), None);
            assert_eq!((form.focus, form.error.as_deref()), (field, Some(error)));
            form.type_key(&Key::new(Code::Home));
            assert_eq!(form.error, None);
        }
    }

    #[test]
    fn a_new_track_is_named_after_the_first_missing_part() {
        let mut song = song();
        let drums = Filled::NewTrack { name: "drums".into(), drums: true, program: U7::new(0) };
        assert_eq!(Form::new_track(&song, &Kits::Any).accept(), Some(drums));
        song.tracks.push(Arc::new(Track::drums(TrackId(1), "drums")));
        let mut form = Form::new_track(&song, &Kits::Any);
        form.step(Vertical::Down);
        form.adjust(Side::Right);
        let bass = Filled::NewTrack { name: "bass".into(), drums: true, program: U7::new(0) };
        assert_eq!(form.accept(), Some(bass));
        form.type_key(&Key::char('p'));
        assert!(matches!(form.accept(), Some(Filled::NewTrack { drums: false, .. })));
    }

    #[test]
    fn the_kind_of_a_new_track_follows_its_name_until_it_is_chosen() {
        let mut form = Form::new_track(&song(), &Kits::Any);
        type_text(&mut form, "Bass");
        let bass = |drums| {
            let program = U7::new(if drums { 0 } else { 33 });
            Some(Filled::NewTrack { name: "Bass".into(), drums, program })
        };
        assert_eq!(form.accept(), bass(false));
        form.step(Vertical::Down);
        form.adjust(Side::Right);
        form.step(Vertical::Up);
        assert_eq!(form.accept(), bass(true));
        type_text(&mut form, "es");
        assert!(matches!(form.accept(), Some(Filled::NewTrack { drums: true, .. })));
    }

    /// The program that the form gives, from 1.
    fn program(form: &mut Form) -> Option<u8> {
        match form.accept() {
            Some(Filled::NewTrack { program, .. }) => program.map(|program| program.get() + 1),
            other => panic!("{other:?}: {:?}", form.error),
        }
    }

    #[test]
    fn the_sound_of_a_new_track_follows_its_name_until_it_is_given() {
        let mut form = Form::new_track(&song(), &Kits::Any);
        for (name, number, sound, hint) in [
            ("drums", Some(1), "Drum kit", "program 1"),
            ("BASS", Some(34), "Electric Bass (finger)", "program 34"),
            ("strings", Some(49), "String Ensemble 1", "program 49"),
            ("track 5", None, "none", "a General MIDI name, or 1 to 128"),
        ] {
            form.clear();
            type_text(&mut form, name);
            assert_eq!((form.text(SOUND).as_str(), form.hint(SOUND).as_str()), (sound, hint));
            assert_eq!(program(&mut form), number, "{name}");
        }
        form.step(Vertical::Up);
        type_text(&mut form, "cel");
        assert_eq!(form.hint(SOUND), "9 Celesta");
        type_text(&mut form, "lo");
        assert_eq!(form.hint(SOUND), "program 43");
        form.step(Vertical::Down);
        form.clear();
        type_text(&mut form, "bass");
        assert_eq!(program(&mut form), Some(43));
        form.step(Vertical::Up);
        form.clear();
        assert_eq!(program(&mut form), None);
    }

    #[test]
    fn a_form_refuses_an_unknown_sound() {
        let mut form = Form::new_track(&song(), &Kits::Any);
        form.clear();
        type_text(&mut form, "bass");
        form.step(Vertical::Up);
        form.paste("theremin");
        form.step(Vertical::Up);
        assert_eq!(form.hint(SOUND), "no such sound");
        assert_eq!(form.accept(), None);
        let said = "'theremin' is not a sound: type a name, 1 to 128, or none.";
        assert_eq!((form.focus, form.error.as_deref()), (SOUND, Some(said)));
        form.clear();
        form.paste("128");
        assert_eq!(program(&mut form), Some(128));
    }

    #[test]
    fn a_name_that_is_too_long_is_refused() {
        let mut form = Form::new_track(&song(), &Kits::Any);
        form.paste(&"n".repeat(65));
        assert_eq!(form.accept(), None);
        assert_eq!(form.error.as_deref(), Some("The name is too long: use at most 64 characters."));
        form.type_key(&Key::new(Code::Backspace));
        assert!(form.accept().is_some());
    }

    #[test]
    fn a_file_name_comes_from_the_title() {
        for (title, file) in
            [("Low Tide!", "low-tide.ron"), ("../..", "untitled.ron"), ("潮", "潮.ron")]
        {
            assert_eq!(Form::save_as(title).accept(), Some(Filled::SaveAs(file.into())));
        }
    }

    #[test]
    fn saving_to_another_file_proposes_the_next_name_in_a_series() {
        for (path, next) in [
            ("tide.ron", "tide-2.ron"),
            ("sketches/tide-2.ron", "sketches/tide-3.ron"),
            ("take-the-9.ron", "take-the-10.ron"),
            ("tide-4294967295.ron", "tide-4294967295-2.ron"),
            ("tide.txt", "tide.txt-2"),
        ] {
            let typed = match &Form::save_beside(path).fields[0].value {
                Value::Text(line) => line.text(),
                Value::Choice { .. } => panic!("a name is typed"),
            };
            assert_eq!(typed, next);
        }
    }

    #[test]
    fn a_proposal_is_deleted_as_a_whole_unless_the_cursor_moved_in_it() {
        for (moved, deleted, left) in [
            (None, Code::Backspace, ""),
            (None, Code::Delete, ""),
            (Some(Code::Left), Code::Delete, "untitle"),
            (Some(Code::End), Code::Backspace, "untitle"),
            (Some(Code::Home), Code::Delete, "ntitled"),
        ] {
            let mut form = Form::new_song();
            for code in moved.into_iter().chain([deleted]) {
                form.type_key(&Key::new(code));
            }
            assert_eq!(form.text(0), left, "{moved:?} {deleted:?}");
        }
    }

    #[test]
    fn lines_are_bounded_and_edited_in_the_middle() {
        let mut form = Form::save_as("x");
        form.paste(&"y".repeat(5000));
        assert_eq!(form.text(0).len(), Line::LONGEST);
        let mut form = Form::save_as("x");
        form.paste("ab");
        form.adjust(Side::Left);
        type_text(&mut form, "漢");
        let Value::Text(line) = &form.fields[0].value else { panic!() };
        assert_eq!((line.text().as_str(), line.column()), ("a漢b", 3));
        form.type_key(&Key::new(Code::Delete));
        form.type_key(&Key::new(Code::Backspace));
        form.type_key(&Key::new(Code::Backspace));
        form.type_key(&Key::new(Code::Backspace));
        assert_eq!(form.text(0), "");
    }
}
