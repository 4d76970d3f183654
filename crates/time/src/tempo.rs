//! Tempo in whole microseconds per quarter note, as in a Standard MIDI File.
//!
//! In: microseconds, or quarter notes per minute as text. Out: a [`Tempo`] in range, and the [`TempoMap`] of a
//! section.

use crate::{TICKS_PER_QUARTER, Tick, TimeError, pulse};
use std::fmt;

/// A tempo: whole microseconds per quarter note, 60,000 to 6,000,000 (1000 to 10 quarter notes per
/// minute). The whole number is exact; quarter notes per minute are only for display.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tempo(u32);

impl Tempo {
    /// The fastest: 1000 quarter notes per minute.
    pub const FASTEST: Tempo = Tempo(60_000);
    /// The slowest: 10 quarter notes per minute.
    pub const SLOWEST: Tempo = Tempo(6_000_000);
    /// 120 quarter notes per minute, the tempo of a Standard MIDI File that sets none.
    pub const DEFAULT: Tempo = Tempo(500_000);

    /// The tempo of this many microseconds per quarter note.
    pub fn from_micros(micros: u32) -> Result<Tempo, TimeError> {
        if !(Self::FASTEST.0..=Self::SLOWEST.0).contains(&micros) {
            let bpm = 60_000_000_u32.checked_div(micros).unwrap_or(0);
            return Err(TimeError::Tempo(bpm.to_string()));
        }
        Ok(Tempo(micros))
    }

    /// The tempo of this many thousandths of a quarter note per minute, to the nearest microsecond.
    pub fn from_milli_bpm(milli: u32) -> Result<Tempo, TimeError> {
        let wrong = || TimeError::Tempo(decimal(milli));
        if milli == 0 {
            return Err(wrong());
        }
        let micros = (60_000_000_000u64 + u64::from(milli) / 2) / u64::from(milli);
        u32::try_from(micros)
            .ok()
            .and_then(|micros| Tempo::from_micros(micros).ok())
            .ok_or_else(wrong)
    }

    /// Reads quarter notes per minute with up to three decimals, such as `93.7`.
    pub fn parse_bpm(text: &str) -> Result<Tempo, TimeError> {
        Tempo::from_milli_bpm(parse_milli(text)?)
    }

    /// Microseconds per quarter note.
    pub fn micros(self) -> u32 {
        self.0
    }

    /// Thousandths of a quarter note per minute, rounded; for display.
    pub fn milli_bpm(self) -> u32 {
        ((60_000_000_000 + u64::from(self.0) / 2) / u64::from(self.0)) as u32
    }

    /// This tempo made `bpm` quarter notes per minute faster, or slower if negative; kept in range.
    pub fn nudged(self, bpm: i32) -> Tempo {
        let milli = (i64::from(self.milli_bpm()) + i64::from(bpm) * 1000).clamp(10_000, 1_000_000);
        Tempo::from_milli_bpm(milli as u32).unwrap_or(self)
    }

    /// The number of whole ticks in `ns` nanoseconds at this tempo.
    pub fn ticks_in(self, ns: u64) -> Tick {
        let ticks = i128::from(ns) * i128::from(TICKS_PER_QUARTER) / (i128::from(self.0) * 1000);
        Tick(ticks as i64)
    }
}

/// Thousandths as a decimal without trailing zeros.
fn decimal(milli: u32) -> String {
    let text = format!("{}.{:03}", milli / 1000, milli % 1000);
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}

/// Reads a decimal with up to three decimals as thousandths.
pub(crate) fn parse_milli(text: &str) -> Result<u32, TimeError> {
    let wrong = || TimeError::NotATempo(text.to_string());
    let (whole, part) = text.trim().split_once('.').unwrap_or((text.trim(), ""));
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || part.len() > 3 || !plain(whole) || !plain(part) {
        return Err(wrong());
    }
    format!("{whole}{part:0<3}").parse().map_err(|_| wrong())
}

impl fmt::Display for Tempo {
    /// Quarter notes per minute with up to three decimals.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&decimal(self.milli_bpm()))
    }
}

/// The tempo from a tick on: one tempo, or a ramp with one tempo per pulse (40 ticks).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct TempoPoint {
    /// Where it starts, in ticks from the start of the section.
    pub at: Tick,
    /// The tempi, one per pulse; the last one stays in force. Never empty.
    pub tempi: Vec<Tempo>,
}

/// The tempi of a section.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct TempoMap {
    points: Vec<TempoPoint>,
}

