//! The length of a pass as words: `4 bars` if it ends at a bar line, otherwise `3 beats`.
//!
//! Bars and beats are counted from the start of the section through its metres, so words and
//! lengths always match one to one.

use chaconne_time::{MetreMap, Tick};

/// The words for a length, which must be a whole number of beats.
pub(super) fn words(metre: &MetreMap, length: Tick) -> String {
    let end = metre.place(length);
    let (count, unit) = if end.beat == 1 {
        (end.bar - 1, "bar")
    } else {
        let before: i64 = (1..end.bar).map(|bar| beats_of(metre, bar)).sum();
        (before + i64::from(end.beat) - 1, "beat")
    };
    format!("{count} {unit}{}", if count == 1 { "" } else { "s" })
}

/// The length in ticks that the words give.
pub(super) fn read(metre: &MetreMap, words: &str) -> Result<Tick, String> {
    let most = MetreMap::MAX_BARS;
    let wrong = || {
        format!(
            "'{words}' is not a length: use a number of bars or beats, from 1 beat to {most} bars"
        )
    };
    let (count, unit) = words.split_once(' ').ok_or_else(wrong)?;
    let count: u32 = count.parse().map_err(|_| wrong())?;
    match unit {
        _ if count == 0 => Err(wrong()),
        "bar" | "bars" if count <= most => Ok(metre.bar_start(i64::from(count) + 1)),
        "beat" | "beats" => beats(metre, i64::from(count)).ok_or_else(wrong),
        _ => Err(wrong()),
    }
}

/// The length in ticks of this many beats; `None` if it is more than 999 bars.
fn beats(metre: &MetreMap, count: i64) -> Option<Tick> {
    let mut left = count;
    for bar in 1..=i64::from(MetreMap::MAX_BARS) {
        let here = beats_of(metre, bar);
        if left <= here {
            return Some(metre.bar_start(bar) + metre.metre_of(bar).beat() * left);
        }
        left -= here;
    }
    None
}

fn beats_of(metre: &MetreMap, bar: i64) -> i64 {
    i64::from(metre.metre_of(bar).count())
}
