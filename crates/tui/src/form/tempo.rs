//! The form for the tempo of a section or of the song, in which one field takes it in every way: 96, 95 %,
//! 3:20, 104 to 92 over 2 bars.

use super::time::{Known, TEMPO, per_minute};
use super::{Field, Form, Purpose, Value, text_field};
use crate::text;
use chaconne_engine::Arrange;
use chaconne_song::{Section, Song};
use chaconne_time::{NoteValue, Ns};
use std::sync::Arc;

/// Whose tempo it is.
const WHOSE: &[&str] = &["section", "song"];
/// The index of the tempo.
const WANTED: usize = 0;
/// The index of the bar at which it begins.
const FROM: usize = 1;
/// The index of the choice of whose it is, if there is one.
const OF: usize = 2;
/// The longest duration, in milliseconds: a day.
const LONGEST: u64 = 86_400_000;

impl Form {
    /// The tempo of a section or of the song. A song that is one section once has no choice.
    pub fn tempo(song: &Song, section: &Arc<Section>) -> Form {
        let (metre, tempo) = (section.metre.first().clone(), section.tempo.first());
        let written = tempo.in_beats(metre.tempo_unit());
        let mut fields = vec![
            text_field(TEMPO, "", &written),
            Form::optional("from bar", "empty: all, or a ramp at the end"),
        ];
        if song.sections.len() > 1 || !song.form.is_empty() {
            fields.push(Field {
                label: "of",
                hint: "",
                value: Value::Choice { words: WHOSE, at: 0 },
            });
        }
        let or_song = if fields.len() > OF { " or of the song" } else { "" };
        let title = format!("Tempo of section {}{or_song}", section.letter);
        let mut form = Form::arranging(Purpose::Tempo(section.letter), title, fields, section);
        form.known = Some(Box::new(Known { metre, tempo, written }));
        form
    }

    /// A duration is that of the song until the user says otherwise, and all else is about the section.
    pub(super) fn follow_tempo(&mut self) {
        if !matches!(self.purpose, Purpose::Tempo(_)) || self.chosen {
            return;
        }
        let whole = usize::from(self.text(WANTED).contains(':'));
        if let Some(Field { value: Value::Choice { at, .. }, .. }) = self.fields.get_mut(OF) {
            *at = whole;
        }
    }

    /// What is written beside the tempo.
    pub(super) fn tempo_hint(&self) -> String {
        match self.known.as_ref().map(|known| known.metre.tempo_unit()) {
            // What it counts is news only if it is not quarters.
            Some(unit) if unit != NoteValue::QUARTER => per_minute(unit),
            _ => "e.g. 95 %, 3:20, to 92 in 2 bars".to_string(),
        }
    }

    pub(super) fn tempo_asked(&self, section: &Section) -> Result<Arrange, (usize, String)> {
        let here = section.letter;
        let is_song = self.fields.len() > OF && self.text(OF) == WHOSE[1];
        let of = (!is_song).then_some(here);
        let from = match self.text(FROM).trim() {
            "" => None,
            _ => Some(self.bar(FROM, section)?),
        };
        let typed = self.text(WANTED).trim().to_lowercase();
        let wrong = || {
            let shown = text::clip(&typed, 20, '~');
            let error = format!(
                "'{shown}' is not a tempo: use e.g. 96, 95 %, 3:20, or 104 to 92 over 2 bars."
            );
            (WANTED, error)
        };
        let for_all = |what: &str| {
            let error = format!("{what} is for all bars: leave the bar empty.");
            if from.is_some() { Err((FROM, error)) } else { Ok(()) }
        };
        let for_one = |what: &str| {
            let error = format!("{what} belongs to a section: choose section.");
            if is_song { Err((OF, error)) } else { Ok(()) }
        };
        if matches!(typed.as_str(), "no ramp" | "none") {
            for_one("A ramp")?;
            let bar = from.or_else(|| first_ramp(section)).unwrap_or(1);
            return Ok(Arrange::NoRamp(here, bar));
        }
        if let Some((start, rest)) = ramp(&typed) {
            for_one("A ramp")?;
            let (from_tempo, to, bars) = read_ramp(start, rest).ok_or_else(wrong)?;
            let bars = ramp_bars(section, from, bars).map_err(|error| (WANTED, error))?;
            return Ok(Arrange::Ramp { section: here, bars, from: from_tempo, to });
        }
        if typed.contains(':') {
            for_all("A duration")?;
            return Ok(Arrange::Fit(of, duration(&typed).ok_or_else(wrong)?));
        }
        if let Some(percent) = typed.strip_suffix('%') {
            for_all("A percentage")?;
            return Ok(Arrange::Percent(of, percentage(percent.trim()).ok_or_else(wrong)?));
        }
        let milli = thousandths(typed.trim_end_matches("bpm").trim()).ok_or_else(wrong)?;
        match from {
            None => Ok(Arrange::Tempo(of, milli)),
            Some(bar) => {
                for_one("A tempo from a bar on")?;
                Ok(Arrange::TempoAt(here, bar, milli))
            }
        }
    }
}

