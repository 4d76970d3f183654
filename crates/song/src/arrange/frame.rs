//! The bars of a section without its layers: metres, tempi, fermatas and chords, cut and put together.

use super::ArrangeError;
use crate::{Chord, Section};
use chaconne_time::{MetreChange, MetreMap, Span, TempoMap, TempoPoint, Tick, TimeError, pulse};

/// Metres, tempi, fermatas and chords over a number of bars.
#[derive(Debug, Clone)]
pub(super) struct Bars {
    pub metre: MetreMap,
    pub tempo: TempoMap,
    pub fermatas: Vec<Tick>,
    pub chords: Vec<Chord>,
}

fn told(error: TimeError) -> ArrangeError {
    ArrangeError(error.to_string())
}

impl Bars {
    /// Those of a section.
    pub fn of(section: &Section) -> Bars {
        let Section { metre, tempo, fermatas, chords, .. } = section;
        Bars {
            metre: metre.clone(),
            tempo: tempo.clone(),
            fermatas: fermatas.clone(),
            chords: chords.clone(),
        }
    }

    /// `bars` bars from the bar `first` on. Tempi, fermatas and chords past the last bar of the section come along
    /// if the last bar does.
    pub fn slice(&self, first: u32, bars: u32) -> Result<Bars, ArrangeError> {
        let metre = sliced(&self.metre, first, bars)?;
        let from = self.metre.bar_start(i64::from(first));
        let ends = first + bars > self.metre.bars();
        let to = if ends { Tick::MAX } else { self.metre.bar_start(i64::from(first + bars)) };
        let span = Span::new(from, to);
        let tempo = TempoMap::with_points(points(&self.tempo, span)).map_err(told)?;
        let inside = self.fermatas.iter().filter(|&&at| span.contains(at));
        let fermatas = inside.map(|&at| at - from).collect();
        Ok(Bars { metre, tempo, fermatas, chords: chords(&self.chords, span) })
    }

    /// The same with another number of bars. What is past the new last bar is kept there; new bars
    /// have the metre of the last one.
    pub fn resized(&self, bars: u32) -> Result<Bars, ArrangeError> {
        let metre = self.metre.resized(bars).map_err(told)?;
        Ok(Bars { metre, ..self.clone() })
    }

    /// These bars and then `next`.
    pub fn then(&self, next: &Bars) -> Result<Bars, ArrangeError> {
        let (seam, metre) = (self.metre.length(), self.metre.then(&next.metre).map_err(told)?);
        // What is hidden past the last bar comes along as far as a section can reach.
        let reach = metre.bar_start(i64::from(MetreMap::MAX_BARS) + 1) - seam;
        let mut all = points(&self.tempo, Span::new(Tick::ZERO, seam));
        let in_force = self.tempo.at(seam - Tick(1));
        for point in next.tempo.points() {
            let goes_on = point.at == Tick::ZERO && point.tempi == [in_force];
            let end = point.at + pulse::tick_of(point.tempi.len() as i64);
            if !goes_on && end < reach {
                all.push(TempoPoint { at: seam + point.at, ..point.clone() });
            }
        }
        let tempo = TempoMap::with_points(all).map_err(told)?;
        let mut both = chords(&self.chords, Span::new(Tick::ZERO, seam));
        let goes_on = |chord: &Chord, before: Option<Chord>| {
            chord.at == Tick::ZERO && before.is_some_and(|before| before.symbol == chord.symbol)
        };
        for chord in next.chords.iter().filter(|chord| chord.at < reach) {
            if !goes_on(chord, both.last().copied()) {
                both.push(Chord { at: seam + chord.at, ..*chord });
            }
        }
        let before = self.fermatas.iter().copied().filter(|&at| at < seam);
        let after = next.fermatas.iter().filter(|&&at| at < reach).map(|&at| seam + at);
        let fermatas = before.chain(after).collect();
        Ok(Bars { metre, tempo, fermatas, chords: both })
    }
}

/// Bars of a map, with the metres that they have there.
fn sliced(map: &MetreMap, first: u32, bars: u32) -> Result<MetreMap, ArrangeError> {
    let start = MetreChange { bar: 1, metre: map.metre_of(i64::from(first)).clone() };
    let inside = |change: &&MetreChange| first < change.bar && change.bar < first + bars;
    let later = map.changes().iter().filter(inside);
    let later = later.map(|change| MetreChange { bar: change.bar + 1 - first, ..change.clone() });
    MetreMap::with_changes(bars, std::iter::once(start).chain(later).collect()).map_err(told)
}

/// The tempi inside a span, counted from its start. It begins with the tempo in force there.
fn points(map: &TempoMap, span: Span) -> Vec<TempoPoint> {
    let first = TempoPoint { at: Tick::ZERO, tempi: vec![map.at(span.from)] };
    let mut all = vec![first];
    for point in map.points() {
        let step = |k: usize| point.at + pulse::tick_of(k as i64);
        let inside: Vec<usize> =
            (0..point.tempi.len()).filter(|&k| span.contains(step(k))).collect();
        let (Some(&low), Some(&high)) = (inside.first(), inside.last()) else { continue };
        let at = step(low) - span.from;
        if at == Tick::ZERO {
            all.clear();
        }
        all.push(TempoPoint { at, tempi: point.tempi[low..=high].to_vec() });
    }
    all
}

/// The chords inside a span, counted from its start. It begins with the chord that sounds there.
fn chords(all: &[Chord], span: Span) -> Vec<Chord> {
    let before = all.iter().rev().find(|chord| chord.at <= span.from);
    let inside = all.iter().filter(|chord| chord.at > span.from && span.contains(chord.at));
    let first = before.map(|chord| Chord { at: Tick::ZERO, ..*chord });
    first
        .into_iter()
        .chain(inside.map(|chord| Chord { at: chord.at - span.from, ..*chord }))
        .collect()
}
