//! Reads the values of arguments.
//!
//! In: what was typed. Out: the value, or what would be right; clap quotes the typed word itself.

use super::{KeyOrNone, RampBars};
use chaconne_song::{KeySignature, Letter, Transpose};
use chaconne_time::{Metre, MetreMap, Ns, Place, Tempo};
use std::fmt::Display;
use std::str::FromStr;

/// The most characters of a name.
const LONGEST_NAME: usize = 64;

/// Metres as they are typed; the bars that they are for come later.
pub fn metres(text: &str) -> Result<String, String> {
    let most = MetreMap::MAX_BARS;
    MetreMap::of_written(most, text, Metre::counted).map_err(|error| error.to_string())?;
    Ok(text.to_string())
}

/// Reads a whole number from `least` to `most`; the error names these limits.
pub(super) fn whole<T: TryFrom<u64>>(
    least: u64,
    most: u64,
) -> impl Fn(&str) -> Result<T, String> + Clone + Send + Sync + 'static {
    move |text| {
        let number = text.parse().ok().filter(|number| (least..=most).contains(number));
        let number = number.and_then(|number| T::try_from(number).ok());
        number.ok_or_else(|| format!("use a whole number from {least} to {most}"))
    }
}

/// Reads a level in decibels, -60 to 0.
pub(super) fn level(text: &str) -> Result<f32, String> {
    let level = text.parse().ok().filter(|level| (-60.0..=0.0).contains(level));
    level.ok_or_else(|| "use a level from -60 to 0 dB".to_string())
}

/// Reads a value. clap's message quotes the word that was typed, so the error only has to say what
/// would be right.
pub(super) fn read<T: FromStr<Err: Display>>(text: &str) -> Result<T, String> {
    text.parse().map_err(|error| advice(text, error))
}

/// Reads the letter of a section, in either case.
pub(super) fn section(text: &str) -> Result<Letter, String> {
    read(&text.to_uppercase())
}

/// Reads a key with its mode, in either case: `Eb major`, `eb Major`.
pub(super) fn read_key(text: &str) -> Result<KeySignature, String> {
    let lower = text.trim().to_lowercase();
    let mut letters = lower.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    let capital: String = first.into_iter().chain(letters).collect();
    capital.parse().map_err(|error| advice(&capital, error))
}

/// Reads a key, or nothing for no key.
pub(super) fn key_or_none(text: &str) -> Result<KeyOrNone, String> {
    match text.trim().is_empty() {
        true => Ok(KeyOrNone(None)),
        false => read_key(text).map(|key| KeyOrNone(Some(key))),
    }
}

/// Reads a transposition.
pub(super) fn semitones(text: &str) -> Result<Transpose, String> {
    let by = text.parse().ok().and_then(Transpose::new);
    by.ok_or_else(|| format!("use -{0} to {0} semitones, e.g. -2", Transpose::MOST))
}

/// Reads a bar and a beat, such as `4.4`, and ticks after it if there are any.
pub(super) fn place(text: &str) -> Result<Place, String> {
    let full = if text.matches('.').count() == 1 { format!("{text}.0") } else { text.to_string() };
    full.parse().map_err(|_| "use bar.beat, e.g. 8.4".to_string())
}

/// Reads a name.
pub(super) fn name(text: &str) -> Result<String, String> {
    let name = text.trim();
    if name.chars().any(char::is_control) {
        return Err("use a name of one line".to_string());
    }
    if name.chars().count() > LONGEST_NAME {
        return Err(format!("use at most {LONGEST_NAME} characters"));
    }
    Ok(name.to_string())
}

pub(super) fn read_tempo(text: &str) -> Result<Tempo, String> {
    Tempo::parse_bpm(text).map_err(|error| advice(text, error))
}

/// The advice in an error: `write it as 4/4` from `'x' is not a metre: write it as 4/4`. Any other
/// sentence stays whole.
fn advice(text: &str, error: impl Display) -> String {
    let sentence = error.to_string();
    let rest = sentence.strip_prefix(&format!("'{text}' is not "));
    rest.and_then(|rest| rest.split_once(": ")).map_or(sentence.clone(), |(_, end)| end.to_string())
}

pub(super) fn rate(text: &str) -> Result<u32, String> {
    let rates = [44_100, 48_000];
    let rate = text.parse().ok().filter(|rate| rates.contains(rate));
    rate.ok_or_else(|| "use 44100 or 48000".into())
}

pub(super) fn tail(text: &str) -> Result<f64, String> {
    let tail = text.parse().ok().filter(|seconds| (0.0..=600.0).contains(seconds));
    tail.ok_or_else(|| "use a number of seconds from 0 to 600".into())
}

pub(super) fn loudness(text: &str) -> Result<f64, String> {
    let loudness = text.parse().ok().filter(|lufs| (-60.0..=-5.0).contains(lufs));
    loudness.ok_or_else(|| "use a value from -60 to -5 LUFS".into())
}

/// Reads beats per minute with up to three decimals, as thousandths.
pub(super) fn milli_beats(text: &str) -> Result<u64, String> {
    let thousandths = thousandths(text).filter(|milli| (1..=4_000_000).contains(milli));
    thousandths
        .and_then(|milli| u64::try_from(milli).ok())
        .ok_or_else(|| "use beats per minute with up to three decimals, such as 93.7".into())
}

/// Reads a change in percent, -90 to 900, as thousandths.
pub(super) fn percent(text: &str) -> Result<i64, String> {
    let change = thousandths(text).filter(|milli| (-90_000..=900_000).contains(milli));
    change.ok_or_else(|| "use percent from -90 to 900, such as -5 or 2.5".into())
}

fn thousandths(text: &str) -> Option<i64> {
    let (sign, digits) = match text.strip_prefix('-') {
        Some(digits) => (-1, digits),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    let fits = !whole.is_empty() && whole.len() <= 9 && part.len() <= 3;
    (fits && plain(whole) && plain(part)).then_some(())?;
    Some(sign * format!("{whole}{part:0<3}").parse::<i64>().ok()?)
}

/// Reads a duration in minutes and seconds, such as `3:20` or `0:07.5`, as nanoseconds.
pub(super) fn duration(text: &str) -> Result<Ns, String> {
    let read = || {
        let (minutes, seconds) = text.split_once(':')?;
        let (minutes, millis) = (thousandths(minutes)?, thousandths(seconds)?);
        let fits = !text.contains(['-', '+']) && minutes % 1000 == 0 && millis < 60_000;
        let all = minutes * 60 + millis;
        (fits && (1..=86_400_000).contains(&all)).then_some(all * 1_000_000)
    };
    read().ok_or_else(|| "use minutes and seconds, such as 3:20, at most 24 hours".into())
}

/// Reads bars from the first to the last, such as `7-8`, or one.
pub(super) fn entries(text: &str) -> Result<(usize, usize), String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    let number = |text: &str| text.parse().ok().filter(|&number| number > 0);
    let both = number(first).zip(number(last)).filter(|(first, last)| first <= last);
    both.ok_or_else(|| "use the first and the last entry, such as 2-4".into())
}

pub(super) fn ramp_bars(text: &str) -> Result<RampBars, String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    let bar = |text: &str| text.parse().ok().filter(|bar| (1..=999).contains(bar));
    let bars = bar(first).zip(bar(last)).filter(|(first, last)| first <= last);
    let bars = bars.map(|(first, last)| RampBars { first, last });
    bars.ok_or_else(|| "use the first and the last bar, such as 7-8".into())
}
