//! Tempi as musicians count them: beats per minute, in the note value that the metre counts.
//!
//! In: a tempo and a note value. Out: whole numbers and thousandths. A tempo is stored as whole
//! microseconds per quarter, which cannot express every whole number of beats exactly.

use crate::tempo::parse_milli;
use crate::{NoteValue, Tempo, TimeError};

impl Tempo {
    /// Beats of `unit` per minute, in thousandths and rounded. Also the nearest whole number, if the
    /// tempo is the one that this number gives.
    pub fn beats(self, unit: NoteValue) -> (u64, Option<u64>) {
        let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
        let milli = (u64::from(self.milli_bpm()) * quarter + ticks / 2) / ticks;
        let whole = (milli + 500) / 1000;
        (milli, Some(whole).filter(|&whole| Tempo::of_beats(whole, unit) == Some(self)))
    }

    /// Reads beats of `unit` per minute with up to three decimals, such as `66.7`.
    ///
    /// # Errors
    /// If the text is no such number, or the tempo is out of range.
    pub fn parse_beats(text: &str, unit: NoteValue) -> Result<Tempo, TimeError> {
        Tempo::of_milli_beats(parse_milli(text)?.into(), unit)
    }

    /// The tempo of so many thousandths of a beat of `unit` per minute.
    ///
    /// # Errors
    /// If the tempo is out of range.
    pub fn of_milli_beats(milli: u64, unit: NoteValue) -> Result<Tempo, TimeError> {
        let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
        let milli = (milli.saturating_mul(ticks).saturating_add(quarter / 2)) / quarter;
        Tempo::from_milli_bpm(u32::try_from(milli).unwrap_or(u32::MAX))
    }

    /// Beats of `unit` per minute as text, with as many of three decimals as it needs.
    pub fn in_beats(self, unit: NoteValue) -> String {
        match self.beats(unit) {
            (_, Some(whole)) => whole.to_string(),
            (milli, None) => {
                let text = format!("{}.{:03}", milli / 1000, milli % 1000);
                text.trim_end_matches('0').trim_end_matches('.').to_string()
            }
        }
    }

    /// The nearest whole number of beats of `unit` per minute; the tempo itself if that is out of range.
    pub fn whole(self, unit: NoteValue) -> Tempo {
        let (milli, _) = self.beats(unit);
        Tempo::of_beats((milli + 500) / 1000, unit).unwrap_or(self)
    }

    /// The tempo of `beats` beats of `unit` per minute; `None` outside the range of tempi.
    fn of_beats(beats: u64, unit: NoteValue) -> Option<Tempo> {
        Tempo::of_milli_beats(beats.saturating_mul(1000), unit).ok()
    }

