//! Converts ticks to nanoseconds and back, exactly.
//!
//! In: tempo changes by tick. Out: the nanosecond of a tick, and the tick of a nanosecond. Time is
//! kept in units of a 960th of a microsecond: at any tempo a tick is a whole number of units, so
//! nothing is rounded before the last step to nanoseconds.

use crate::{Tempo, Tick};

/// Nanoseconds: a moment on the monotonic clock of the program that runs the engine, or a duration.
pub type Ns = i64;

/// A tempo, the tick at which it starts, and the exact time from the origin to that tick in units.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Segment {
    at: Tick,
    units: i128,
    tempo: Tempo,
}

impl Segment {
    fn units_at(&self, at: Tick) -> i128 {
        self.units + i128::from(at.0 - self.at.0) * i128::from(self.tempo.micros())
    }
}

/// The tempi of a run of the transport, and the time at which it starts.
///
/// It always has a tempo; positions before the first change use the first tempo. `push` allocates only
/// beyond the capacity given to [`Timeline::with_capacity`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Timeline {
    origin: Ns,
    segments: Vec<Segment>,
    /// The tick that is not reached until [`Timeline::go`]; `None` if time just goes on.
    held: Option<Tick>,
}

impl Timeline {
    /// A timeline with one tempo, on which tick `at` is at `ns`.
    pub fn new(at: Tick, ns: Ns, tempo: Tempo) -> Timeline {
        Timeline::with_capacity(at, ns, tempo, 16)
    }

    /// Like [`Timeline::new`], with room for `capacity` tempi before it allocates.
    pub fn with_capacity(at: Tick, ns: Ns, tempo: Tempo, capacity: usize) -> Timeline {
        let mut segments = Vec::with_capacity(capacity.max(1));
        segments.push(Segment { at, units: 0, tempo });
        Timeline { origin: ns, segments, held: None }
    }

    /// Starts over with one tempo and tick `at` at `ns`. Keeps its capacity.
    pub fn restart(&mut self, at: Tick, ns: Ns, tempo: Tempo) {
        (self.origin, self.held) = (ns, None);
        self.segments.clear();
        self.segments.push(Segment { at, units: 0, tempo });
    }

    /// Holds the time just before a tick, in place of an earlier hold; `None` lets it go on. A hold changes no
    /// time of [`Timeline::ns_at`], which says when a tick would come without it.
    pub fn hold(&mut self, at: Option<Tick>) {
        self.held = at;
    }

    /// Whether a tick is held: it does not come until [`Timeline::go`].
    pub fn is_held(&self, at: Tick) -> bool {
        self.held.is_some_and(|held| held <= at)
    }

    /// Ends a hold: tick `at` falls at `ns` (rounded up to a unit, a nanosecond at most), but not sooner than it
    /// would have without the hold, and goes on at this tempo. Removes the tempi from there on.
    pub fn go(&mut self, at: Tick, ns: Ns, tempo: Tempo) {
        self.held = None;
        // The smallest number of units that is not before `ns`; a unit is 25/24 ns.
        let units = (i128::from(ns - self.origin) * 24 + 24).div_euclid(25);
        self.begin(at, tempo, Some(units));
    }

    /// Sets the tempo from `at` on, and removes the changes at and after `at`.
    pub fn push(&mut self, at: Tick, tempo: Tempo) {
        self.begin(at, tempo, None);
    }

    /// Begins a tempo at a tick, not before a time in units if there is one.
    fn begin(&mut self, at: Tick, tempo: Tempo, least: Option<i128>) {
        let mut least = least;
        while self.segments.len() > 1 && self.segments.last().is_some_and(|last| last.at >= at) {
            // A hold that ended at this tick stays as long as it was.
            let gone = self.segments.pop().filter(|gone| gone.at == at);
            least = least.max(gone.map(|gone| gone.units));
        }
        let last = self.segments[self.segments.len() - 1];
        let natural = last.units_at(at);
        let units = least.map_or(natural, |least| least.max(natural));
        if last.at >= at {
            self.segments[0] = Segment { at, units, tempo };
        } else if last.tempo != tempo || units != natural {
            self.segments.push(Segment { at, units, tempo });
        }
    }

    /// Removes the tempi that ended by `at`. From `at` on, every time stays exact.
    pub fn prune(&mut self, at: Tick) {
        let index = self.index(at);
        self.segments.drain(..index);
    }

    /// The number of tempi.
    pub fn len(&self) -> usize {
        self.segments.len()
    }

    /// Always `false`: a timeline always has a tempo.
    pub fn is_empty(&self) -> bool {
        false
    }

    fn index(&self, at: Tick) -> usize {
        self.segments.partition_point(|segment| segment.at <= at).max(1) - 1
    }

    /// The tempo at a tick.
    pub fn tempo_at(&self, at: Tick) -> Tempo {
        self.segments[self.index(at)].tempo
    }

