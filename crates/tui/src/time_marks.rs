//! What a section has over its bars about time: fermatas, ramps of tempo, and tempi from a bar on.

use crate::numbers::tempo_text;
use chaconne_song::Section;
use chaconne_time::{Span, TempoPoint, Tick, pulse};

/// Something about time that is shown over the bars.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TimeMark {
    /// A fermata on the beat that begins here.
    Fermata(Tick),
    /// A ramp of tempo.
    Ramp(Ramp),
    /// A tempo from here on, in the note value that the metre counts.
    Tempo(Tick, String),
}

/// A ramp of tempo: its two ends, and the time over which it goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ramp {
    /// From its first tick to its end, or to that of the section.
    pub span: Span,
    /// The tempo at its start, in the note value that the metre counts.
    pub from: String,
    /// The tempo at its end.
    pub to: String,
    /// Whether it becomes slower.
    pub slows: bool,
    bars: (i64, i64),
}

/// All marks of a section, those inside its bars, in time order.
pub fn time_marks(section: &Section) -> Vec<TimeMark> {
    let inside = |at: Tick| at < section.length();
    let fermatas = section.fermatas.iter().filter(|&&at| inside(at));
    let later = section.tempo.points().iter().filter(|point| inside(point.at));
    // The tempo at the top is in the head of the screen.
    let tempi = later.filter(|point| point.at > Tick::ZERO || point.tempi.len() > 1);
    let tempi = tempi.filter_map(|point| match Ramp::of(section, point) {
        Some(ramp) => Some(TimeMark::Ramp(ramp)),
        None => {
            let unit = section.metre.metre_at(point.at).tempo_unit();
            Some(TimeMark::Tempo(point.at, tempo_text(*point.tempi.first()?, unit)))
        }
    });
    let mut marks: Vec<TimeMark> = fermatas.map(|&at| TimeMark::Fermata(at)).chain(tempi).collect();
    marks.sort_by_key(TimeMark::at);
    marks
}

impl TimeMark {
    /// The tick at which it begins, counted from the start of its section.
    pub fn at(&self) -> Tick {
        match self {
            TimeMark::Fermata(at) | TimeMark::Tempo(at, _) => *at,
            TimeMark::Ramp(ramp) => ramp.span.from,
        }
    }
}

impl Ramp {
    /// The first ramp of a section.
    pub fn first_of(section: &Section) -> Option<Ramp> {
        section.tempo.points().iter().find_map(|point| Ramp::of(section, point))
    }

    /// The ramp that begins at a point of the tempo, if it is one and begins inside the section.
    fn of(section: &Section, point: &TempoPoint) -> Option<Ramp> {
        if point.tempi.len() < 2 || point.at >= section.length() {
            return None;
        }
        let (first, last) = (*point.tempi.first()?, *point.tempi.last()?);
        let unit = section.metre.metre_at(point.at).tempo_unit();
        let end = point.at + pulse::tick_of(point.tempi.len() as i64);
        let span = Span::new(point.at, end.min(section.length()));
        let bars = (section.metre.bar_at(span.from), section.metre.bar_at(span.to - Tick(1)));
        let slows = last.micros() > first.micros();
        let [from, to] = [first, last].map(|tempo| tempo_text(tempo, unit));
        Some(Ramp { span, from, to, slows, bars })
    }

    /// Its two tempi in whole beats.
    pub fn whole(&self) -> [&str; 2] {
        let whole = |tempo| str::split_once(tempo, '.').map_or(tempo, |(whole, _)| whole);
        [whole(&self.from), whole(&self.to)]
    }

    /// What it is called in a score.
    pub fn term(&self) -> &'static str {
        if self.slows { "rit." } else { "accel." }
    }

    /// What it does, in words.
    pub fn words(&self) -> String {
        let does = if self.slows { "slows" } else { "speeds up" };
        let bars = match self.bars {
            (first, last) if first == last => format!("bar {first}"),
            (first, last) => format!("bars {first} to {last}"),
        };
        format!("{does} from {} to {} in {bars}", self.from, self.to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::empty_song;
    use chaconne_time::{Tempo, TempoMap};
    use std::sync::Arc;

    #[test]
    fn the_marks_of_a_section_are_in_time_order_and_inside_its_bars() {
        let mut song = empty_song(4, "4/4");
        let section = Arc::make_mut(&mut song.sections[0]);
        let bpm = |bpm: &str| Tempo::parse_bpm(bpm).unwrap();
        let point = |bar: i64, tempi: &[&str]| TempoPoint {
            at: Tick(bar * 3840),
            tempi: tempi.iter().map(|tempo| bpm(tempo)).collect(),
        };
        let points = vec![
            point(0, &["104"]),
            point(1, &["112"]),
            point(2, &["112", "100.5", "92"]),
            point(9, &["60", "50"]),
        ];
        section.tempo = TempoMap::with_points(points).unwrap();
        section.fermatas = vec![Tick(8640), Tick(99_999)];
        let marks = time_marks(section);
        let TimeMark::Ramp(ramp) = &marks[1] else { panic!("{marks:?}") };
        assert_eq!(marks[0], TimeMark::Tempo(Tick(3840), "112".into()));
        assert_eq!((ramp.span, ramp.term()), (Span::new(Tick(7680), Tick(7800)), "rit."));
        assert_eq!(ramp.words(), "slows from 112 to 92 in bar 3");
        assert_eq!(marks[2..], [TimeMark::Fermata(Tick(8640))]);
    }
}
