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
    for round in walk.rounds(span.from).take_while(|round| round.start < span.to) {
        for (at, mark) in of_round(round).into_iter().filter(|(at, _)| *at < span.to) {
            found.take(at, mark);
        }
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
