//! Numbers as musicians give them: tempi in beats per minute, in the note value that the metre
//! counts; levels in decibels under full scale.

use chaconne_time::{NoteValue, Tempo};

/// Thousandths of `unit` per minute, rounded, and the whole number where the tempo is one: not every
/// whole number of beats is exact in whole microseconds per quarter.
fn beats_of(tempo: Tempo, unit: NoteValue) -> (u64, Option<u64>) {
    let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
    let milli = (u64::from(tempo.milli_bpm()) * quarter + ticks / 2) / ticks;
    let whole = (milli + 500) / 1000;
    (milli, Some(whole).filter(|&whole| of_beats(whole, unit) == Some(tempo)))
}

/// The tempo of so many beats per minute, where a song can have it.
fn of_beats(beats: u64, unit: NoteValue) -> Option<Tempo> {
    let (quarter, ticks) = (NoteValue::QUARTER.ticks().0 as u64, unit.ticks().0 as u64);
    let milli = (beats * 1000 * ticks + quarter / 2) / quarter;
    Tempo::from_milli_bpm(u32::try_from(milli).ok()?).ok()
}

/// Beats per minute, with one decimal where it is not a whole number.
pub fn tempo_text(tempo: Tempo, unit: NoteValue) -> String {
    match beats_of(tempo, unit) {
        (_, Some(whole)) => whole.to_string(),
        (milli, None) => {
            let tenths = (milli + 50) / 100;
            format!("{}.{}", tenths / 10, tenths % 10)
        }
    }
}

/// The next whole number of beats per minute up or down, in the note value that the metre counts;
/// the same tempo at the end of the range.
pub fn next_tempo(tempo: Tempo, unit: NoteValue, up: bool) -> Tempo {
    let beats = match (beats_of(tempo, unit), up) {
        ((_, Some(whole)), true) => whole + 1,
        ((_, Some(whole)), false) => whole.saturating_sub(1),
        ((milli, None), true) => milli / 1000 + 1,
        ((milli, None), false) => milli / 1000,
    };
    of_beats(beats, unit).unwrap_or(tempo)
}

/// Tenths of a decibel, rounded; `None` where there is no such number.
pub fn tenths(db: f32) -> Option<i32> {
    db.is_finite().then(|| (db * 10.0).round() as i32)
}

/// A level: `-12 dB`, with a decimal where it is not a whole number, or `off`.
pub fn level_text(level: Option<f32>) -> String {
    match level.and_then(tenths) {
        None => "off".to_string(),
        Some(tenths) if tenths % 10 == 0 => format!("{} dB", tenths / 10),
        Some(tenths) => format!("{} dB", decimal(tenths)),
    }
}

/// A number of tenths, with its decimal.
pub fn decimal(tenths: i32) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::NoteKind;

    #[test]
    fn the_tempo_goes_to_the_next_whole_beat_per_minute() {
        let quarter = NoteValue::QUARTER;
        for (from, up, to) in [
            ("120", true, "121"),
            ("120", false, "119"),
            ("93.7", true, "94"),
            ("93.7", false, "93"),
            ("1000", true, "1000"),
            ("10", false, "10"),
        ] {
            let tempo = Tempo::parse_bpm(from).unwrap();
            assert_eq!(next_tempo(tempo, quarter, up).to_string(), to, "{from}");
        }
    }

    #[test]
    fn levels_are_shown_with_what_matters() {
        let texts = [
            (Some(-12.0), "-12 dB"),
            (Some(-0.5), "-0.5 dB"),
            (Some(-0.01), "0 dB"),
            (Some(-17.25), "-17.3 dB"),
            (Some(f32::NAN), "off"),
            (None, "off"),
        ];
        for (level, text) in texts {
            assert_eq!(level_text(level), text);
        }
        assert_eq!(decimal(-4), "-0.4");
    }

    #[test]
    fn tempi_are_shown_with_what_matters() {
        for (bpm, text) in [("120", "120"), ("254", "254"), ("93.7", "93.7"), ("93.04", "93.0")] {
            assert_eq!(tempo_text(Tempo::parse_bpm(bpm).unwrap(), NoteValue::QUARTER), text);
        }
    }

    #[test]
    fn a_tempo_in_dotted_quarters_steps_by_them() {
        // 80 dotted quarters a minute are 120 quarters.
        let dotted = NoteValue::new(4, NoteKind::Dotted).unwrap();
        let tempo = Tempo::parse_bpm("120").unwrap();
        assert_eq!(next_tempo(tempo, dotted, true).to_string(), "121.5");
        assert_eq!(next_tempo(next_tempo(tempo, dotted, true), dotted, false), tempo);
    }

    #[test]
    fn stepping_up_and_down_again_comes_back_at_every_tempo() {
        for bpm in 11..999 {
            let tempo = Tempo::from_milli_bpm(bpm * 1000).unwrap();
            let up = next_tempo(tempo, NoteValue::QUARTER, true);
            assert_eq!(tempo_text(up, NoteValue::QUARTER), (bpm + 1).to_string());
            assert_eq!(next_tempo(up, NoteValue::QUARTER, false), tempo, "{bpm}");
        }
    }
}
