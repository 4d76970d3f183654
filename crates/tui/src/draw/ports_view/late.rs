//! How late messages are, as histograms and along the last minutes.
//!
//! In: counts in bins. Out: a row for each bin, with its limits in milliseconds, a bar and the
//! count. Where there are fewer rows than bins, bins are joined; the limits that remain are those
//! that matter to an ear.

use super::{Area, NO_NOTES, NO_OUTPUT, span_words};
use crate::desk::Lateness;
use crate::draw::foot::tenths;
use crate::draw::{Pen, Sight};
use crate::text;
use ratatui::style::Style;
use std::time::Duration;

/// The bins at which a row begins, for fewer and fewer rows: all of them; from 0.1 ms on; in powers
/// of ten.
const STARTS: [&[usize]; 3] =
    [&[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16], COMPACT, &[0, 7, 10, 13]];
const COMPACT: &[usize] = &[0, 7, 8, 9, 10, 11, 12, 13, 14, 15];
/// From this bin on an event counts as late: 1 ms.
const AUDIBLE: usize = 10;
/// The columns of the limits.
const LIMITS: u16 = 12;
/// The rows above the bars: a title and figures.
const HEAD: usize = 2;
/// The row below the bars that says how many messages they mean.
const SCALE: usize = 1;
/// The columns between two histograms.
const GAP: u16 = 4;

/// What a histogram is about.
struct Chart<'a> {
    title: &'static str,
    nothing: &'static str,
    late: &'a Lateness,
}

/// The histogram of the notes.
pub fn chart(pen: &mut Pen, sight: &Sight, area: &Area) {
    if let Some([notes, ..]) = all(pen, sight, area) {
        one(pen, sight, &notes, area);
    }
}

/// Histograms of notes, pulses and what was played, side by side; below them, if there is room, the
/// last minutes.
pub fn charts(pen: &mut Pen, sight: &Sight, area: &Area) {
    let Some(charts) = all(pen, sight, area) else { return };
    let room = area.rows.len();
    let [most, fewer] = [STARTS[0], COMPACT].map(|starts| HEAD + starts.len());
    // The last minutes have as many rows of words as a histogram, and a blank row above.
    let (high, bins) = match room {
        _ if room > 2 * most + SCALE + 1 => (most + SCALE, STARTS[0]),
        _ if room > most + SCALE + fewer => (most + SCALE, COMPACT),
        _ if room > most + fewer => (most, COMPACT),
        _ if room > 2 * fewer => (fewer, COMPACT),
        _ => (room, &[][..]),
    };
    let width = (area.width - 2 * GAP) / 3;
    let rows = area.rows.start..area.rows.start + high as u16;
    for (x, chart) in (area.x..).step_by(usize::from(width + GAP)).zip(&charts) {
        one(pen, sight, chart, &Area { x, width, rows: rows.clone() });
    }
    if !bins.is_empty() {
        let rows = rows.end + 1..rows.end + 1 + (HEAD + bins.len()) as u16;
        minutes(pen, sight, &Area { rows, ..*area }, bins);
    }
}

/// What the three histograms are about; without an output, says so instead.
fn all<'a>(pen: &mut Pen, sight: &Sight<'a>, area: &Area) -> Option<[Chart<'a>; 3]> {
    let health = &sight.state.health;
    if !sight.state.has_output() {
        for (row, line) in area.rows.clone().zip(text::wrap(NO_OUTPUT, area.width.into())) {
            pen.put(area.x, row, &line, pen.palette.strong());
        }
        return None;
    }
    let chart = |title, nothing, late| Chart { title, nothing, late };
    Some([
        chart("notes: ms late", NO_NOTES, &health.notes),
        chart("clock: ms late", "No clock has been sent.", &health.pulses),
        chart("played through: ms later", "Nothing has been played yet.", &health.through),
    ])
}

fn one(pen: &mut Pen, sight: &Sight, chart: &Chart, area: &Area) {
    let (palette, first, width) = (pen.palette, area.rows.start, usize::from(area.width));
    let Chart { title, nothing, late } = chart;
    pen.put_in(area.x, first, width, title, palette.strong());
    if area.rows.len() < HEAD {
        return;
    }
    match late.count {
        0 => pen.put_in(area.x, first + 1, width, nothing, palette.faint()),
        _ => pen.put_in(area.x, first + 1, width, &figures(sight, late, width), palette.text()),
    };
    let rows = area.rows.len() - HEAD;
    let Some(starts) = STARTS.into_iter().find(|starts| starts.len() <= rows) else { return };
    if late.count == 0 && !is_tall(area) {
        return;
    }
    let counts: Vec<u64> = joined(late, starts);
    let most = counts.iter().copied().max().unwrap_or(0).max(1);
    let room = most.to_string().len() as u16;
    let bar = area.width.saturating_sub(LIMITS + 1 + room + 1);
    for ((place, &count), y) in counts.iter().enumerate().zip(first + HEAD as u16..) {
        limit(pen, area.x, y, &limits(starts, place));
        // Even one message is seen.
        let eighths = (count * u64::from(8 * bar)).div_ceil(most);
        let style = colour(pen, starts[place]);
        self::bar(pen, (area.x + LIMITS + 1, y), bar, eighths, style);
        if count > 0 {
            let text = format!("{count:>width$}", width = room.into());
            pen.put(area.x + area.width - room, y, &text, palette.text());
        }
    }
    if late.count > 0 && is_tall(area) {
        scale(pen, (area.x + LIMITS + 1, area.rows.end - 1), bar, most);
    }
}

/// Whether a histogram has all bins, and a scale below them.
fn is_tall(area: &Area) -> bool {
    area.rows.len() >= HEAD + STARTS[0].len() + SCALE
}

