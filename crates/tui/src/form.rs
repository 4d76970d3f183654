//! Small forms, in which fields are filled in; what each of them is for has a file of its own.
//!
//! In: keys and pasted text. Out: valid values, or one sentence that says what is wrong, with the
//! focus on that field.

mod about;
mod arrange;
mod chord_key;
mod export;
mod groove;
mod keys;
mod layer;
mod line;
mod new_song;
mod new_track;
mod reshape;
mod save;
mod sections;
mod tempo;
mod time;
mod track;

use crate::action::{Side, Vertical};
use crate::desk::{ExportSpec, Kits, NewSong};
use crate::input::{Code, Key};
use arrange::Preview;
use chaconne_engine::Arrange;
use chaconne_song::{
    ChordSymbol, GrooveId, KeySignature, Letter, PassId, Section, TrackId, Transpose, U7,
};
use chaconne_time::{MetreMap, NoteValue};
use groove::Grooves;
use new_song::START;
use new_track::SOUND;
use std::sync::Arc;
use time::{Known, TEMPO, per_minute};

pub use groove::{GrooveSpec, PlayedPart};
pub use layer::LayerSpec;
pub use line::Line;
pub use new_song::UNTITLED;
pub use sections::SectionSpec;
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
    /// The chords of a section.
    Chords(Letter),
    /// The bar at which a section is split.
    Split(Letter),
    /// The bars of a section that become a new one.
    Lift(Letter),
    /// How many bars a section is to have.
    Length(Letter),
    /// What to do to a layer, by its pass, or to all layers of its track.
    Reshape(PassId, TrackId),
    /// The tempo of a section or of the song.
    Tempo(Letter),
    /// An export.
    Export,
    /// A track of the song.
    Track(TrackId),
    /// The song as a whole.
    Song,
    /// A layer, by its pass.
    Layer(PassId),
    /// The chord that a key plays.
    ChordKey(U7),
    /// A groove that is taken from what was played.
    TakeGroove,
    /// The name of a groove.
    Groove(GrooveId),
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
    /// A change of sections or of tempo.
    Arrange(Arrange),
    /// The chords of a section, as they were typed.
    Chords(Letter, String),
    /// An export.
    Export(ExportSpec),
    /// A track.
    Track(TrackSpec),
    /// The song as a whole.
    Song(SongSpec),
    /// A layer.
    Layer(LayerSpec),
    /// The chord of a key; `None` for the one in the key.
    ChordKey(Option<ChordSymbol>),
    /// How to take a groove.
    Groove(GrooveSpec),
    /// The name of a groove.
    GrooveName(GrooveId, String),
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
    known: Option<Box<Known>>,
    /// The bars of the section that the form is about.
    known_bars: Option<Box<MetreMap>>,
    /// The key of the song, where a section may have its own.
    song_key: Option<KeySignature>,
    /// The transposition of the song, where a section may have its own besides.
    song_transpose: Transpose,
    /// The chord that a key plays without one of its own.
    in_key: Option<ChordSymbol>,
    /// The section that is arranged.
    section: Option<Arc<Section>>,
    /// What would come of that.
    preview: Option<Box<Preview>>,
    /// What the form of a groove knows.
    grooves: Option<Box<Grooves>>,
}

/// The longest name of a track, in characters.
const LONGEST_NAME: usize = 64;
impl Form {
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
            known_bars: None,
            song_key: None,
            song_transpose: Transpose::default(),
            in_key: None,
            section: None,
            preview: None,
            grooves: None,
        }
    }

    /// The words beside a field: the sound found for the typed text, or which values are valid.
    pub fn hint(&self, field: usize) -> String {
        let given = self.fields[field].hint.to_string();
        if self.purpose == Purpose::NewSong && field == START {
            return self.start().about().to_string();
        }
        if matches!(self.purpose, Purpose::Tempo(_)) && self.fields[field].label == TEMPO {
            return self.tempo_hint();
        }
        if let Some(hint) = self.chord_hint() {
            return hint;
        }
        if matches!(self.purpose, Purpose::Reshape(..)) && self.fields[field].label == "bars" {
            return self.bars_hint();
        }
        if let Some(hint) = self.key_hint(field) {
            return hint;
        }
        if self.fields[field].label == TEMPO {
            let metres = self.metres(field - 1, MetreMap::MAX_BARS);
            let unit = metres.map_or(NoteValue::QUARTER, |map| map.first().tempo_unit());
            let stays = self
                .known
                .as_ref()
                .filter(|it| it.written == self.text(field) && it.metre.tempo_unit() != unit);
            return match stays {
                Some(known) => {
                    let counts = per_minute(unit);
                    let counts = counts.trim_start_matches("BPM, ");
                    format!("= {} {counts}", known.tempo.in_beats(unit))
                }
                None => per_minute(unit),
            };
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

    /// Records that the user has changed the focused field.
    fn note_choice(&mut self) {
        self.follow_kind_of_track();
        self.chosen |= matches!(self.fields[self.focus].value, Value::Choice { .. });
        self.sound_given |= self.purpose == Purpose::NewTrack && self.focus == SOUND;
        self.follow_name();
        self.follow_kind();
        self.follow_start();
        self.follow_tempo();
        self.follow_bars();
        self.follow_groove();
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
            Purpose::Chords(of) => Ok(Filled::Chords(of, self.text(0))),
            Purpose::Split(_)
            | Purpose::Lift(_)
            | Purpose::Length(_)
            | Purpose::Reshape(..)
            | Purpose::Tempo(_) => self.arrange().map(Filled::Arrange),
            Purpose::Export => self.export_spec().map(Filled::Export),
            Purpose::Track(of) => self.track_spec(of).map(Filled::Track),
            Purpose::Song => self.song_spec().map(Filled::Song),
            Purpose::Layer(of) => self.layer_spec(of).map(Filled::Layer),
            Purpose::ChordKey(_) => self.chord().map(Filled::ChordKey),
            Purpose::TakeGroove => self.groove_spec().map(Filled::Groove),
            Purpose::Groove(of) => self.name_of_groove().map(|name| Filled::GrooveName(of, name)),
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

/// Refuses a name in a field that has too many characters.
fn not_too_long(field: usize, name: &str) -> Result<(), (usize, String)> {
    let error = || format!("The name is too long: use at most {LONGEST_NAME} characters.");
    if name.chars().count() > LONGEST_NAME { Err((field, error())) } else { Ok(()) }
}

fn text_field(label: &'static str, hint: &'static str, proposal: &str) -> Field {
    Field { label, hint, value: Value::Text(Line::proposal(proposal)) }
}

#[cfg(test)]
mod tests;