    /// The time of a tick: the exact time, rounded down to a nanosecond. For a held tick, the time at which it
    /// would come.
    pub fn ns_at(&self, at: Tick) -> Ns {
        let units = self.segments[self.index(at)].units_at(at);
        // A unit is 1/960 microsecond: 1000/960 = 25/24 nanoseconds.
        self.origin + (units * 25).div_euclid(24) as i64
    }

    /// The last tick at or before `ns`: the largest whose [`ns_at`](Self::ns_at) is not after it. So
    /// `tick_at(ns_at(t)) == t` for every tick that is not held.
    pub fn tick_at(&self, ns: Ns) -> Tick {
        // floor(units * 25 / 24) <= since  <=>  units * 25 < (since + 1) * 24
        let since = i128::from(ns - self.origin);
        let limit = (since + 1) * 24;
        let index = self.segments.partition_point(|segment| segment.units * 25 < limit).max(1) - 1;
        let segment = &self.segments[index];
        let each = i128::from(segment.tempo.micros()) * 25;
        let ticks = (limit - 1 - segment.units * 25).div_euclid(each);
        let at = Tick(segment.at.0 + ticks as i64);
        // Where a hold ended, the time before it lasted longer than its ticks.
        let next = self.segments.get(index + 1).map_or(Tick::MAX, |next| next.at);
        let held = self.held.unwrap_or(Tick::MAX);
        at.min(next.min(held) - Tick(1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pulse;
    use proptest::prelude::*;

    const MS: i64 = 1_000_000;

    fn bpm(text: &str) -> Tempo {
        Tempo::parse_bpm(text).unwrap()
    }

    #[test]
    fn a_timeline_that_is_restarted_is_like_a_new_one() {
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        line.push(Tick(960), bpm("90"));
        line.restart(Tick(480), 7 * MS, bpm("60"));
        assert_eq!(line, Timeline::new(Tick(480), 7 * MS, bpm("60")));
    }

    /// At 120 a beat lasts half a second.
    #[test]
    fn a_held_tick_comes_when_it_is_let_go_and_time_goes_on_from_there() {
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        line.hold(Some(Tick(960)));
        assert_eq!(line.tick_at(499 * MS), Tick(958));
        assert_eq!(line.tick_at(500 * MS), Tick(959));
        assert_eq!(line.tick_at(9000 * MS), Tick(959));
        assert!(line.is_held(Tick(960)) && !line.is_held(Tick(959)));
        line.go(Tick(960), 720 * MS, bpm("60"));
        assert!(!line.is_held(Tick(960)));
        assert_eq!(line.ns_at(Tick(960)), 720 * MS);
        assert_eq!(line.ns_at(Tick(959)), 499_479_166);
        assert_eq!([719, 720, 1720].map(|ms| line.tick_at(ms * MS).0), [959, 960, 1920]);
        // A tempo at the tick at which the hold ended does not undo the hold.
        line.push(Tick(960), bpm("120"));
        assert_eq!([719, 720, 1220].map(|ms| line.tick_at(ms * MS).0), [959, 960, 1920]);
    }

    #[test]
    fn a_tick_does_not_come_sooner_because_it_was_held() {
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        line.hold(Some(Tick(960)));
        line.go(Tick(960), 300 * MS, bpm("120"));
        assert_eq!(line.ns_at(Tick(960)), 500 * MS);
        line.hold(Some(Tick(1920)));
        line.hold(None);
        assert_eq!(line.tick_at(1000 * MS), Tick(1920));
    }

    #[test]
    fn the_worked_example_of_the_file_standard_comes_out() {
        // Standard MIDI Files 1.0, p. 14: 6,144 ticks at 96 to the quarter and 500,000
        // microseconds are 32 seconds; at 960 to the quarter that is tick 61,440.
        let line = Timeline::new(Tick(0), 0, Tempo::DEFAULT);
        assert_eq!(line.ns_at(Tick(61_440)), 32_000 * MS);
    }

    #[test]
    fn each_tempo_counts_from_its_own_bar() {
        // Computed by hand from ms = 60000 / BPM: 120 at bar 1, 60 at bar 2, 150 at bar 3.
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        line.push(Tick(3840), bpm("60"));
        line.push(Tick(7680), bpm("150"));
        for (tick, ms) in
            [(960, 500), (3840, 2000), (4800, 3000), (7680, 6000), (8640, 6400), (11520, 7600)]
        {
            assert_eq!(line.ns_at(Tick(tick)), ms * MS, "tick {tick}");
        }
    }

    #[test]
    fn a_tick_has_not_come_a_nanosecond_before_it() {
        // At 120, tick 960 is at exactly 500 ms.
        let line = Timeline::new(Tick(0), 0, bpm("120"));
        assert_eq!([499_999_999, 500_000_000].map(|ns| line.tick_at(ns).0), [959, 960]);
    }

    #[test]
    fn a_tempo_set_earlier_takes_the_place_of_those_after_it() {
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        for (at, tempo) in [(1920, "60"), (3840, "90"), (960, "240")] {
            line.push(Tick(at), bpm(tempo));
        }
        assert_eq!((line.len(), line.tempo_at(Tick(5000))), (2, bpm("240")));
        // A quarter at 120 lasts 500 ms, one at 240 lasts 250 ms.
        assert_eq!([960, 1920].map(|at| line.ns_at(Tick(at)) / MS), [500, 750]);
        line.push(Tick(0), bpm("60"));
        assert_eq!((line.len(), line.ns_at(Tick(1920)) / MS), (1, 2000));
    }

    #[test]
    fn the_tempi_that_ended_are_removed_so_that_a_day_of_changes_takes_no_more_room() {
        let mut line = Timeline::new(Tick(0), 0, bpm("120"));
        line.push(Tick(3840), bpm("60"));
        line.push(Tick(7680), bpm("150"));
        assert_eq!(line.len(), 3);
        line.prune(Tick(7679));
        assert_eq!(line.len(), 2);
        line.prune(Tick(7680));
        assert_eq!((line.len(), line.is_empty()), (1, false));
        assert_eq!(line.ns_at(Tick(8640)), 6400 * MS);
    }

    #[test]
    fn pulses_are_20_8333_ms_apart_at_120() {
        // MIDI 1.0: 24 clocks a quarter; 2500 / BPM milliseconds each.
        let line = Timeline::new(Tick(0), 0, Tempo::DEFAULT);
        assert_eq!(line.ns_at(pulse::tick_of(1)), 20_833_333);
        assert_eq!(line.ns_at(pulse::tick_of(3)), 62_500_000);
    }

    #[test]
    fn a_day_at_93_7_does_not_drift() {
        let tempo = bpm("93.7");
        let line = Timeline::new(Tick(0), 0, tempo);
        let day_ns = 24 * 3600 * 1_000_000_000i64;
        let pulses = line.tick_at(day_ns).0 / pulse::TICKS_PER_PULSE;
        for k in (0..=pulses).step_by(997).chain([pulses]) {
            // The exact rational: k * micros / 24 microseconds.
            let exact = i128::from(k) * i128::from(tempo.micros()) * 1000;
            let computed = i128::from(line.ns_at(pulse::tick_of(k)));
            assert!((0..24).contains(&(exact - computed * 24)), "pulse {k}");
        }
    }

    #[test]
    fn a_day_of_tempo_changes_does_not_drift() {
        let mut line = Timeline::new(Tick(0), 0, bpm("93.7"));
        let mut exact: i128 = 0;
        let mut last = (Tick(0), bpm("93.7"));
        let mut seed = 12345u64;
        for _ in 0..280_000 {
            seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
            let step = (seed >> 33) as i64 % 900 + 1;
            let tempo = Tempo::from_micros(300_000 + (seed >> 40) as u32 % 900_000).unwrap();
            let at = last.0 + Tick(step);
            exact += i128::from(step) * i128::from(last.1.micros());
            line.push(at, tempo);
            line.prune(at);
            last = (at, tempo);
        }
        assert_eq!(i128::from(line.ns_at(last.0)), exact * 25 / 24);
    }

    proptest! {
        #[test]
        fn a_tick_converts_to_nanoseconds_and_back(
            origin in -1_000_000_000i64..1_000_000_000_000,
            first in 60_000u32..6_000_000,
            changes in prop::collection::vec(
                (1i64..20_000, 60_000u32..6_000_000, prop_oneof![Just(0i64), 0i64..3_000_000_000]),
                0..12,
            ),
            at in -10_000i64..300_000,
        ) {
            let mut line = Timeline::new(Tick(0), origin, Tempo::from_micros(first).unwrap());
            let mut tick = Tick(0);
            for (step, micros, wait) in changes {
                tick += Tick(step);
                let tempo = Tempo::from_micros(micros).unwrap();
                if wait == 0 {
                    line.push(tick, tempo);
                    continue;
                }
                line.hold(Some(tick));
                let until = line.ns_at(tick) + wait;
                prop_assert_eq!(line.tick_at(until), tick - Tick(1));
                line.go(tick, until, tempo);
                prop_assert!((until..until + 2).contains(&line.ns_at(tick)));
            }
            let ns = line.ns_at(Tick(at));
            prop_assert_eq!(line.tick_at(ns), Tick(at));
            prop_assert_eq!(line.tick_at(ns - 1), Tick(at - 1));
            prop_assert!(line.ns_at(Tick(at + 1)) > ns);
            let mut pruned = line.clone();
            pruned.prune(Tick(at));
            prop_assert_eq!(pruned.ns_at(Tick(at)), ns);
        }
    }
}
