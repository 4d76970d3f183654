//! A section's chart as musicians write it: bars between bar lines, chords in them, `%` for the bar
//! before once more.
//!
//! Chords share their bar evenly: two in 4/4 have two beats each. Where they do not, every beat (or every
//! half beat, and so on) has a mark of its own, and `/` goes on with the chord before: `C / / G7`.

use chaconne_song::{Chord, ChordError, ChordSymbol};
use chaconne_time::{Metre, MetreMap, Tick};

/// A chart that cannot be read: what is wrong, and in which bar.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChartError {
    /// A word is not a chord.
    #[error("bar {bar}: {error}")]
    Chord {
        /// The bar, from 1.
        bar: u32,
        /// What is wrong with it.
        error: ChordError,
    },
    /// There is nothing between two bar lines.
    #[error("bar {0} is empty: write a chord, N.C. for none, or % to repeat the bar before")]
    Empty(u32),
    /// `%` in the first bar, or beside something else.
    #[error("bar {0}: % repeats the bar before: write it alone, and not in bar 1")]
    Repeat(u32),
    /// The chords cannot share the bar evenly.
    #[error(
        "bar {bar} has {count} symbols, which don't divide {metre} evenly: write one per beat, with / to \
         hold a chord"
    )]
    Uneven {
        /// The bar, from 1.
        bar: u32,
        /// How many marks it has.
        count: usize,
        /// Its metre.
        metre: String,
    },
    /// The chart has another number of bars.
    #[error(
        "{chart} bars of chords for a {section}-bar section: write {section}{}",
        repeating(*.section)
    )]
    Bars {
        /// The bars of the chart.
        chart: u32,
        /// The bars of the section.
        section: u32,
    },
}

/// How many bars of chords repeat in a section of so many, in words; empty if there is no such number.
fn repeating(section: u32) -> String {
    let fewer: Vec<String> =
        (1..section).filter(|bars| section.is_multiple_of(*bars)).map(|n| n.to_string()).collect();
    match fewer.as_slice() {
        [] => String::new(),
        [only] => format!(", or {only} to repeat"),
        [few @ .., last] if few.len() < 5 => format!(", or {} or {last} to repeat", few.join(", ")),
        _ => ", or a number that divides it to repeat".to_string(),
    }
}

/// The chord in force from a tick of a bar on.
type Mark = (Tick, ChordSymbol);

/// Reads a chart for a section of this metre. Chords that go on are not repeated. A chart of fewer bars
/// repeats if their number divides that of the section. An empty text is a chart without chords.
pub fn chart(text: &str, metre: &MetreMap) -> Result<Vec<Chord>, ChartError> {
    let text = text.trim();
    let text = text.strip_prefix('|').unwrap_or(text);
    let text = text.strip_suffix('|').unwrap_or(text);
    if text.trim().is_empty() {
        return Ok(Vec::new());
    }
    let bars: Vec<&str> = text.split('|').collect();
    let (written, section) = (u32::try_from(bars.len()).unwrap_or(u32::MAX), metre.bars());
    if written > section || !section.is_multiple_of(written) {
        return Err(ChartError::Bars { chart: written, section });
    }
    let mut chords = Vec::new();
    let mut now = ChordSymbol::Silent;
    let mut before: Option<&str> = None;
    for bar in 1..=section {
        let number = (bar - 1) % written;
        let text = bars[number as usize];
        let text = match (text.trim(), before) {
            ("%", Some(before)) if number > 0 => before,
            _ => text,
        };
        before = Some(text);
        let start = metre.bar_start(i64::from(bar));
        for (at, symbol) in marks(text, number + 1, metre.metre_of(i64::from(bar)))? {
            let symbol = symbol.unwrap_or(now);
            if symbol != now {
                chords.push(Chord { at: start + at, symbol });
                now = symbol;
            }
        }
    }
    Ok(chords)
}

