//! The form that arranges layers: another length, another speed, or layers of the section's own.
//!
//! In: a layer, and the section in which it stands. Out: a change of it, or of all layers of its track there, as
//! data; what would come of it is said while the form is filled in.

use super::{Field, Form, Purpose, Value, text_field};
use chaconne_engine::{Arrange, Reshape};
use chaconne_song::{Part, Pass, Section, Song, Speed};
use std::sync::Arc;

/// What can be done, in words.
const CHANGES: &[&str] = &["length", "double", "halve", "half time", "double time", "own"];
/// The index of what is done.
const CHANGE: usize = 0;
/// The index of the number of bars.
const BARS: usize = 1;
/// The index of the choice of layers, if there is one.
const OF: usize = 2;
/// Which layers.
const WHICH: &[&str] = &["this layer", "all layers"];

impl Form {
    /// What to do to a layer; to all layers of its track, if `all` are to be proposed.
    pub fn reshape(song: &Song, section: &Arc<Section>, pass: &Pass, all: bool) -> Form {
        let stack: Vec<_> = song.layers_of(section, pass.track).collect();
        let number = stack.iter().position(|(_, other)| other.id == pass.id).unwrap_or(0) + 1;
        let name = song.track(pass.track).map_or("", |track| track.name.as_str());
        let bar = section.metre.first().bar();
        let bars = if pass.length.0 % bar.0 == 0 { pass.length.0 / bar.0 } else { 1 };
        let choice =
            |label, words, at| Field { label, hint: "", value: Value::Choice { words, at } };
        let mut fields =
            vec![choice("change", CHANGES, 0), text_field("bars", "", &bars.to_string())];
        if stack.len() > 1 {
            fields.push(choice("of", WHICH, usize::from(all)));
        }
        let title = match stack.len() {
            1 => format!("Arrange the layer of {name} in {}", section.letter),
            count => format!("Arrange layer {number} of {count} of {name} in {}", section.letter),
        };
        Form::arranging(Purpose::Reshape(pass.id, pass.track), title, fields, section)
    }

    /// A number of bars is typed for a length.
    pub(super) fn follow_bars(&mut self) {
        if matches!(self.purpose, Purpose::Reshape(..))
            && self.focus == BARS
            && let Some(Field { value: Value::Choice { at, .. }, .. }) = self.fields.get_mut(CHANGE)
        {
            *at = 0;
        }
    }

    /// What is written beside the number of bars.
    pub(super) fn bars_hint(&self) -> String {
        let is_length = self.text(CHANGE) == CHANGES[0];
        if is_length { "1 to 999" } else { "for length only" }.to_string()
    }

    pub(super) fn reshape_asked(&self, section: &Section) -> Result<Arrange, (usize, String)> {
        let Purpose::Reshape(pass, track) = self.purpose else {
            return Err((CHANGE, "This is no form for layers.".to_string()));
        };
        let all = self.fields.len() > OF && self.text(OF) == WHICH[1];
        let part = if all { Part::Track(track) } else { Part::Layer(pass) };
        let how = match CHANGES.iter().position(|change| *change == self.text(CHANGE)) {
            Some(1) => Reshape::Double,
            Some(2) => Reshape::Halve,
            Some(3) => Reshape::Speed(Speed::Half),
            Some(4) => Reshape::Speed(Speed::Double),
            Some(5) => Reshape::Own,
            _ => Reshape::Bars(self.bars_of(BARS)?),
        };
        Ok(Arrange::Layers(section.letter, part, how))
    }
}