impl TempoMap {
    /// One tempo throughout.
    pub fn new(tempo: Tempo) -> TempoMap {
        TempoMap { points: vec![TempoPoint { at: Tick::ZERO, tempi: vec![tempo] }] }
    }

    /// Tempi at points in ascending order, the first at tick 0. A ramp must end before the next point.
    pub fn with_points(points: Vec<TempoPoint>) -> Result<TempoMap, TimeError> {
        if points.first().map(|point| point.at) != Some(Tick::ZERO) {
            return Err(TimeError::Change("the first tempo must be at 1.1.0".into()));
        }
        if points.iter().any(|point| point.tempi.is_empty()) {
            return Err(TimeError::Change("a tempo point must have at least one tempo".into()));
        }
        for pair in points.windows(2) {
            let last = pulse::tick_of(pair[0].tempi.len() as i64 - 1);
            if pair[1].at <= pair[0].at + last {
                return Err(TimeError::Change(format!(
                    "the tempo at tick {} must come after the one before it has ended, tick {}",
                    pair[1].at.0,
                    (pair[0].at + last).0
                )));
            }
        }
        Ok(TempoMap { points })
    }

    /// The points in order.
    pub fn points(&self) -> &[TempoPoint] {
        &self.points
    }

    /// Every change of tempo, in order: its tick from the start of the section, and the tempo.
    pub fn steps(&self) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        self.points.iter().flat_map(|point| {
            let each = point.tempi.iter().enumerate();
            each.map(move |(k, &tempo)| (point.at + pulse::tick_of(k as i64), tempo))
        })
    }

    /// The changes of tempo at `from` and later, as in [`TempoMap::steps`].
    pub fn steps_from(&self, from: Tick) -> impl Iterator<Item = (Tick, Tempo)> + '_ {
        let first = self.points.partition_point(|point| point.at < from).max(1) - 1;
        self.points[first..].iter().flat_map(move |point| {
            let past = (from - point.at).0.max(0);
            let past = (past + pulse::TICKS_PER_PULSE - 1) / pulse::TICKS_PER_PULSE;
            let each = point.tempi.iter().enumerate().skip(past as usize);
            each.map(move |(k, &tempo)| (point.at + pulse::tick_of(k as i64), tempo))
        })
    }

    /// The tempo at a tick from the start of the section; before the start, the first tempo.
    pub fn at(&self, at: Tick) -> Tempo {
        let index = self.points.partition_point(|point| point.at <= at).max(1) - 1;
        let point = &self.points[index];
        let k = ((at - point.at).0 / pulse::TICKS_PER_PULSE).clamp(0, point.tempi.len() as i64 - 1);
        point.tempi[k as usize]
    }

    /// The first tempo.
    pub fn first(&self) -> Tempo {
        self.points[0].tempi[0]
    }

    /// The same map with the tempo `before` changed to `now`, and the others in proportion.
    pub fn scaled(&self, before: Tempo, now: Tempo) -> TempoMap {
        let scale = |tempo: Tempo| {
            if tempo == before {
                return now;
            }
            let micros =
                u64::from(tempo.micros()) * u64::from(now.micros()) / u64::from(before.micros());
            let low = u64::from(Tempo::FASTEST.micros());
            let high = u64::from(Tempo::SLOWEST.micros());
            Tempo::from_micros(micros.clamp(low, high) as u32).unwrap_or(now)
        };
        let points = self.points.iter().map(|point| TempoPoint {
            at: point.at,
            tempi: point.tempi.iter().map(|&tempo| scale(tempo)).collect(),
        });
        TempoMap { points: points.collect() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_per_minute_become_whole_microseconds() {
        // Standard MIDI Files 1.0, "Set Tempo": 120 is 500,000; the others are 60,000,000 / BPM.
        for (bpm, micros) in [
            ("60", 1_000_000),
            ("90", 666_667),
            ("120", 500_000),
            ("125", 480_000),
            ("138", 434_783),
            ("174", 344_828),
            ("93.7", 640_342),
            ("96.125", 624_187),
        ] {
            let tempo = Tempo::parse_bpm(bpm).unwrap();
            assert_eq!(tempo.micros(), micros, "{bpm}");
            assert_eq!(tempo.to_string(), bpm);
        }
    }

    #[test]
    fn tempi_out_of_range_are_refused() {
        for text in ["0", "9.9", "1000.1", "-3", "fast", "", "1.2345", "99999"] {
            assert!(Tempo::parse_bpm(text).is_err(), "{text}");
        }
        assert_eq!(Tempo::DEFAULT.nudged(5).to_string(), "125");
        assert_eq!(Tempo::SLOWEST.nudged(-5), Tempo::SLOWEST);
    }

    #[test]
    fn what_is_no_number_is_told_from_a_tempo_out_of_range() {
        for text in ["", ".5", "+93", "-93", "9x", "93.+5", "93.1234", "99999999999"] {
            let refused = Tempo::parse_bpm(text);
            assert_eq!(refused, Err(TimeError::NotATempo(text.into())), "{text}");
        }
        for text in ["9.999", "1000.1", "99999"] {
            assert_eq!(Tempo::parse_bpm(text), Err(TimeError::Tempo(text.into())), "{text}");
        }
    }

    #[test]
    fn a_ramp_has_one_tempo_per_pulse() {
        let tempi: Vec<Tempo> =
            (0..5).map(|k| Tempo::from_micros(500_000 + k * 1000).unwrap()).collect();
        let map = TempoMap::with_points(vec![TempoPoint { at: Tick(0), tempi }]).unwrap();
        assert_eq!(map.at(Tick(39)).micros(), 500_000);
        assert_eq!(map.at(Tick(40)).micros(), 501_000);
        assert_eq!(map.at(Tick(9999)).micros(), 504_000);
        assert_eq!(map.steps().count(), 5);
    }

    fn ramp(at: i64, count: u32) -> TempoPoint {
        let tempi = (0..count).map(|k| Tempo::from_micros(500_000 + k * 1000).unwrap()).collect();
        TempoPoint { at: Tick(at), tempi }
    }

    #[test]
    fn the_next_point_comes_after_the_last_pulse_of_a_ramp() {
        // Five pulses of 40 ticks, from 0 to 160.
        let refused =
            TempoMap::with_points(vec![ramp(0, 5), ramp(160, 1)]).unwrap_err().to_string();
        assert!(refused.contains("tick 160"), "{refused}");
        let points = vec![ramp(0, 5), ramp(161, 1)];
        assert_eq!(TempoMap::with_points(points.clone()).unwrap().points(), points);
        assert!(TempoMap::with_points(vec![ramp(0, 1), ramp(960, 1), ramp(960, 1)]).is_err());
    }

    #[test]
    fn the_steps_from_a_tick_on_are_those_of_all_steps_that_are_not_before_it() {
        let map = TempoMap::with_points(vec![ramp(0, 3), ramp(960, 4), ramp(2000, 1)]).unwrap();
        for from in (-50..2100).map(Tick) {
            let expected: Vec<_> = map.steps().filter(|&(at, _)| at >= from).collect();
            assert_eq!(map.steps_from(from).collect::<Vec<_>>(), expected, "{from:?}");
        }
    }

    #[test]
    fn the_tempo_at_a_tick_is_that_of_the_last_step_so_far() {
        let map = TempoMap::with_points(vec![ramp(0, 3), ramp(960, 4), ramp(2000, 1)]).unwrap();
        for at in (-50..2100).map(Tick) {
            let so_far = map.steps().take_while(|&(step, _)| step <= at.max(Tick::ZERO));
            assert_eq!(Some(map.at(at)), so_far.last().map(|(_, tempo)| tempo), "{at:?}");
        }
    }

    #[test]
    fn only_whole_ticks_fit_into_a_time() {
        // 960 ticks at 120 are half a second; 50 ms are 96.
        let ticks =
            [0, 50_000_000, 499_999_999, 500_000_000].map(|ns| Tempo::DEFAULT.ticks_in(ns).0);
        assert_eq!(ticks, [0, 96, 959, 960]);
        assert_eq!(Tempo::SLOWEST.ticks_in(6_000_000_000), Tick::QUARTER);
    }

    #[test]
    fn a_scaled_map_keeps_its_proportions_and_stays_in_range() {
        let tempo = |micros| Tempo::from_micros(micros).unwrap();
        let point = |at, micros| TempoPoint { at: Tick(at), tempi: vec![tempo(micros)] };
        let map = TempoMap::with_points(vec![point(0, 500_000), point(960, 250_000)]).unwrap();
        let slower = map.scaled(tempo(500_000), tempo(1_000_000));
        assert_eq!((slower.at(Tick(0)), slower.at(Tick(960))), (tempo(1_000_000), tempo(500_000)));
        let fastest = map.scaled(tempo(500_000), Tempo::FASTEST);
        assert_eq!((fastest.first(), fastest.at(Tick(960))), (Tempo::FASTEST, Tempo::FASTEST));
    }
}
