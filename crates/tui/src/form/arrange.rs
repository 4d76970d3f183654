//! The forms that arrange a section: where to split it, which bars to lift, how many bars it gets.
//!
//! In: the section, and the bar where the song stands in it. Out: a change of sections as data, and what
//! would come of it in words, while it is being filled in.

use super::{Field, Form, Line, Purpose, Value, text_field};
use crate::text;
use chaconne_engine::Arrange;
use chaconne_song::{Section, Song};
use std::fmt;
use std::sync::Arc;

/// What was asked for, of which song, and what would come of it.
#[derive(Clone, PartialEq, Eq)]
pub(super) struct Preview {
    song: Arc<Song>,
    asked: Option<Arrange>,
    said: String,
}

/// Without the song, which is in the state anyway.
impl fmt::Debug for Preview {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Preview({:?}: {:?})", self.asked, self.said)
    }
}

/// What would come of a change, or why it cannot be made.
fn outcome(asked: &Arrange, song: &Song) -> String {
    let mut after = song.clone();
    let said = match asked.commit(song) {
        Err(error) if error.is_no_change() => asked.outcome(song, song),
        Err(error) => error.to_string(),
        Ok(commit) => match commit.apply(&mut after) {
            Ok(_) => asked.outcome(song, &after),
            Err(error) => error.to_string(),
        },
    };
    text::sentence(&said)
}

/// What added bars play.
const ADDED: &[&str] = &["repeat", "empty"];

impl Form {
    /// At which bar to split a section; `here` is the bar where the song stands in it.
    pub fn split(section: &Arc<Section>, here: Option<u32>) -> Form {
        let bars = section.metre.bars();
        // From the first bar on there is nothing to split off.
        let at = here.filter(|bar| (2..=bars).contains(bar)).unwrap_or(bars / 2 + 1);
        let fields = vec![text_field("at bar", "the first of the new section", &at.to_string())];
        let title = format!("Split section {}: {}", section.letter, counted(bars));
        Form::arranging(Purpose::Split(section.letter), title, fields, section)
    }

    /// Which bars of a section to copy to a new one.
    pub fn lift(section: &Arc<Section>, here: Option<u32>) -> Form {
        let bars = section.metre.bars();
        let from = here.filter(|bar| (1..=bars).contains(bar)).unwrap_or(1);
        let fields = vec![
            text_field("from bar", "", &from.to_string()),
            text_field("to bar", "", &bars.to_string()),
        ];
        let title = format!("Lift bars of section {}: {}", section.letter, counted(bars));
        Form::arranging(Purpose::Lift(section.letter), title, fields, section)
    }

    /// How many bars a section is to have.
    pub fn length(section: &Arc<Section>) -> Form {
        let bars = section.metre.bars();
        let fields = vec![
            text_field("bars", "1 to 999", &bars.to_string()),
            Field { label: "new bars", hint: "", value: Value::Choice { words: ADDED, at: 0 } },
        ];
        let title = format!("Length of section {}: {}", section.letter, counted(bars));
        Form::arranging(Purpose::Length(section.letter), title, fields, section)
    }

    pub(super) fn arranging(
        purpose: Purpose,
        title: String,
        fields: Vec<Field>,
        section: &Arc<Section>,
    ) -> Form {
        Form { section: Some(Arc::clone(section)), ..Form::of(purpose, title, fields) }
    }

    /// What is asked for, or the field that is wrong and why.
    pub(super) fn arrange(&self) -> Result<Arrange, (usize, String)> {
        let gone = || (0, "There is no such section any more.".to_string());
        let section = self.section.as_ref().ok_or_else(gone)?;
        match self.purpose {
            Purpose::Split(of) => Ok(Arrange::Split(of, self.bar(0, section)?)),
            Purpose::Lift(of) => {
                let (from, to) = (self.bar(0, section)?, self.bar(1, section)?);
                if to < from {
                    let error = format!("The last bar comes before the first: use {from} or more.");
                    return Err((1, error));
                }
                Ok(Arrange::Lift { section: of, from, bars: to + 1 - from })
            }
            Purpose::Length(of) => {
                let (bars, repeat) = (self.bars_of(0)?, self.text(1) == ADDED[0]);
                Ok(Arrange::Bars { section: of, bars, repeat })
            }
            Purpose::Reshape(..) => self.reshape_asked(section),
            _ => self.tempo_asked(section),
        }
    }

    /// What would come of it, or why it cannot be done; empty while what is typed says nothing yet. `None` for
    /// other forms.
    pub fn preview(&self) -> Option<&str> {
        if let Some(said) = self.groove_preview() {
            return Some(said);
        }
        self.section.as_ref()?;
        Some(self.preview.as_ref().map_or("", |preview| &preview.said))
    }

    /// Finds out what would come of it for a song, unless neither has changed; says whether that is news.
    pub fn look_ahead(&mut self, song: &Arc<Song>) -> bool {
        if self.section.is_none() {
            return false;
        }
        let asked = self.arrange().ok();
        let same = |known: &Preview| known.asked == asked && Arc::ptr_eq(&known.song, song);
        if self.preview.as_deref().is_some_and(same) {
            return false;
        }
        let said = asked.as_ref().map_or(String::new(), |asked| outcome(asked, song));
        self.preview = Some(Box::new(Preview { song: Arc::clone(song), asked, said }));
        true
    }

    /// The number of a bar in a field.
    pub(super) fn bar(&self, field: usize, section: &Section) -> Result<u32, (usize, String)> {
        let (typed, bars) = (self.text(field), section.metre.bars());
        let bar = typed.trim().parse::<u32>().ok().filter(|bar| (1..=bars).contains(bar));
        bar.ok_or_else(|| {
            let typed = text::clip(typed.trim(), 20, '~');
            let error =
                format!("'{typed}' is no bar of section {}: use 1 to {bars}.", section.letter);
            (field, error)
        })
    }
}

fn counted(bars: u32) -> String {
    format!("{bars} {}", text::plural(bars as usize, "bar"))
}

impl Form {
    /// A field that may be left empty.
    pub(super) fn optional(label: &'static str, hint: &'static str) -> Field {
        Field { label, hint, value: Value::Text(Line::proposal("")) }
    }
}