    /// The tempo `steps` whole beats of `unit` per minute faster, or slower if `steps` is negative.
    /// From a tempo between two whole numbers, the first step goes to the next whole number. It stops
    /// at the last whole number in the range of tempi.
    pub fn step(self, unit: NoteValue, steps: i32) -> Tempo {
        let (milli, whole) = self.beats(unit);
        let under = (milli / 1000) as i64;
        let (down, up) = whole.map_or((under + 1, under), |whole| (whole as i64, whole as i64));
        let steps = i64::from(steps);
        let in_range =
            |beats: &i64| u64::try_from(*beats).ok().and_then(|beats| Tempo::of_beats(beats, unit));
        let (from, way) = if steps < 0 { (down, -1) } else { (up, 1) };
        let reached = (1..=steps.abs()).map(|step| from + way * step);
        reached.map_while(|beats| in_range(&beats)).last().unwrap_or(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::NoteKind;

    const QUARTER: NoteValue = NoteValue::QUARTER;

    #[test]
    fn a_number_of_beats_gives_the_nearest_thousandth_of_a_quarter_per_minute() {
        // By hand: 1001 sixty-fourths are 62.5625 quarters.
        let sixty_fourth = NoteValue::new(64, NoteKind::Straight).unwrap();
        let tempo = Tempo::of_beats(1001, sixty_fourth).unwrap();
        assert_eq!(tempo.to_string(), "62.563");
    }

    #[test]
    fn a_step_goes_to_the_next_whole_beat_per_minute() {
        for (from, steps, to) in [
            ("120", 1, "121"),
            ("120", -1, "119"),
            ("120", 10, "130"),
            ("120", 0, "120"),
            ("93.7", 1, "94"),
            ("93.7", -1, "93"),
            ("93.7", -3, "91"),
            ("1000", 1, "1000"),
            ("998", 5, "1000"),
            ("10", -1, "10"),
            ("12", -9, "10"),
            ("12", i32::MIN, "10"),
            ("12", i32::MAX, "1000"),
        ] {
            let tempo = Tempo::parse_bpm(from).unwrap();
            assert_eq!(tempo.step(QUARTER, steps).to_string(), to, "{from} by {steps}");
        }
    }

    #[test]
    fn a_tempo_in_dotted_quarters_steps_by_dotted_quarters() {
        // 80 dotted quarters a minute are 120 quarters.
        let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
        let tempo = Tempo::parse_bpm("120").unwrap();
        assert_eq!(tempo.step(dotted, 1).to_string(), "121.5");
        assert_eq!(tempo.step(dotted, 1).step(dotted, -1), tempo);
    }

    #[test]
    fn beats_are_counted_in_any_note_value_to_the_nearest_thousandth() {
        // 100 quarters a minute are 200 eighths, and 66.667 dotted quarters.
        let tempo = Tempo::parse_bpm("100").unwrap();
        let of = |division, kind| tempo.beats(NoteValue::new(division, kind).unwrap());
        assert_eq!(of(4, NoteKind::Straight), (100_000, Some(100)));
        assert_eq!(of(8, NoteKind::Straight), (200_000, Some(200)));
        assert_eq!(of(4, NoteKind::Dotted), (66_667, None));
        assert_eq!(of(2, NoteKind::Dotted), (33_333, None));
    }

    #[test]
    fn a_tempo_is_read_in_the_note_value_that_is_counted() {
        // 80 dotted quarters a minute are 120 quarters; 60.5 are 90.75.
        let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
        let read = |text| Tempo::parse_beats(text, dotted).map(|tempo| tempo.to_string());
        assert_eq!(read("80"), Ok("120".into()));
        assert_eq!(read("60.5"), Ok("90.75".into()));
        assert!(read("667").is_err() && read("6.6").is_err() && read("fast").is_err());
    }

    #[test]
    fn a_tempo_is_written_in_the_note_value_that_is_counted() {
        let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
        for (bpm, unit, written) in [
            ("120", dotted, "80"),
            ("90.75", dotted, "60.5"),
            ("100", dotted, "66.667"),
            ("100", QUARTER, "100"),
            ("60.05", QUARTER, "60.05"),
        ] {
            assert_eq!(Tempo::parse_bpm(bpm).unwrap().in_beats(unit), written, "{bpm}");
        }
    }

    #[test]
    fn a_tempo_between_two_whole_numbers_goes_to_the_nearer() {
        let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
        let whole = |bpm, unit| Tempo::parse_bpm(bpm).unwrap().whole(unit).to_string();
        assert_eq!(whole("119.6", QUARTER), "120");
        assert_eq!(whole("119.4", QUARTER), "119");
        // 119 quarters are 79.33 dotted quarters; 79 of those are 118.5 quarters.
        assert_eq!(whole("119", dotted), "118.5");
    }

    #[test]
    fn one_step_up_and_one_down_give_the_same_tempo_again() {
        for bpm in 11..999 {
            let tempo = Tempo::from_milli_bpm(bpm * 1000).unwrap();
            let up = tempo.step(QUARTER, 1);
            assert_eq!(up.beats(QUARTER).1, Some(u64::from(bpm) + 1));
            assert_eq!(up.step(QUARTER, -1), tempo, "{bpm}");
        }
    }
}
