//! Bars and metres as they are typed: `4/4`, `4/4, 7/8 from 5`, `pickup 1/4, 3/4`.
//!
//! In: the number of bars and a line of text, or a map. Out: the map, or the text that gives it back. A pickup is
//! bar 1, and the last bar is shorter by it, so that both together make one bar as the loop goes round.

use crate::{Metre, MetreChange, MetreMap, Tick, TimeError};

fn wrong(text: &str, why: &str) -> TimeError {
    let text: String = text.trim().chars().take(20).collect();
    TimeError::Change(format!("'{text}' {why}"))
}

impl MetreMap {
    /// The length of the pickup: of the first bar, if it is shorter than the second, and the last one makes it up
    /// to a bar as long as the one before it.
    pub fn pickup(&self) -> Option<Tick> {
        let bars = i64::from(self.bars());
        let [first, second, before, last] =
            [1, 2, bars - 1, bars].map(|bar| self.metre_of(bar).bar());
        let is_one = bars > 2 && first < second && first + last == before;
        is_one.then_some(first)
    }

    /// Whether a bar is a pickup.
    pub fn is_pickup(&self, bar: i64) -> bool {
        (bar - 1).rem_euclid(i64::from(self.bars())) == 0 && self.pickup().is_some()
    }

    /// The metre in which a count-in to a bar is counted: that of the bar, or of the next one if it is a pickup.
    pub fn counted_metre(&self, bar: i64) -> &Metre {
        self.metre_of(if self.is_pickup(bar) { bar + 1 } else { bar })
    }

    /// Where a bar begins, or would begin if it were whole: a pickup is the end of a bar.
    pub fn whole_bar_start(&self, bar: i64) -> Tick {
        match self.is_pickup(bar) {
            true => self.bar_start(bar + 1) - self.metre_of(bar + 1).bar(),
            false => self.bar_start(bar),
        }
    }

    /// How long a count-in of so many bars to a bar is. One to a pickup is shorter by it: the pickup completes
    /// its last bar.
    pub fn count_in_to(&self, bar: i64, bars: u8) -> Tick {
        let counted = self.counted_metre(bar);
        let short = counted.bar() - self.metre_of(bar).bar();
        let pickup = if self.pickup().is_some() { short.max(Tick::ZERO) } else { Tick::ZERO };
        let whole = counted.bar() * i64::from(bars);
        if pickup == Tick::ZERO || bars == 0 { whole } else { whole - (counted.bar() - pickup) }
    }

    /// The text of the metres.
    pub fn written(&self) -> String {
        let pickup = self.pickup();
        let mut parts = Vec::new();
        if pickup.is_some() {
            parts.push(format!("pickup {}", self.first()));
        }
        for (nth, change) in self.changes().iter().enumerate() {
            let is_made = pickup.is_some() && (nth == 0 || change.bar == self.bars());
            match change.bar {
                _ if is_made => {}
                bar if parts.len() == usize::from(pickup.is_some()) && bar <= 2 => {
                    parts.push(change.metre.to_string());
                }
                bar => parts.push(format!("{} from {bar}", change.metre)),
            }
        }
        parts.join(", ")
    }

    /// The same metres over another number of bars. New bars have the metre of the last whole one; with a pickup
    /// the last bar stays shorter by it, as long as there are three.
    ///
    /// # Errors
    /// [`TimeError::Bars`] if the number is not 1 to 999.
    pub fn resized(&self, bars: u32) -> Result<MetreMap, TimeError> {
        let made = |change: &&MetreChange| change.bar < self.bars() || self.pickup().is_none();
        let changes: Vec<MetreChange> = self
            .changes()
            .iter()
            .filter(made)
            .filter(|change| change.bar <= bars)
            .cloned()
            .collect();
        let pickup = changes.first().filter(|_| self.pickup().is_some() && bars > 2).cloned();
        match pickup {
            Some(pickup) => with_pickup(bars, pickup.metre, changes[1..].to_vec()),
            None => MetreMap::with_changes(bars, changes),
        }
    }

