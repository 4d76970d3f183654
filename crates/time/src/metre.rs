//! Metre, and positions as bar.beat.tick.
//!
//! In: metres and the bars at which they change, ticks, places. Out: where each bar starts, and ticks
//! as places and back.

use crate::{NoteKind, NoteValue, TICKS_PER_QUARTER, Tick, TimeError};
use std::fmt;

/// A metre `count/unit`, with the grouping of its beats and the note value in which its tempo is given.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Metre {
    count: u8,
    unit: u8,
    groups: Vec<u8>,
    tempo_unit: NoteValue,
}

impl Metre {
    /// A metre of `count` beats (1..=64) of `1/unit` notes (1, 2, 4, 8, 16 or 32), without groups and
    /// with its tempo in quarter notes.
    pub fn new(count: u8, unit: u8) -> Result<Metre, TimeError> {
        let fits = (1..=64).contains(&count) && unit.is_power_of_two() && unit <= 32;
        if !fits {
            return Err(TimeError::Metre(format!("{count}/{unit}")));
        }
        Ok(Metre { count, unit, groups: Vec::new(), tempo_unit: NoteValue::QUARTER })
    }

    /// Common time, 4/4.
    pub fn common() -> Metre {
        Metre { count: 4, unit: 4, groups: Vec::new(), tempo_unit: NoteValue::QUARTER }
    }

    /// The same metre with grouped beats, e.g. 2+2+3 in 7/8. An empty list means no groups.
    pub fn grouped(mut self, groups: Vec<u8>) -> Result<Metre, TimeError> {
        let sum: u32 = groups.iter().map(|&group| u32::from(group)).sum();
        let fits = groups.is_empty() || (sum == u32::from(self.count) && !groups.contains(&0));
        if !fits {
            return Err(TimeError::Groups { sum, count: self.count });
        }
        self.groups = groups;
        Ok(self)
    }

    /// The same metre with its tempo in another note value, e.g. a dotted quarter in 6/8.
    pub fn with_tempo_unit(mut self, unit: NoteValue) -> Metre {
        self.tempo_unit = unit;
        self
    }

    /// Beats in a bar, 1..=64.
    pub fn count(&self) -> u8 {
        self.count
    }

    /// The lower figure, which is the note value of a beat: 1, 2, 4, 8, 16 or 32.
    pub fn unit(&self) -> u8 {
        self.unit
    }

    /// The groups of beats; empty if there are none.
    pub fn groups(&self) -> &[u8] {
        &self.groups
    }

    /// The note value in which the tempo is given.
    pub fn tempo_unit(&self) -> NoteValue {
        self.tempo_unit
    }

    /// This metre with its tempo in the note value that musicians count it in: a dotted one if its
    /// beats come in threes, such as the dotted quarter in 6/8, 9/8 and 12/8; else the quarter (common
    /// practice; no source).
    pub fn counted(self) -> Metre {
        let in_threes = self.count > 3 && self.count.is_multiple_of(3) && self.unit >= 8;
        // Two thirds of the counted value: the note value that a dot makes as long as three beats.
        let dotted = NoteValue::new(self.unit / 2, NoteKind::Dotted).ok().filter(|_| in_threes);
        self.with_tempo_unit(dotted.unwrap_or(NoteValue::QUARTER))
    }

    /// The time from click to click: three beats where the tempo is given in a dotted value that is
    /// three beats long, as in 6/8; else a beat.
    pub fn click(&self) -> Tick {
        let three = self.beat() * 3;
        // Only a dotted value is as long as three beats.
        let in_threes = self.tempo_unit.ticks() == three && self.count.is_multiple_of(3);
        if in_threes { three } else { self.beat() }
    }

    /// The length of a beat.
    pub fn beat(&self) -> Tick {
        Tick(4 * TICKS_PER_QUARTER / i64::from(self.unit))
    }

    /// The length of a bar.
    pub fn bar(&self) -> Tick {
        self.beat() * i64::from(self.count)
    }

    /// Whether a group starts on this beat, counted from 0. One always starts on beat 0.
    pub fn starts_group(&self, beat: u8) -> bool {
        let mut start = 0;
        for &group in &self.groups {
            if start == beat {
                return true;
            }
            start += group;
        }
        beat == 0
    }
}

impl fmt::Display for Metre {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.count, self.unit)
    }
}

