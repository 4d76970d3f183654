//! The beats of a route: where a click goes.

use crate::{Entry, Route};
use chaconne_song::{Letter, Section, Song};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

/// The beats of a route inside `span`, in order, and which of them are beat one of their bar.
pub fn beats(song: &Song, route: &Route, span: Span) -> Vec<(Tick, bool)> {
    of_entries(&route.entries, |letter| song.section(letter), span)
}

/// The same for entries of a route, the last of which may be open.
pub(crate) fn of_entries<'s>(
    entries: &[Entry],
    section: impl Fn(Letter) -> Option<&'s Arc<Section>>,
    span: Span,
) -> Vec<(Tick, bool)> {
    let mut beats = Vec::new();
    for entry in entries.iter().filter(|entry| entry.until > span.from && entry.at < span.to) {
        let Some(section) = section(entry.section) else { continue };
        let from = span.from.max(entry.at) - entry.at;
        let mut bar = section.metre.bar_at(from);
        while entry.at + section.metre.bar_start(bar) < span.to.min(entry.until) {
            let start = entry.at + section.metre.bar_start(bar);
            let metre = section.metre.metre_of(bar);
            let all = (0..metre.count()).map(|k| (start + metre.beat() * i64::from(k), k == 0));
            beats.extend(all.filter(|&(at, _)| span.contains(at) && at < entry.until));
            bar += 1;
        }
    }
    beats
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::{Metre, MetreMap, Tempo};

    #[test]
    fn the_beats_of_a_route_follow_each_sections_metre() {
        let section = |letter, metre: &str| {
            let metre: Metre = metre.parse().unwrap();
            Section::new(letter, MetreMap::new(1, metre).unwrap(), Tempo::DEFAULT)
        };
        let (a, b) = (Letter::A, "B".parse().unwrap());
        let mut song = Song::new("beats", section(a, "3/4"));
        song.sections.push(Arc::new(section(b, "5/8")));
        let route = Route::of(&song, &[a, b, a]).unwrap();
        let told = beats(&song, &route, route.span());
        let three = [(0, true), (960, false), (1920, false)];
        let five = (0..5).map(|k| (2880 + 480 * k, k == 0));
        let again = three.map(|(at, accent)| (5280 + at, accent));
        let expected: Vec<(Tick, bool)> =
            three.into_iter().chain(five).chain(again).map(|(at, one)| (Tick(at), one)).collect();
        assert_eq!(told, expected);
        let part = Span::new(Tick(960), Tick(3361));
        assert_eq!(beats(&song, &route, part), expected[1..5]);
    }
}