/// The marks of a bar: where each begins, and its chord; `None` where the one before goes on.
fn marks(
    text: &str,
    bar: u32,
    metre: &Metre,
) -> Result<Vec<(Tick, Option<ChordSymbol>)>, ChartError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    if words.is_empty() {
        return Err(ChartError::Empty(bar));
    }
    if words.contains(&"%") {
        return Err(ChartError::Repeat(bar));
    }
    let mut symbols = Vec::new();
    for word in &words {
        symbols.push(match *word {
            "/" => None,
            word => Some(word.parse().map_err(|error| ChartError::Chord { bar, error })?),
        });
    }
    let count = words.len();
    let starts = starts(count, metre);
    let uneven = || ChartError::Uneven { bar, count, metre: metre.to_string() };
    Ok(starts.ok_or_else(uneven)?.into_iter().zip(symbols).collect())
}

/// Where so many marks of a bar begin; `None` if they cannot share it on its beats, its groups or equal
/// parts of its beats.
fn starts(count: usize, metre: &Metre) -> Option<Vec<Tick>> {
    let groups = metre.groups();
    let bar = metre.bar();
    if groups.len() == count && groups.windows(2).any(|two| two[0] != two[1]) {
        let begin = |nth: usize| groups[..nth].iter().map(|&beats| metre.beat() * i64::from(beats));
        return Some(
            (0..count).map(|nth| begin(nth).fold(Tick::ZERO, |sum, one| sum + one)).collect(),
        );
    }
    let count = i64::try_from(count).ok()?;
    let whole = |unit: Tick| bar.0 / unit.0;
    let fits = [metre.click(), metre.beat()]
        .into_iter()
        .any(|unit| whole(unit) % count == 0 || count % whole(unit) == 0 && bar.0 % count == 0);
    fits.then(|| (0..count).map(|nth| Tick(bar.0 / count) * nth).collect())
}

/// A section's chords as a chart, one bar after the other: `C | Am7 | Dm7 G7 | %`. Empty without chords.
///
/// [`chart`] reads it as the same chords, except that a chord that is told again and one past the last bar
/// are left out. A chord that lies on no equal part of its bar, down to a ninety-sixth, is given at the part
/// before it.
pub fn chart_text(chords: &[Chord], metre: &MetreMap) -> String {
    let mut now = ChordSymbol::Silent;
    let mut before: Option<(Vec<Mark>, &Metre)> = None;
    let mut bars = Vec::new();
    for bar in 1..=i64::from(metre.bars()) {
        let (start, end) = (metre.bar_start(bar), metre.bar_start(bar + 1));
        let mut marks = vec![(Tick::ZERO, now)];
        for chord in chords.iter().filter(|chord| start <= chord.at && chord.at < end) {
            let at = chord.at - start;
            marks.retain(|&(known, _)| known != at);
            marks.push((at, chord.symbol));
            now = chord.symbol;
        }
        marks.dedup_by_key(|&mut (_, symbol)| symbol);
        let kind = metre.metre_of(bar);
        let repeats = before.as_ref().is_some_and(|(known, of)| *known == marks && *of == kind);
        bars.push(if repeats { "%".to_string() } else { bar_text(&marks, kind) });
        before = Some((marks, kind));
    }
    let has_chords = bars.iter().any(|bar| bar != "%" && bar != "N.C.");
    if has_chords { bars.join(" | ") } else { String::new() }
}

/// One bar, with as few marks as are needed.
fn bar_text(marks: &[Mark], metre: &Metre) -> String {
    let on = |starts: &[Tick]| marks.iter().all(|(at, _)| starts.contains(at));
    let counts = (marks.len()..=96).filter_map(|count| starts(count, metre));
    // If nothing fits, the finest marks have to do.
    let finest = || starts(96, metre).unwrap_or_else(|| vec![Tick::ZERO]);
    let starts = counts.into_iter().find(|starts| on(starts)).unwrap_or_else(finest);
    let words = starts.iter().enumerate().map(|(nth, &from)| {
        let to = starts.get(nth + 1).copied().unwrap_or(Tick::MAX);
        let last = marks.iter().rfind(|&&(at, _)| from <= at && at < to);
        last.map_or("/".to_string(), |(_, symbol)| symbol.to_string())
    });
    words.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