impl std::str::FromStr for Metre {
    type Err = TimeError;
    /// Reads `n/d`.
    fn from_str(text: &str) -> Result<Metre, TimeError> {
        let wrong = || TimeError::Metre(text.to_string());
        let (count, unit) = text.trim().split_once('/').ok_or_else(wrong)?;
        let count = count.parse().map_err(|_| wrong())?;
        let unit = unit.parse().map_err(|_| wrong())?;
        Metre::new(count, unit).map_err(|_| wrong())
    }
}

/// A metre and the bar from which it applies.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct MetreChange {
    /// The first bar it applies to, counted from 1.
    pub bar: u32,
    /// The metre from there on.
    pub metre: Metre,
}

/// A position as musicians count: bar and beat from 1, then ticks into the beat from 0.
///
/// Bar 0 is the bar before the first, so a note played early is at the end of bar 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The bar, 1 for the first; 0 and below are before the start.
    pub bar: i64,
    /// The beat within the bar, from 1.
    pub beat: u8,
    /// Ticks into the beat, from 0.
    pub tick: u32,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}.{}.{}", self.bar, self.beat, self.tick)
    }
}

impl std::str::FromStr for Place {
    type Err = TimeError;
    /// Reads `bar.beat.tick`. [`MetreMap::tick`] checks whether the bar has that beat and tick.
    fn from_str(text: &str) -> Result<Place, TimeError> {
        let wrong = || TimeError::Place(text.to_string());
        let mut parts = text.split('.');
        let mut part = || parts.next().ok_or_else(wrong);
        let bar = part()?.parse().map_err(|_| wrong())?;
        let beat = part()?.parse().map_err(|_| wrong())?;
        let tick = part()?.parse().map_err(|_| wrong())?;
        if parts.next().is_some() {
            return Err(wrong());
        }
        Ok(Place { bar, beat, tick })
    }
}

/// The bars of a section and their metres. Beyond either end the bars repeat, as the loop does.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct MetreMap {
    bars: u32,
    changes: Vec<MetreChange>,
    /// The tick at which each change starts; the last entry is the whole length.
    starts: Vec<i64>,
}

impl MetreMap {
    /// The most bars in a section.
    pub const MAX_BARS: u32 = 999;

    /// `bars` bars (1..=999) in one metre.
    pub fn new(bars: u32, metre: Metre) -> Result<MetreMap, TimeError> {
        MetreMap::with_changes(bars, vec![MetreChange { bar: 1, metre }])
    }

    /// `bars` bars with changes of metre. The first change is at bar 1; the others follow in order,
    /// within the bars.
    pub fn with_changes(bars: u32, changes: Vec<MetreChange>) -> Result<MetreMap, TimeError> {
        if !(1..=Self::MAX_BARS).contains(&bars) {
            return Err(TimeError::Bars(bars));
        }
        if changes.first().map(|change| change.bar) != Some(1) {
            return Err(TimeError::Change("the first metre must be at bar 1".into()));
        }
        for pair in changes.windows(2) {
            if pair[1].bar <= pair[0].bar {
                return Err(TimeError::Change(format!(
                    "the metre at bar {} must come after the one at bar {}",
                    pair[1].bar, pair[0].bar
                )));
            }
        }
        if let Some(last) = changes.last().filter(|last| last.bar > bars) {
            return Err(TimeError::Change(format!(
                "a metre at bar {} is past the last bar, {bars}",
                last.bar
            )));
        }
        let mut starts = vec![0];
        for (index, change) in changes.iter().enumerate() {
            let end = changes.get(index + 1).map_or(bars + 1, |next| next.bar);
            starts.push(starts[index] + change.metre.bar().0 * i64::from(end - change.bar));
        }
        Ok(MetreMap { bars, changes, starts })
    }

    /// The number of bars.
    pub fn bars(&self) -> u32 {
        self.bars
    }

    /// The metres and the bars at which they start, in order.
    pub fn changes(&self) -> &[MetreChange] {
        &self.changes
    }

    /// The total length of the bars.
    pub fn length(&self) -> Tick {
        Tick(self.starts[self.changes.len()])
    }

    /// The metre of the first bar.
    pub fn first(&self) -> &Metre {
        &self.changes[0].metre
    }

    /// The index of the change that applies at `at`, which must be within the section.
    fn change_at(&self, at: i64) -> usize {
        self.starts[..self.changes.len()].partition_point(|&start| start <= at) - 1
    }

