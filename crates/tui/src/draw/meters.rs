//! The sound on the rule under the tracks: its level, a meter for each side, and the limiter's word.
//!
//! In: the desk's line about the sound. Out: cells of one row. A meter is a bar from [`LOW`] to full
//! scale, even in decibels, with a stroke at the recent peak and that peak as a number. If there
//! is little room, or nothing may move, there is only the number.

use super::{Pen, Sight};
use crate::desk::SoundLine;
use crate::numbers::{self, level_text};

/// The level at the left end of a bar, in decibels under full scale; what is lower is silence.
pub const LOW: f32 = -48.0;
/// The columns of a bar, if there is one.
const BAR: std::ops::RangeInclusive<u16> = 6..=48;
/// The most decibels that a number has room for.
const MOST: f32 = 99.9;
/// The columns of a number.
const NUMBER: usize = 5;
/// A screen this wide has room to say more.
const WIDE: u16 = 100;
/// A narrower screen has room for the numbers only.
const NARROW: u16 = 50;

/// Draws onto the rule in `row`, if there is sound.
pub fn draw(pen: &mut Pen, sight: &Sight, row: u16) {
    let (palette, width) = (pen.palette, pen.width());
    let Some(sound) = &sight.state.sound else { return };
    let label = if width < NARROW { " " } else { " sound " };
    let x = pen.put(1, row, label, palette.faint());
    let x = pen.put(x, row, &format!("{} ", level_text(sound.level)), palette.text()) + 1;
    // The usual words for the level, and all words of the limiter, have fixed places: nothing jumps.
    let mut x = x.max(1 + label.len() as u16 + 8);
    let right = if width >= WIDE { 20 } else { 10 };
    let each = width.saturating_sub(x + right) / 2;
    let bar = each.saturating_sub(6 + NUMBER as u16).min(*BAR.end());
    let bar = if sight.calm || bar < *BAR.start() { 0 } else { bar };
    for (side, name) in ["L", "R"].into_iter().enumerate() {
        x = meter(pen, sight, (x, row), name, bar, (sound.peak[side], sound.held[side])) + 1;
    }
    let Some(words) = limiter_words(sound, width >= WIDE) else { return };
    if usize::from(x) + words.len() + 2 <= width.into() {
        let after = pen.put(x, row, " ", palette.text());
        let after = pen.put(after, row, &words, palette.on());
        pen.put(after, row, " ", palette.text());
    }
}

/// One side at a place: name, bar of so many columns, number. Returns the column after it.
fn meter(
    pen: &mut Pen,
    sight: &Sight,
    (x, row): (u16, u16),
    name: &str,
    bar: u16,
    (peak, held): (f32, f32),
) -> u16 {
    let palette = pen.palette;
    let mut x = pen.put(x, row, &format!(" {name} "), palette.faint());
    if bar > 0 {
        let full = (part(peak) * f32::from(bar) * 8.0).round() as u16;
        for cell in 0..bar {
            let eighths = full.saturating_sub(8 * cell).min(8);
            if eighths > 0 {
                let sign = palette.signs.filled[usize::from(eighths) - 1];
                pen.sign(x + cell, row, sign, palette.faint());
            }
        }
        let mark = ((part(held) * f32::from(bar)) as u16).min(bar - 1);
        if part(held) > 0.0 && 8 * mark >= full {
            pen.sign(x + mark, row, palette.signs.bar, palette.strong());
        }
        x = pen.put(x + bar, row, " ", palette.text());
    }
    let style = if shown(held).is_none() { palette.faint() } else { palette.text() };
    let number = held_words(held, sight.calm);
    let x = pen.put(x, row, &format!("{number:>NUMBER$}"), style);
    pen.put(x, row, " ", palette.text())
}

/// Where a level lies between the ends of a bar, 0 to 1; not-a-number is silence.
fn part(db: f32) -> f32 {
    if db.is_nan() { 0.0 } else { ((db - LOW) / -LOW).clamp(0.0, 1.0) }
}

/// A peak as a number, whole if the screen is calm; a word for silence.
fn held_words(db: f32, calm: bool) -> String {
    match shown(db) {
        None => "quiet".to_string(),
        Some(tenths) if calm => ((tenths as f32 / 10.0).round() as i32).to_string(),
        Some(tenths) => numbers::decimal(tenths),
    }
}

/// The tenths of a decibel that are shown of a level; none for silence.
fn shown(db: f32) -> Option<i32> {
    if db > LOW { numbers::tenths(db.min(MOST)) } else { None }
}

/// By how many tenths of a decibel the limiter turned down, if it did.
fn limited(sound: &SoundLine) -> Option<i32> {
    numbers::tenths(sound.limited?.clamp(0.0, MOST))
}

fn limiter_words(sound: &SoundLine, wide: bool) -> Option<String> {
    let by = numbers::decimal(limited(sound)?);
    Some(if wide { format!("limited by {by} dB") } else { "limited".into() })
}

/// What is seen of the sound: level, bars, numbers and the limiter's word. While it is the same, the
/// row looks the same. Of the meters, `calm` eyes see only whether there is silence.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Look {
    level: Option<i32>,
    limited: Option<i32>,
    sides: [(i32, Option<i32>); 2],
}

impl Look {
    /// What the row shows of this sound.
    pub fn new(sound: &SoundLine, calm: bool) -> Look {
        // No bar is finer than an eighth of a decibel.
        let steps = |db: f32| (part(db) * -LOW * 8.0).round() as i32;
        let side = |side: usize| match calm {
            true => (0, shown(sound.held[side]).map(|_| 0)),
            false => (steps(sound.peak[side]), shown(sound.held[side])),
        };
        Look {
            level: sound.level.and_then(numbers::tenths),
            limited: limited(sound),
            sides: [side(0), side(1)],
        }
    }
}
