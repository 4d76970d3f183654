//! The bars, the metre and the tempo in a form.
//!
//! In: three fields. Out: values in range, or what is wrong and in which field.

use super::Form;
use crate::text;
use chaconne_time::{Metre, MetreMap, NoteKind, NoteValue, Tempo, TimeError};

/// The label of a tempo, which comes right below the metre in which it counts.
pub(super) const TEMPO: &str = "tempo";

/// A metre and a tempo, and how the tempo was written into its field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Known {
    pub metre: Metre,
    pub tempo: Tempo,
    pub written: String,
}

impl Form {
    /// The bars, the metre and the tempo, in three fields from `first` on.
    pub(super) fn time(&self, first: usize) -> Result<(u32, Metre, Tempo), (usize, String)> {
        let bars = self.bars_of(first)?;
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

    /// The bars and metres, and the tempo, in three fields from `first` on.
    pub(super) fn times(&self, first: usize) -> Result<(MetreMap, Tempo), (usize, String)> {
        let bars = self.bars_of(first)?;
        let map = self.metres(first + 1, bars)?;
        let typed = self.text(first + 2);
        let unit = map.first().tempo_unit();
        // A tempo that was left alone stays, whatever the metre counts now.
        let tempo = match self.known.as_ref().filter(|it| it.written == typed) {
            Some(known) => known.tempo,
            None => Tempo::parse_beats(&typed, unit)
                .map_err(|error| (first + 2, text::sentence(&error.to_string())))?,
        };
        Ok((map, tempo))
    }

    /// The metres in a field, over so many bars. With a pickup that is typed anew there is one bar more, and
    /// without it one less, so that the section stays as long as it is.
    pub(super) fn metres(&self, field: usize, bars: u32) -> Result<MetreMap, (usize, String)> {
        let typed = self.text(field);
        let wrong = |error: TimeError| (field, text::sentence(&error.to_string()));
        let Some(known) = &self.known_bars else {
            return MetreMap::new(bars, self.metre(field)?).map_err(wrong);
        };
        if typed.trim() == known.written() {
            return known.resized(bars).map_err(wrong);
        }
        known.retyped(bars, &typed).map_err(wrong)
    }

    /// How many bars, in a field.
    pub(super) fn bars_of(&self, field: usize) -> Result<u32, (usize, String)> {
        let typed = self.text(field);
        let bars = typed.trim().parse::<u32>().ok();
        bars.filter(|bars| (1..=MetreMap::MAX_BARS).contains(bars)).ok_or_else(|| {
            let typed = text::clip(typed.trim(), 20, '~');
            let error = format!("'{typed}' is not a bar count: use a whole number from 1 to 999.");
            (field, error)
        })
    }

    /// The metre in a field: the known one if it is written there, else one with the usual unit of tempo.
    pub(super) fn metre(&self, field: usize) -> Result<Metre, (usize, String)> {
        let metre: Metre = self
            .text(field)
            .parse()
            .map_err(|error: TimeError| (field, text::sentence(&error.to_string())))?;
        let known = self.known.as_ref().map(|known| &known.metre);
        let same = known.filter(|known| known.to_string() == metre.to_string());
        Ok(same.cloned().unwrap_or_else(|| metre.counted()))
    }
}

/// What a tempo counts.
pub(super) fn per_minute(unit: NoteValue) -> String {
    match (unit.division(), unit.kind()) {
        (4, NoteKind::Straight) => "BPM".to_string(),
        (4, NoteKind::Dotted) => "BPM, dotted quarters".to_string(),
        _ => format!("BPM, {unit} notes"),
    }
}