    /// The metre at a tick.
    pub fn metre_at(&self, at: Tick) -> &Metre {
        let (_, inside) = at.cycle(self.length());
        &self.changes[self.change_at(inside.0)].metre
    }

    /// The metre of a bar, counted from 1.
    pub fn metre_of(&self, bar: i64) -> &Metre {
        let inside = (bar - 1).rem_euclid(i64::from(self.bars)) as u32 + 1;
        let index = self.changes.partition_point(|change| change.bar <= inside) - 1;
        &self.changes[index].metre
    }

    /// The tick at which a bar, counted from 1, starts.
    pub fn bar_start(&self, bar: i64) -> Tick {
        let bars = i64::from(self.bars);
        let (cycle, inside) = ((bar - 1).div_euclid(bars), (bar - 1).rem_euclid(bars) as u32 + 1);
        let index = self.changes.partition_point(|change| change.bar <= inside) - 1;
        let change = &self.changes[index];
        let into = change.metre.bar().0 * i64::from(inside - change.bar);
        Tick(cycle * self.length().0 + self.starts[index] + into)
    }

    /// The bar that contains a tick, counted from 1.
    pub fn bar_at(&self, at: Tick) -> i64 {
        let (cycle, inside) = at.cycle(self.length());
        let index = self.change_at(inside.0);
        let change = &self.changes[index];
        let into = (inside.0 - self.starts[index]) / change.metre.bar().0;
        cycle * i64::from(self.bars) + i64::from(change.bar) + into
    }

    /// The place of a tick.
    pub fn place(&self, at: Tick) -> Place {
        let bar = self.bar_at(at);
        let into = (at - self.bar_start(bar)).0;
        let beat = self.metre_of(bar).beat().0;
        Place { bar, beat: (into / beat) as u8 + 1, tick: (into % beat) as u32 }
    }

    /// The tick of a place.
    ///
    /// # Errors
    /// [`TimeError::Place`] if its bar has no such beat, its beat no such tick, or the bar is more than
    /// a million bars away.
    pub fn tick(&self, place: Place) -> Result<Tick, TimeError> {
        let within = place.bar.abs() <= 1_000_000;
        let metre = self.metre_of(if within { place.bar } else { 1 });
        let beats = (1..=metre.count()).contains(&place.beat);
        if !within || !beats || i64::from(place.tick) >= metre.beat().0 {
            return Err(TimeError::Place(place.to_string()));
        }
        let into = metre.beat().0 * i64::from(place.beat - 1) + i64::from(place.tick);
        Ok(self.bar_start(place.bar) + Tick(into))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A compound metre is counted in dotted notes (common practice; no source).
    #[test]
    fn compound_metres_are_counted_and_clicked_in_dotted_notes() {
        for (text, unit, clicks) in [
            ("4/4", "1/4", 4),
            ("3/4", "1/4", 3),
            ("6/4", "1/4", 6),
            ("3/8", "1/4", 3),
            ("7/8", "1/4", 7),
            ("6/8", "1/4 dotted", 2),
            ("9/8", "1/4 dotted", 3),
            ("12/8", "1/4 dotted", 4),
            ("6/16", "1/8 dotted", 2),
        ] {
            let plain: Metre = text.parse().unwrap();
            assert_eq!(plain.click(), plain.beat(), "{text} as a file without a unit has it");
            let metre = plain.counted();
            assert_eq!(metre.tempo_unit().to_string(), unit, "{text}");
            assert_eq!(metre.bar().0 / metre.click().0, clicks, "{text}");
        }
    }

    #[test]
    fn bar_0_is_as_long_as_the_last_bar_of_the_loop() {
        let metres = [(1, "4/4"), (2, "7/8")];
        let change = |(bar, text): (u32, &str)| MetreChange { bar, metre: text.parse().unwrap() };
        let map = MetreMap::with_changes(2, metres.map(change).into()).unwrap();
        assert_eq!((map.bar_start(0), map.bar_start(-1)), (Tick(-3360), Tick(-7200)));
        // 20 ticks before the top, in the last of seven beats of 480.
        assert_eq!(map.place(Tick(-20)).to_string(), "0.7.460");
        assert_eq!(map.tick("0.7.460".parse().unwrap()), Ok(Tick(-20)));
        assert!(map.tick("0.8.0".parse().unwrap()).is_err());
    }

    #[test]
    fn a_bar_is_as_long_as_its_beats() {
        // By arithmetic: a quarter note is 960 ticks.
        for (text, ticks) in [
            ("4/4", 3840),
            ("3/4", 2880),
            ("6/8", 2880),
            ("7/8", 3360),
            ("5/8", 2400),
            ("9/8", 4320),
            ("5/4", 4800),
            ("12/8", 5760),
        ] {
            assert_eq!(text.parse::<Metre>().unwrap().bar(), Tick(ticks), "{text}");
        }
    }

    #[test]
    fn a_wrong_metre_is_refused_and_the_error_gives_the_range() {
        for text in ["4", "0/4", "65/4", "4/3", "4/64", "x/4", "4/", ""] {
            let error = text.parse::<Metre>().unwrap_err().to_string();
            assert!(error.contains("1 to 64"), "{error}");
        }
        assert!(Metre::new(7, 8).unwrap().grouped(vec![2, 2]).is_err());
        assert!(Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).is_ok());
    }