/// The parts of a ramp before and after its `to`.
fn ramp(typed: &str) -> Option<(&str, &str)> {
    typed.strip_prefix("to ").map(|rest| ("", rest)).or_else(|| typed.split_once(" to "))
}

/// A ramp: the tempo at which it begins, if it is given; the one it reaches; over how many bars.
fn read_ramp(start: &str, rest: &str) -> Option<(Option<u64>, u64, u32)> {
    let from = match start.trim() {
        "" => None,
        tempo => Some(thousandths(tempo)?),
    };
    let (to, bars) = rest.split_once(" over ").or_else(|| rest.split_once(" in "))?;
    let bars = bars.trim().trim_end_matches("bars").trim_end_matches("bar").trim();
    Some((from, thousandths(to.trim())?, bars.parse().ok()?))
}

/// The first bar of a ramp and the last: from a bar on, or to the end of the section.
fn ramp_bars(section: &Section, from: Option<u32>, bars: u32) -> Result<(u32, u32), String> {
    let all = section.metre.bars();
    let first = from.or_else(|| (all + 1).checked_sub(bars)).unwrap_or(0);
    let last = first.saturating_add(bars).saturating_sub(1);
    match bars > 0 && first > 0 && last <= all {
        true => Ok((first, last)),
        false => Err(format!(
            "Section {} has bars 1 to {all}: the ramp has to lie in these.",
            section.letter
        )),
    }
}

/// The first bar of the first ramp.
fn first_ramp(section: &Section) -> Option<u32> {
    let ramps = section.tempo.points().iter().filter(|point| point.tempi.len() > 1);
    let bars = ramps.map(|point| section.metre.bar_at(point.at));
    bars.filter_map(|bar| u32::try_from(bar).ok()).next()
}

/// A number with up to three decimals, in thousandths.
fn thousandths(text: &str) -> Option<u64> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    let fits = !whole.is_empty() && whole.len() <= 9 && part.len() <= 3;
    (fits && plain(whole) && plain(part)).then_some(())?;
    format!("{whole}{part:0<3}").parse().ok()
}

/// Thousandths of a percent: `95` of what it is, or with a sign so much more or less.
fn percentage(text: &str) -> Option<u64> {
    let all = 100_000;
    let percent = match (text.strip_prefix('+'), text.strip_prefix('-')) {
        (Some(more), _) => all + thousandths(more.trim())?,
        (_, Some(less)) => {
            thousandths(less.trim()).filter(|&less| less < all).map(|less| all - less)?
        }
        _ => thousandths(text)?,
    };
    (10_000..=1_000_000).contains(&percent).then_some(percent)
}

/// Minutes and seconds.
fn duration(text: &str) -> Option<Ns> {
    let (minutes, seconds) = text.split_once(':')?;
    let (minutes, millis) = (thousandths(minutes.trim())?, thousandths(seconds.trim())?);
    let all = minutes.checked_mul(60)?.checked_add(millis)?;
    let fits = minutes % 1000 == 0 && millis < 60_000 && (1..=LONGEST).contains(&all);
    fits.then(|| Ns::try_from(all * 1_000_000).ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::four_parts;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn whatever_is_typed_is_a_change_or_an_error_about_a_field(
            typed in prop_oneof!["[0-9 .:%+to over-]{0,24}", "\\PC{0,12}"],
            from in "[0-9x]{0,12}",
        ) {
            let song = Arc::new(four_parts());
            let mut form = Form::tempo(&song, &song.sections[0]);
            form.clear();
            form.paste(&typed);
            form.focus = FROM;
            form.paste(&from);
            if let Err((field, error)) = form.tempo_asked(&song.sections[0]) {
                prop_assert!(field < form.fields.len() && error.ends_with('.'), "{error}");
            }
            // The song may refuse it, in words.
            form.look_ahead(&song);
            prop_assert!(form.preview().is_some());
        }
    }

    #[test]
    fn percentages_and_durations_are_read_in_thousandths_and_nanoseconds() {
        for (typed, read) in [
            ("95", Some(95_000)),
            ("+2.5", Some(102_500)),
            ("-5", Some(95_000)),
            ("-100", None),
            ("9", None),
            ("1001", None),
            ("", None),
        ] {
            assert_eq!(percentage(typed), read, "{typed}");
        }
        for (typed, read) in [
            ("3:20", Some(200_000_000_000)),
            ("0:07.5", Some(7_500_000_000)),
            ("0:00", None),
            ("1.5:00", None),
            ("3:60", None),
            ("1440:00", Some(86_400_000_000_000)),
            ("1440:01", None),
            (":", None),
        ] {
            assert_eq!(duration(typed), read, "{typed}");
        }
    }
}