    /// These bars and then others. Where a short last bar meets the pickup that completes it, they are one bar.
    ///
    /// # Errors
    /// [`TimeError::Bars`] if that is more than 999 bars.
    pub fn then(&self, next: &MetreMap) -> Result<MetreMap, TimeError> {
        let joins = self.pickup().is_some() && self.pickup() == next.pickup();
        // The bar of this map in place of which the second bar of the next one comes, if they join.
        let (first, lost) = if joins { (2, 1) } else { (1, 0) };
        let is_kept = |change: &&MetreChange| !joins || change.bar < self.bars();
        let mut changes: Vec<MetreChange> =
            self.changes().iter().filter(is_kept).cloned().collect();
        for change in next.changes().iter().filter(|change| change.bar >= first) {
            if changes.last().is_none_or(|last| last.metre != change.metre) {
                let bar = self.bars() + change.bar - lost;
                changes.push(MetreChange { bar, metre: change.metre.clone() });
            }
        }
        MetreMap::with_changes(self.bars() + next.bars() - lost, changes)
    }

    /// The bars with other metres, as they are typed. A metre that was there keeps its grouping and unit of tempo; a
    /// new one has the usual unit. If the number of bars is left as it is, a new pickup adds a bar and one that is
    /// taken away removes one, so that the bars last as long as before.
    ///
    /// # Errors
    /// As [`of_written`](Self::of_written).
    pub fn retyped(&self, bars: u32, text: &str) -> Result<MetreMap, TimeError> {
        let with_pickup = text.trim_start().starts_with("pickup");
        let bars = match (self.pickup().is_some(), with_pickup) {
            (false, true) if bars == self.bars() => bars + 1,
            (true, false) if bars == self.bars() => bars - 1,
            _ => bars,
        };
        MetreMap::of_written(bars, text, |metre| {
            let mut known = self.changes().iter().map(|change| &change.metre);
            let same = known.find(|known| known.to_string() == metre.to_string());
            same.cloned().unwrap_or_else(|| metre.counted())
        })
    }

    /// `bars` bars in the metres of a text. `known` gives a metre of that name its grouping and unit of tempo.
    ///
    /// # Errors
    /// If the text is no list of metres, or they do not fit the bars; the message says what would be right.
    pub fn of_written(
        bars: u32,
        text: &str,
        known: impl Fn(Metre) -> Metre,
    ) -> Result<MetreMap, TimeError> {
        let mut parts = text.split(',').map(str::trim).peekable();
        let pickup = match parts.peek().and_then(|part| part.strip_prefix("pickup")) {
            Some(metre) => {
                let metre = known(metre.parse()?);
                parts.next();
                Some(metre)
            }
            None => None,
        };
        let mut changes = Vec::new();
        for part in parts {
            let (metre, bar) = match part.split_once(" from ") {
                Some((metre, bar)) => {
                    let bar = bar.trim().trim_start_matches("bar ").parse();
                    let bar = bar.map_err(|_| wrong(part, "names no bar: write 7/8 from 5"))?;
                    (metre, bar)
                }
                None if changes.is_empty() => (part, 1),
                None => return Err(wrong(part, "needs a bar to begin at: write 7/8 from 5")),
            };
            changes.push(MetreChange { bar, metre: known(metre.parse()?) });
        }
        match pickup {
            None => MetreMap::with_changes(bars, changes),
            Some(pickup) => with_pickup(bars, pickup, changes),
        }
    }
}

