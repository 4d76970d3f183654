//! Tempi as musicians count them: beats per minute, in the note value that the metre counts.
//!
//! In: a tempo and a note value. Out: whole numbers and thousandths. A tempo is stored as whole
//! microseconds per quarter, which cannot express every whole number of beats exactly.

use crate::{NoteValue, Tempo};

impl Tempo {
    /// Beats of `unit` per minute, in thousandths and rounded. Also the nearest whole number, if the
    /// tempo is the one that this number gives.
    pub fn beats(self, unit: NoteValue) -> (u64, Option<u64>) {
        let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
        let milli = (u64::from(self.milli_bpm()) * quarter + ticks / 2) / ticks;
        let whole = (milli + 500) / 1000;
        (milli, Some(whole).filter(|&whole| Tempo::of_beats(whole, unit) == Some(self)))
    }

    /// The tempo of `beats` beats of `unit` per minute; `None` outside the range of tempi.
    fn of_beats(beats: u64, unit: NoteValue) -> Option<Tempo> {
        let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
        let milli = (beats * 1000 * ticks + quarter / 2) / quarter;
        Tempo::from_milli_bpm(u32::try_from(milli).ok()?).ok()
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
    fn one_step_up_and_one_down_give_the_same_tempo_again() {
        for bpm in 11..999 {
            let tempo = Tempo::from_milli_bpm(bpm * 1000).unwrap();
            let up = tempo.step(QUARTER, 1);
            assert_eq!(up.beats(QUARTER).1, Some(u64::from(bpm) + 1));
            assert_eq!(up.step(QUARTER, -1), tempo, "{bpm}");
        }
    }
}
