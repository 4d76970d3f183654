//! Landmarks: where section, metre and tempo change along a route.

use super::{Round, Walk};
use chaconne_song::Letter;
use chaconne_time::{Metre, Span, Tempo, Tick};

/// A section, metre or tempo that starts, which a score shows besides the notes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Landmark {
    /// A section starts; there is one for each round.
    Section(Letter),
    /// The metre from here on.
    Metre(Metre),
    /// The tempo from here on.
    Tempo(Tempo),
}

/// The landmarks inside a span. Metres and tempi that change nothing are left out.
pub(super) fn inside(walk: Walk, span: Span) -> Vec<(Tick, Landmark)> {
    let mut found = Found { span, marks: Vec::new(), before: Before::default() };
    let marks = walk.rounds(span.from).flat_map(of_round);
    for (at, mark) in marks.take_while(|&(at, _)| at < span.to) {
        found.take(at, mark);
    }
    found.marks
}

/// The section, metres and tempi of a round; those at the same tick are in this order.
fn of_round(round: Round) -> Vec<(Tick, Landmark)> {
    let section = round.visit.section;
    let metres = section.metre.changes().iter().map(|change| {
        let at = section.metre.bar_start(i64::from(change.bar));
        (at, Landmark::Metre(change.metre.clone()))
    });
    let tempi = section.tempo.steps().map(|(at, tempo)| (at, Landmark::Tempo(tempo)));
    let all = [(Tick::ZERO, Landmark::Section(section.letter))].into_iter().chain(metres);
    let all = all.chain(tempi).map(|(at, mark)| (round.start + at, mark));
    let mut all: Vec<_> = all.filter(|&(at, _)| at < round.end).collect();
    all.sort_by_key(|&(at, _)| at);
    all
}

/// The last metre and tempo so far.
#[derive(Default)]
struct Before {
    metre: Option<Metre>,
    tempo: Option<Tempo>,
}

impl Before {
    fn is_changed_by(&mut self, mark: &Landmark) -> bool {
        match mark {
            Landmark::Section(_) => true,
            Landmark::Metre(new) => self.metre.replace(new.clone()).as_ref() != Some(new),
            Landmark::Tempo(new) => self.tempo.replace(*new) != Some(*new),
        }
    }
}

struct Found {
    span: Span,
    marks: Vec<(Tick, Landmark)>,
    before: Before,
}

impl Found {
    fn take(&mut self, at: Tick, mark: Landmark) {
        let is_past_section = at < self.span.from && matches!(mark, Landmark::Section(_));
        if is_past_section || !self.before.is_changed_by(&mark) {
            return;
        }
        if at <= self.span.from {
            // Of several before the span, only the last of each kind is in force at its start.
            let same = std::mem::discriminant(&mark);
            self.marks.retain(|(_, known)| std::mem::discriminant(known) != same);
        }
        self.marks.push((at.max(self.span.from), mark));
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{bpm, letters, two_metres};
    use super::*;
    use crate::{Entry, Route};
    use chaconne_song::{Section, Song};
    use chaconne_time::{MetreChange, MetreMap, TempoMap, TempoPoint};
    use std::sync::Arc;

    /// Landmarks as text: the tick, and the letter, metre or tempo.
    fn spelled(walk: Walk, from: i64, to: i64) -> String {
        let spell = |(at, mark): (Tick, Landmark)| match mark {
            Landmark::Section(letter) => format!("{}:{letter}", at.0),
            Landmark::Metre(metre) => format!("{}:{metre}", at.0),
            Landmark::Tempo(tempo) => format!("{}:{tempo}", at.0),
        };
        let all = walk.landmarks(Span::new(Tick(from), Tick(to))).into_iter().map(spell);
        all.collect::<Vec<_>>().join(" ")
    }

    fn along(song: &Song, form: &str, (from, to): (i64, i64)) -> String {
        let route = Route::of(song, &letters(form)).unwrap();
        spelled(Walk::along(song, &route), from, to)
    }

    #[test]
    fn every_section_is_listed_and_a_metre_or_tempo_only_where_it_changes() {
        let mut song = two_metres();
        Arc::make_mut(&mut song.sections[1]).tempo = TempoMap::new(bpm("90"));
        let expected = "0:A 0:3/4 0:120 2880:A 5760:B 5760:5/8 5760:90 8160:A 8160:3/4 8160:120";
        assert_eq!(along(&song, "AABA", (0, 99_999)), expected);
        // The end is outside.
        assert_eq!(along(&song, "AABA", (0, 5760)), "0:A 0:3/4 0:120 2880:A");
    }

    #[test]
    fn a_span_begins_with_the_metre_and_tempo_in_force() {
        let mut song = two_metres();
        // Two bars of 4/4 and 2/4; 90 from the third beat on, 60 from the fourth.
        let changes = ["4/4", "2/4"]
            .iter()
            .zip(1..)
            .map(|(metre, bar)| MetreChange { bar, metre: metre.parse().unwrap() });
        let metre = MetreMap::with_changes(2, changes.collect()).unwrap();
        let mut section = Section::new(Letter::A, metre, bpm("120"));
        let points = [(0, "120"), (1920, "90"), (2880, "60")]
            .map(|(at, tempo)| TempoPoint { at: Tick(at), tempi: vec![bpm(tempo)] });
        section.tempo = TempoMap::with_points(points.into()).unwrap();
        song.sections[0] = Arc::new(section);
        let marks = |from, to| along(&song, "AA", (from, to));
        assert_eq!(marks(2000, 2880), "2000:4/4 2000:90");
        assert_eq!(marks(2880, 4000), "2880:4/4 2880:60 3840:2/4");
        assert_eq!(marks(3840, 5000), "3840:60 3840:2/4");
        assert_eq!(marks(5760, 5761), "5760:A 5760:4/4 5760:120");
        assert_eq!(marks(7700, 8000), "7700:4/4 7700:90");
        // Left where the second bar would start: its metre is not heard.
        let entry =
            |at, until| Entry { section: Letter::A, at: Tick(at), until: Tick(until), cut: true };
        let left = [entry(0, 3840), entry(3840, 9600)];
        assert_eq!(
            spelled(Walk::new(&song, &left), 3000, 4000),
            "3000:4/4 3000:60 3840:A 3840:120"
        );
    }
}