/// Bars of which the first is a pickup.
fn with_pickup(
    bars: u32,
    pickup: Metre,
    mut changes: Vec<MetreChange>,
) -> Result<MetreMap, TimeError> {
    let none = || TimeError::Change("a pickup needs the metre after it: pickup 1/4, 4/4".into());
    changes.first_mut().ok_or_else(none)?.bar = 2;
    let last = changes.last().ok_or_else(none)?.metre.clone();
    if bars < 3 {
        return Err(TimeError::Change(format!(
            "{bars} bars are too few for a pickup, which is bar 1 and shortens the last: 3 or more"
        )));
    }
    let unit = pickup.unit().max(last.unit());
    let left = (last.bar() - pickup.bar()).0 / (4 * crate::TICKS_PER_QUARTER / i64::from(unit));
    let rest = u8::try_from(left).ok().filter(|&left| left > 0);
    let rest = rest.and_then(|left| Metre::new(left, unit).ok()).ok_or_else(|| {
        TimeError::Change(format!("a pickup of {pickup} is not shorter than a bar of {last}"))
    })?;
    let rest = rest.with_tempo_unit(last.tempo_unit());
    let pickup = pickup.with_tempo_unit(changes[0].metre.tempo_unit());
    changes.insert(0, MetreChange { bar: 1, metre: pickup });
    changes.retain(|change| change.bar < bars);
    changes.push(MetreChange { bar: bars, metre: rest });
    MetreMap::with_changes(bars, changes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn map(bars: u32, text: &str) -> Result<MetreMap, String> {
        MetreMap::of_written(bars, text, |metre| metre).map_err(|error| error.to_string())
    }

    #[test]
    fn metres_are_read_and_written() {
        for (bars, text, lengths) in [
            (2, "4/4", vec![3840, 3840]),
            (3, "3/4, 7/8 from 2", vec![2880, 3360, 3360]),
            // A pickup of a quarter and four bars of four: sixteen quarters as before, with other bar lines.
            (5, "pickup 1/4, 4/4", vec![960, 3840, 3840, 3840, 2880]),
            (3, "pickup 1/8, 3/4", vec![480, 2880, 2400]),
            (4, "pickup 1/4, 4/4, 6/8 from 3", vec![960, 3840, 2880, 1920]),
        ] {
            let map = map(bars, text).unwrap();
            let all =
                (1..=i64::from(bars)).map(|bar| (map.bar_start(bar + 1) - map.bar_start(bar)).0);
            assert_eq!(all.collect::<Vec<_>>(), lengths, "{text}");
            assert_eq!(map.written(), text);
            assert_eq!(map.pickup().is_some(), text.starts_with("pickup"));
        }
        assert_eq!(map(3, " pickup 1/4 ,3/4").unwrap().written(), "pickup 1/4, 3/4");
        assert_eq!(map(3, "4/4, 3/4 from bar 2").unwrap().written(), "4/4, 3/4 from 2");
    }

    #[test]
    fn what_cannot_be_read_is_refused_with_what_would_be_right() {
        for (bars, text, part) in [
            (4, "", "1 to 64"),
            (4, "pickup", "1 to 64"),
            (4, "pickup 1/4", "pickup 1/4, 4/4"),
            (4, "4/4, 3/4", "7/8 from 5"),
            (4, "4/4, 3/4 from x", "7/8 from 5"),
            (4, "4/4, 3/4 from 5", "past the last bar"),
            (2, "pickup 1/4, 4/4", "3 or more"),
            (4, "pickup 4/4, 4/4", "not shorter"),
            (4, "pickup 5/4, 4/4", "not shorter"),
            (4, "4/4 from 2", "bar 1"),
        ] {
            let error = map(bars, text).unwrap_err();
            assert!(error.contains(part), "{text}: {error}");
        }
    }

    #[test]
    fn metres_typed_anew_keep_groupings_and_how_long_the_bars_last() {
        let grouped = Metre::common().grouped(vec![3, 1]).unwrap();
        let plain = MetreMap::new(4, grouped.clone()).unwrap();
        let pickup = plain.retyped(4, "pickup 1/4, 4/4").unwrap();
        assert_eq!((pickup.bars(), pickup.length()), (5, plain.length()));
        assert_eq!(pickup.metre_of(2), &grouped);
        assert_eq!(pickup.retyped(5, "4/4"), Ok(plain.clone()));
        assert_eq!(pickup.retyped(5, "pickup 1/4, 4/4"), Ok(pickup));
        assert_eq!(plain.retyped(8, "pickup 1/4, 4/4").unwrap().bars(), 8, "asked for");
        // Eighths in six are counted in dotted quarters (common practice, no source).
        assert_eq!(plain.retyped(4, "6/8").unwrap().first().tempo_unit().to_string(), "1/4 dotted");
    }

    #[test]
    fn bars_with_a_pickup_are_lengthened_cut_and_joined_as_such() {
        let four = map(5, "pickup 1/4, 4/4").unwrap();
        for (bars, text) in
            [(3, "pickup 1/4, 4/4"), (9, "pickup 1/4, 4/4"), (2, "1/4, 4/4 from 2"), (1, "1/4")]
        {
            let resized = four.resized(bars).unwrap();
            assert_eq!((resized.bars(), resized.written().as_str()), (bars, text));
        }
        let eight = four.then(&four).unwrap();
        assert_eq!((eight.bars(), eight.length()), (9, four.length() * 2));
        assert_eq!(eight.written(), "pickup 1/4, 4/4");
        let plain = map(2, "4/4, 3/4 from 2").unwrap();
        assert_eq!(plain.resized(4).unwrap().written(), "4/4, 3/4 from 2");
        assert_eq!(plain.resized(1).unwrap().written(), "4/4");
        assert_eq!(
            plain.then(&plain).unwrap().written(),
            "4/4, 3/4 from 2, 4/4 from 3, 3/4 from 4"
        );
        let both = four.then(&plain).unwrap();
        assert_eq!((both.bars(), both.length()), (7, four.length() + plain.length()));
        assert!(map(900, "4/4").unwrap().then(&map(100, "4/4").unwrap()).is_err());
    }

    /// One bar of count-in to a pickup of one beat in four is three beats (common practice, no source): one, two,
    /// three, and the pickup is four.
    #[test]
    fn a_count_in_to_a_pickup_is_completed_by_it() {
        let pickup = map(5, "pickup 1/4, 4/4").unwrap();
        let long = |map: &MetreMap, bar| [0, 1, 2].map(|bars| map.count_in_to(bar, bars).0);
        assert_eq!(long(&pickup, 1), [0, 2880, 6720]);
        assert_eq!(long(&pickup, 2), [0, 3840, 7680]);
        assert_eq!(long(&pickup, 6), [0, 2880, 6720], "in the next round");
        // The short last bar is counted in as it is.
        assert_eq!(long(&pickup, 5), [0, 2880, 5760]);
        assert_eq!(long(&map(3, "1/4, 4/4 from 2").unwrap(), 1), [0, 960, 1920], "no pickup");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn text_never_panics_and_what_it_gives_reads_back(bars in 0u32..1100, text in "[0-9/, a-z]{0,24}") {
            if let Ok(map) = map(bars, &text) {
                prop_assert_eq!(self::map(map.bars(), &map.written()), Ok(map));
            }
        }

        #[test]
        fn every_map_reads_back_from_its_text(
            bars in 1u32..20,
            metres in prop::collection::vec((1u32..20, 1u8..9, 0u32..4), 1..4),
        ) {
            let mut changes: Vec<MetreChange> = Vec::new();
            for (bar, count, unit) in metres {
                let bar = if changes.is_empty() { 1 } else { changes[changes.len() - 1].bar + bar };
                let metre = Metre::new(count, 1 << unit).unwrap();
                if bar <= bars && changes.last().is_none_or(|last| last.metre != metre) {
                    changes.push(MetreChange { bar, metre });
                }
            }
            let map = MetreMap::with_changes(bars, changes).unwrap();
            let back = self::map(bars, &map.written()).unwrap();
            prop_assert_eq!(back.length(), map.length());
            prop_assert!((1..=i64::from(bars)).all(|bar| back.bar_start(bar) == map.bar_start(bar)));
        }
    }
}