/// How many messages the length of a bar means: none, half of the most, the most.
fn scale(pen: &mut Pen, (x, y): (u16, u16), columns: u16, most: u64) {
    let (faint, end) = (pen.palette.faint(), x + columns);
    (x..end).for_each(|column| pen.sign(column, y, pen.palette.signs.rule, faint));
    pen.put(x, y, "0 ", faint);
    pen.put_before(end, y, &format!(" {most}"), faint);
    let half = format!(" {} ", most / 2);
    if most.is_multiple_of(2) && usize::from(columns) > 4 * half.len() {
        pen.put(x + (columns - half.len() as u16) / 2, y, &half, faint);
    }
}

fn colour(pen: &Pen, bin: usize) -> Style {
    if bin >= AUDIBLE { pen.palette.alarm() } else { pen.palette.track(0) }
}

fn limit(pen: &mut Pen, x: u16, y: u16, words: &str) {
    let words = format!("{words:>width$}", width = LIMITS.into());
    pen.put(x, y, &words, pen.palette.faint());
}

/// A bar of so many eighths of a column; where it ends, nothing.
fn bar(pen: &mut Pen, (x, y): (u16, u16), columns: u16, eighths: u64, style: Style) {
    for cell in 0..columns {
        let part = eighths.saturating_sub(8 * u64::from(cell)).min(8);
        if part > 0 {
            // A set without parts of a cell has a stroke for a little.
            pen.sign(x + cell, y, pen.palette.signs.filled[part as usize - 1], style);
        }
    }
}

/// The counts of bins that are joined from each of `starts` to the next.
fn joined(late: &Lateness, starts: &[usize]) -> Vec<u64> {
    let ends = starts.iter().skip(1).copied().chain([Lateness::BINS]);
    starts.iter().zip(ends).map(|(&from, to)| late.bins[from..to].iter().sum()).collect()
}

/// The limits of a row, in milliseconds.
fn limits(starts: &[usize], place: usize) -> String {
    let from = starts[place].checked_sub(1).map(|limit| ms(Lateness::LIMITS_NS[limit]));
    let to = starts.get(place + 1).map(|&next| ms(Lateness::LIMITS_NS[next - 1]));
    match (from, to) {
        (None, Some(to)) => format!("under {to}"),
        (Some(from), Some(to)) => format!("{from}-{to}"),
        (Some(from), None) => format!("{from} or more"),
        (None, None) => String::new(),
    }
}

/// A limit in milliseconds, exactly.
fn ms(ns: u64) -> String {
    let text = format!("{}.{:03}", ns / 1_000_000, ns / 1_000 % 1_000);
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// Percentiles and, if there is room, how many messages in what time.
fn figures(sight: &Sight, late: &Lateness, room: usize) -> String {
    let [p50, p99, worst] = [late.p50_ns, late.p99_ns, late.worst_ns].map(tenths);
    let short = format!("p50 {p50}, p99 {p99}, worst {worst}");
    let counted = span_words(sight.state.health.counted);
    let whole = format!("{short}; {} in {counted}", late.count);
    if text::width(&whole) <= room { whole } else { short }
}

/// The latest message of each second, the newest at the right: a column each, as high as its bin.
fn minutes(pen: &mut Pen, sight: &Sight, area: &Area, bins: &[usize]) {
    let (palette, first) = (pen.palette, area.rows.start);
    let seconds = &sight.state.health.seconds;
    let room = usize::from(area.width - LIMITS - 1);
    let shown = &seconds[seconds.len().saturating_sub(room)..];
    pen.put_in(area.x, first, area.width.into(), "worst of each second: ms late", palette.strong());
    let from = area.x + LIMITS + 1 + (room - shown.len()) as u16;
    for (place, y) in (0..bins.len()).rev().zip(first + 1..area.rows.end) {
        limit(pen, area.x, y, &limits(bins, place));
        for (x, &worst) in (from..).zip(shown) {
            let bin = Lateness::bin(worst);
            let level = bins.partition_point(|&start| start <= bin) - 1;
            if worst > 0 && level >= place {
                pen.sign(x, y, palette.signs.filled[7], colour(pen, bin));
            }
        }
    }
    let below = first + 1 + bins.len() as u16;
    pen.put_before(area.x + area.width, below, "now", palette.faint());
    for seconds in (30..room as u16 - 8).step_by(30) {
        let words = span_words(Duration::from_secs(seconds.into()));
        let words = if seconds % 60 == 0 { format!("-{words}") } else { "|".to_string() };
        pen.put_before(area.x + area.width - seconds, below, &words, palette.faint());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_are_joined_without_losing_any() {
        let mut late = Lateness::default();
        for (place, bin) in late.bins.iter_mut().enumerate() {
            *bin = 1 << place;
        }
        let all: u64 = late.bins.iter().sum();
        for starts in STARTS {
            assert_eq!(joined(&late, starts).iter().sum::<u64>(), all);
        }
        assert_eq!(joined(&late, STARTS[2]), [127, 896, 7168, 122_880]);
    }

    #[test]
    fn limits_are_in_milliseconds() {
        let words = |starts: &[usize]| -> Vec<String> {
            (0..starts.len()).map(|place| limits(starts, place)).collect()
        };
        assert_eq!(words(STARTS[2]), ["under 0.1", "0.1-1", "1-10", "10 or more"]);
        let all = words(STARTS[0]);
        assert_eq!((all[0].as_str(), all[1].as_str()), ("under 0.001", "0.001-0.002"));
        assert_eq!((all[9].as_str(), all[16].as_str()), ("0.5-1", "100 or more"));
        assert!(all.iter().all(|words| words.len() <= usize::from(LIMITS)));
    }
}
