//! Numbers as musicians give them: tempi in beats per minute, in the note value that the metre
//! counts; levels in decibels under full scale.

use chaconne_time::{NoteKind, NoteValue, Tempo};

/// Beats per minute, with one decimal if it is not a whole number.
pub fn tempo_text(tempo: Tempo, unit: NoteValue) -> String {
    match tempo.beats(unit) {
        (_, Some(whole)) => whole.to_string(),
        (milli, None) => {
            let tenths = (milli + 50) / 100;
            format!("{}.{}", tenths / 10, tenths % 10)
        }
    }
}

/// Tenths of a decibel, rounded; `None` if there is no such number.
pub fn tenths(db: f32) -> Option<i32> {
    db.is_finite().then(|| (db * 10.0).round() as i32)
}

/// A level: `-12 dB`, with a decimal if it is not a whole number, or `off`.
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

/// A note value in short: `1/8`, `1/8t` for a triplet, `1/8d` for a dotted one.
pub fn short_value(value: NoteValue) -> String {
    let kind = match value.kind() {
        NoteKind::Straight => "",
        NoteKind::Triplet => "t",
        NoteKind::Dotted => "d",
    };
    format!("1/{}{kind}", value.division())
}

/// The note value of a grid as it may be typed: `1/8t`, or without the one; `None` if it is none.
pub fn value_of(typed: &str) -> Option<NoteValue> {
    let is_name = |name: String| name == typed || name["1/".len()..] == *typed;
    NoteValue::grids().find(|&grid| is_name(short_value(grid)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_have_a_decimal_only_if_they_need_one() {
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
    fn tempi_have_a_decimal_only_if_they_need_one() {
        for (bpm, text) in [("120", "120"), ("254", "254"), ("93.7", "93.7"), ("93.04", "93.0")] {
            assert_eq!(tempo_text(Tempo::parse_bpm(bpm).unwrap(), NoteValue::QUARTER), text);
        }
    }
}
