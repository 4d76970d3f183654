//! The forms of a groove: how to take one, and its name.
//!
//! In: the passes that it is taken from. Out: what it is called, its grid and its bars; and, while that is filled
//! in, what would be taken.

use super::{Form, Purpose, not_too_long, text_field};
use crate::groove_curve::extent_words;
use crate::numbers::{short_value, value_of};
use crate::text;
use chaconne_engine::{HowToTake, take_groove};
use chaconne_song::{Groove, GrooveId, Section, SharedPass, Song};
use chaconne_time::NoteValue;
use std::fmt;
use std::sync::Arc;

/// What a groove is taken from.
#[derive(Clone, PartialEq, Eq)]
pub struct PlayedPart {
    /// The passes of one track.
    pub passes: Vec<SharedPass>,
    /// The section that they lie in.
    pub section: Arc<Section>,
    /// What the part is called.
    pub name: String,
    /// The grid that it is played on.
    pub grid: NoteValue,
}

/// Without the notes, which are in the song anyway.
impl fmt::Debug for PlayedPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PlayedPart({} passes of {})", self.passes.len(), self.name)
    }
}

impl PlayedPart {
    /// The usual way to take its groove: a bar of it, on its own grid.
    pub fn usual(&self) -> HowToTake {
        HowToTake { id: GrooveId(0), name: self.name.clone(), grid: self.grid, bars: 1 }
    }

    fn take(&self, how: HowToTake) -> Option<Groove> {
        take_groove(self.passes.iter().map(|pass| &**pass), how, &self.section.metre)
    }
}

/// How to take a groove, and from what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GrooveSpec {
    /// What it is taken from.
    pub part: PlayedPart,
    /// What it is called.
    pub name: String,
    /// The distance of its steps.
    pub grid: NoteValue,
    /// After how many bars it repeats.
    pub bars: u32,
}

/// What the forms of grooves know besides their fields.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Grooves {
    /// What one is taken from; `None` if one is renamed.
    part: Option<PlayedPart>,
    /// The names that others have.
    names: Vec<String>,
    /// What would be taken, in words.
    said: String,
}

const NAME: usize = 0;
const GRID: usize = 1;
const BARS: usize = 2;

impl Form {
    /// How to take the groove of a part.
    pub fn take_groove(part: PlayedPart, song: &Song) -> Form {
        let names: Vec<String> = names(song, None);
        let title = format!("Take the groove of {}", part.name);
        let fields = vec![
            text_field("name", "", &free_name(&part.name, &names)),
            text_field("grid", "e.g. 1/8, 1/8t, 1/16", &short_value(part.grid)),
            text_field("bars", "1 to 16", "1"),
        ];
        let grooves = Grooves { part: Some(part), names, said: String::new() };
        let mut form = Form::of(Purpose::TakeGroove, title, fields);
        form.grooves = Some(Box::new(grooves));
        form.follow_groove();
        form
    }

    /// The name of a groove.
    pub fn name_groove(groove: &Groove, song: &Song) -> Form {
        let fields = vec![text_field("name", "", &groove.name)];
        let mut form = Form::of(Purpose::Groove(groove.id), "Rename the groove", fields);
        let names = names(song, Some(groove.id));
        form.grooves = Some(Box::new(Grooves { part: None, names, said: String::new() }));
        form
    }

    /// Finds out what would be taken.
    pub(super) fn follow_groove(&mut self) {
        let Some(part) = self.grooves.as_ref().and_then(|grooves| grooves.part.as_ref()) else {
            return;
        };
        let how = self.grid_of_groove().and_then(|grid| Ok((grid, self.bars_of_groove()?)));
        let said = how.ok().map(|(grid, bars)| {
            let taken = part.take(HowToTake { grid, bars, ..part.usual() });
            taken.map_or(String::new(), |groove| extent_words(&groove, &part.section))
        });
        let said = said.map(|said| text::sentence(&said)).unwrap_or_default();
        if let Some(grooves) = &mut self.grooves {
            grooves.said = said;
        }
    }

    /// What would be taken, in words; `None` in other forms.
    pub(super) fn groove_preview(&self) -> Option<&str> {
        let grooves = self.grooves.as_deref()?;
        grooves.part.as_ref().map(|_| grooves.said.as_str())
    }

    pub(super) fn groove_spec(&self) -> Result<GrooveSpec, (usize, String)> {
        let part = self.grooves.as_ref().and_then(|grooves| grooves.part.clone());
        let part = part.ok_or_else(|| (NAME, "There is nothing to take it from.".to_string()))?;
        let (name, grid) = (self.name_of_groove()?, self.grid_of_groove()?);
        Ok(GrooveSpec { part, name, grid, bars: self.bars_of_groove()? })
    }

    pub(super) fn name_of_groove(&self) -> Result<String, (usize, String)> {
        let name = self.filled(NAME, "The groove needs a name.")?;
        not_too_long(NAME, &name)?;
        let taken = self.grooves.as_ref().is_some_and(|grooves| grooves.names.contains(&name));
        let error = || format!("There is a groove {name} already: use another name.");
        if taken { Err((NAME, error())) } else { Ok(name) }
    }

    fn grid_of_groove(&self) -> Result<NoteValue, (usize, String)> {
        let typed = self.text(GRID);
        let typed = typed.trim();
        let value = value_of(typed).or_else(|| typed.parse().ok());
        value.ok_or_else(|| {
            let typed = text::clip(typed, 20, '~');
            (GRID, format!("'{typed}' is not a grid: use e.g. 1/8, 1/8t for triplets, or 1/16."))
        })
    }

    fn bars_of_groove(&self) -> Result<u32, (usize, String)> {
        let typed = self.text(BARS);
        let bars = typed.trim().parse::<u32>().ok();
        bars.filter(|bars| (1..=Groove::MAX_BARS).contains(bars)).ok_or_else(|| {
            let typed = text::clip(typed.trim(), 20, '~');
            (BARS, format!("'{typed}' is not a bar count: use 1 to {}.", Groove::MAX_BARS))
        })
    }
}

/// The names of the grooves of a song but one.
fn names(song: &Song, but: Option<GrooveId>) -> Vec<String> {
    let others = song.grooves.iter().filter(|groove| Some(groove.id) != but);
    others.map(|groove| groove.name.clone()).collect()
}

/// A name that no groove has yet: the given one, or with the first number that is free.
fn free_name(name: &str, taken: &[String]) -> String {
    let numbered = (2..).map(|number| format!("{name} {number}"));
    let mut names = std::iter::once(name.to_string()).chain(numbered);
    names.find(|name| !taken.contains(name)).unwrap_or_default()
}
