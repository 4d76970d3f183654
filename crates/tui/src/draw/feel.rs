//! The feel of a track, as a box of settings; and the same in a few words, for the track's head.

use super::Pen;
use super::overlays::bottom;
use crate::desk::DeskState;
use crate::numbers::short_value;
use crate::screen::{FeelField, FeelPick};
use chaconne_song::{Feel, Swing};
use chaconne_time::NoteValue;
use ratatui::layout::Position;

/// The most columns of a setting's bar, and the fewest that say something.
const BAR: u16 = 16;
const LEAST_BAR: u16 = 4;
/// The columns of a setting's name, and of its value, each with a gap.
const NAME: u16 = 8;
const VALUE: u16 = 13;

/// Draws the box, and returns where the chosen setting is. It lies over the foot, in two columns, so that the
/// notes that the feel moves stay in sight.
pub fn draw(pen: &mut Pen, state: &DeskState, pick: &FeelPick) -> Option<Position> {
    let palette = pen.palette;
    let name = state.status.song.track(pick.track).map_or("", |track| track.name.as_str());
    let of = if pick.is_of_layer() { "this layer of " } else { "" };
    let fields = pick.fields();
    let rows = fields.len().div_ceil(2) as u16;
    let (x, y, room) = bottom(pen, 76, rows + 1, &format!("Feel of {of}{name}"));
    let width = room as u16 / 2;
    // A blank after the sign of the chosen setting, if there is room.
    let gap = if width > 2 * NAME + VALUE { 2 } else { 1 };
    let value_at = NAME + gap - 1;
    let mut focus = None;
    for (index, &field) in (0..).zip(fields) {
        let (x, row) = (x + width * (index / rows), y + index % rows);
        let chosen = field == pick.field;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let label = if chosen { palette.strong() } else { palette.faint() };
        pen.put(x + gap, row, field.name(), label);
        let is_idle =
            pick.feel.grid.is_none() && !matches!(field, FeelField::Whose | FeelField::Grid);
        let value = match (chosen, is_idle) {
            (true, _) => palette.on(),
            (false, true) => palette.faint(),
            (false, false) => palette.text(),
        };
        let half = pick.half_typed().filter(|_| chosen).map(str::to_string);
        let words = half.unwrap_or_else(|| words(field, pick, usize::from(width - value_at) - 1));
        pen.put(x + value_at, row, &words, value);
        let columns = width.saturating_sub(value_at + VALUE + 2).min(BAR);
        if let Some(part) = part(field, &pick.feel).filter(|_| columns >= LEAST_BAR) {
            bar(pen, x + value_at + VALUE, row, part, columns);
        }
    }
    pen.put_in(x, y + rows, room, &pick.sentence(), palette.faint());
    focus
}

/// A setting's value, in so many columns.
fn words(field: FeelField, pick: &FeelPick, columns: usize) -> String {
    let feel = &pick.feel;
    match field {
        FeelField::Whose => {
            let words = if pick.own { "its own" } else { "same as the track" };
            if words.len() <= columns { words } else { "track's" }.to_string()
        }
        FeelField::Grid => match feel.grid {
            None => "as played".to_string(),
            Some(grid) => Some(grid.to_string())
                .filter(|long| long.len() <= columns)
                .unwrap_or(short_value(grid)),
        },
        FeelField::Pull => format!("{} %", feel.pull),
        FeelField::Reach => format!("{} %", feel.reach),
        FeelField::Swing => format!("{} %", feel.swing),
        FeelField::Rolls => if feel.rolls { "together" } else { "by stroke" }.to_string(),
    }
}

/// How far a percentage is along its range, 0 to 1.
fn part(field: FeelField, feel: &Feel) -> Option<f32> {
    match field {
        FeelField::Pull => Some(f32::from(feel.pull) / 100.0),
        FeelField::Reach => Some(f32::from(feel.reach) / 100.0),
        FeelField::Swing => {
            let into = feel.swing.hundredths() - Swing::STRAIGHT.hundredths();
            Some(f32::from(into) / 2500.0)
        }
        FeelField::Whose | FeelField::Grid | FeelField::Rolls => None,
    }
}

/// A bar of so many columns, of which a part from 0 to 1 is filled, on a rule.
fn bar(pen: &mut Pen, x: u16, row: u16, part: f32, columns: u16) {
    let palette = pen.palette;
    let eighths = (part * f32::from(8 * columns)) as u16;
    for cell in 0..columns {
        match eighths.saturating_sub(8 * cell).min(8) {
            0 => pen.sign(x + cell, row, palette.signs.rule, palette.faint()),
            part => {
                let sign = palette.signs.filled[usize::from(part) - 1];
                pen.sign(x + cell, row, sign, palette.text());
            }
        }
    }
}

/// The feel in a few words, without what is as usual: `1/16t 60 % swing 58`; `-` if the track plays as
/// played.
pub fn short(feel: &Feel) -> String {
    with_grid(feel, short_value).unwrap_or_else(|| "-".to_string())
}

/// The same; `as played` in words if so many columns have room for it.
pub fn in_room(feel: &Feel, columns: usize) -> String {
    const AS_PLAYED: &str = "as played";
    match feel.grid {
        None if AS_PLAYED.len() <= columns => AS_PLAYED.to_string(),
        _ => short(feel),
    }
}

/// The same with the kind of the grid as a word: `1/16 triplet 60 % swing 58`.
pub fn long(feel: &Feel) -> String {
    with_grid(feel, |grid| grid.to_string()).unwrap_or_else(|| "as played".to_string())
}

fn with_grid(feel: &Feel, name: fn(NoteValue) -> String) -> Option<String> {
    let mut words = name(feel.grid?);
    if feel.pull < 100 {
        words += &format!(" {} %", feel.pull);
    }
    if feel.swing != Swing::STRAIGHT {
        words += &format!(" swing {}", feel.swing);
    }
    Some(words)
}