    #[test]
    fn a_group_starts_where_the_one_before_ends() {
        let metre = Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).unwrap();
        let starts: Vec<u8> = (0..7).filter(|&beat| metre.starts_group(beat)).collect();
        assert_eq!(starts, [0, 2, 4]);
    }

    #[test]
    fn a_metre_and_a_map_give_what_they_were_made_of() {
        let dotted = NoteValue::new(4, crate::NoteKind::Dotted).unwrap();
        let metre = Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).unwrap();
        let metre = metre.with_tempo_unit(dotted);
        assert_eq!((metre.count(), metre.unit(), metre.tempo_unit()), (7, 8, dotted));
        assert_eq!((metre.groups(), metre.to_string()), (&[2, 2, 3][..], "7/8".into()));
        let changes =
            vec![MetreChange { bar: 1, metre }, MetreChange { bar: 3, metre: Metre::common() }];
        let map = MetreMap::with_changes(3, changes.clone()).unwrap();
        assert_eq!((map.bars(), map.changes()), (3, &changes[..]));
        assert_eq!(map.length(), Tick(3360 + 3360 + 3840));
    }

    #[test]
    fn an_early_tick_is_in_bar_0() {
        let map = MetreMap::new(4, Metre::common()).unwrap();
        assert_eq!(map.place(Tick(-20)).to_string(), "0.4.940");
        assert_eq!(map.place(Tick(3840 * 4)).to_string(), "5.1.0");
        assert_eq!(map.tick("0.4.940".parse().unwrap()).unwrap(), Tick(-20));
        assert!(map.tick("1.5.0".parse().unwrap()).is_err());
        assert!(map.tick("1.1.960".parse().unwrap()).is_err());
    }

    #[test]
    fn metre_changes_out_of_order_or_past_the_end_are_refused() {
        let at = |bar| MetreChange { bar, metre: Metre::common() };
        assert!(MetreMap::with_changes(4, vec![]).is_err());
        assert!(MetreMap::with_changes(4, vec![at(2)]).is_err());
        assert!(MetreMap::with_changes(4, vec![at(1), at(1)]).is_err());
        assert!(MetreMap::with_changes(4, vec![at(1), at(5)]).is_err());
        assert!(MetreMap::new(1000, Metre::common()).is_err());
        assert!(MetreMap::new(0, Metre::common()).is_err());
    }

    proptest! {
        #[test]
        fn a_tick_converts_to_a_place_and_back(
            bars in 1u32..40,
            metres in prop::collection::vec((1u8..=64, 0u32..6), 1..4),
            at in -200_000i64..2_000_000,
        ) {
            let changes: Vec<_> = metres.iter().enumerate()
                .filter(|(index, _)| *index as u32 * 3 < bars)
                .map(|(index, &(count, unit))| MetreChange {
                    bar: index as u32 * 3 + 1,
                    metre: Metre::new(count, 1 << unit).unwrap(),
                }).collect();
            let map = MetreMap::with_changes(bars, changes).unwrap();
            let place = map.place(Tick(at));
            prop_assert_eq!(map.tick(place).unwrap(), Tick(at));
            prop_assert!(map.bar_start(place.bar) <= Tick(at));
            prop_assert!(Tick(at) < map.bar_start(place.bar + 1));
        }
    }
}
