//! Landmarks of a route: where tempo, metre and section change.

use crate::Route;
use chaconne_song::{Letter, Song};
use chaconne_time::{Metre, Span, Tempo, Tick};

/// Something a reader of the music is told besides events.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Landmark {
    /// A section starts; told at each time round.
    Section(Letter),
    /// The metre from here on.
    Metre(Metre),
    /// The tempo from here on.
    Tempo(Tempo),
}

/// The landmarks inside `span`, in order; at its start, the metre and tempo in force are told.
/// Only changes of metre and tempo are told after that.
pub fn landmarks(song: &Song, route: &Route, span: Span) -> Vec<(Tick, Landmark)> {
    let mut told: Vec<(Tick, Landmark)> = Vec::new();
    let mut metre: Option<Metre> = None;
    let mut tempo: Option<Tempo> = None;
    for (at, landmark) in raw(song, route, span) {
        let clamped = at.max(span.from);
        let news = match &landmark {
            Landmark::Section(_) => at >= span.from,
            Landmark::Metre(new) => metre.replace(new.clone()).as_ref() != Some(new),
            Landmark::Tempo(new) => tempo.replace(*new) != Some(*new),
        };
        if news {
            // What is overtaken before the span starts is told once, as it stands there.
            if at <= span.from {
                let same = std::mem::discriminant(&landmark);
                told.retain(|(_, known)| std::mem::discriminant(known) != same);
            }
            told.push((clamped, landmark));
        }
    }
    told
}

/// Every section start, metre and tempo of the route up to the span's end, in order.
fn raw(song: &Song, route: &Route, span: Span) -> Vec<(Tick, Landmark)> {
    let mut all = Vec::new();
    for entry in route.entries.iter().filter(|entry| entry.until > span.from && entry.at < span.to)
    {
        let Some(section) = song.section(entry.section) else { continue };
        let length = section.length();
        // Rounds that end before the span starts tell nothing that the next one does not.
        let skipped = ((span.from - entry.at).0.max(0)) / length.0;
        let mut start = entry.at + length * skipped;
        while start < entry.until.min(span.to) {
            let inside = |at: Tick| start + at < entry.until.min(span.to);
            all.push((start, Landmark::Section(section.letter)));
            for change in section.metre.changes() {
                let at = section.metre.bar_start(i64::from(change.bar));
                if inside(at) {
                    all.push((start + at, Landmark::Metre(change.metre.clone())));
                }
            }
            for (at, tempo) in section.tempo.steps().filter(|(at, _)| *at < length && inside(*at)) {
                all.push((start + at, Landmark::Tempo(tempo)));
            }
            start += length;
        }
    }
    all.sort_by_key(|(at, _)| *at);
    all
}
