//! The feel of a track, as a box of settings; and the same in a few words, for the track's head.

use super::Pen;
use super::overlays::middle;
use crate::desk::DeskState;
use crate::screen::{FeelField, FeelPick};
use chaconne_song::{Feel, Swing};
use chaconne_time::{NoteKind, NoteValue};
use ratatui::layout::Position;

/// The columns of a setting's bar.
const BAR: u16 = 20;

/// Draws the box, and returns where the chosen setting is.
pub fn draw(pen: &mut Pen, state: &DeskState, pick: &FeelPick) -> Option<Position> {
    let palette = pen.palette;
    let name = state.status.song.track(pick.track).map_or("", |track| track.name.as_str());
    let count = pick.fields().len() as u16;
    let of = if pick.is_of_layer() { "this layer of " } else { "" };
    let (x, y, room) = middle(pen, 58, count + 3, &format!("Feel of {of}{name}"));
    let mut focus = None;
    for (row, &field) in (y + 1..).zip(pick.fields()) {
        let chosen = field == pick.field;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let label = if chosen { palette.strong() } else { palette.faint() };
        pen.put(x + 2, row, field.name(), label);
        let is_idle =
            pick.feel.grid.is_none() && !matches!(field, FeelField::Whose | FeelField::Grid);
        let value = match (chosen, is_idle) {
            (true, _) => palette.on(),
            (false, true) => palette.faint(),
            (false, false) => palette.text(),
        };
        let after = pen.put(x + 9, row, &words(field, pick), value);
        if let Some(part) = part(field, &pick.feel) {
            bar(pen, after.max(x + 19), row, part);
        }
    }
    pen.put_in(x, y + count + 2, room, &pick.sentence(), palette.faint());
    focus
}

/// A setting's value.
fn words(field: FeelField, pick: &FeelPick) -> String {
    let feel = &pick.feel;
    match field {
        FeelField::Whose => if pick.own { "its own" } else { "same as the track" }.to_string(),
        FeelField::Grid => grid_words(feel.grid),
        FeelField::Pull => format!("{} %", feel.pull),
        FeelField::Reach => format!("{} %", feel.reach),
        FeelField::Swing => format!("{} %", feel.swing),
        FeelField::Rolls => if feel.rolls { "together" } else { "by stroke" }.to_string(),
    }
}

fn grid_words(grid: Option<NoteValue>) -> String {
    grid.map_or_else(|| "as played".to_string(), |grid| grid.to_string())
}

/// How far a percentage is along its range, in eighths of a column.
fn part(field: FeelField, feel: &Feel) -> Option<u16> {
    let of = |value: u16, most: u16| Some(value * 8 * BAR / most);
    match field {
        FeelField::Pull => of(feel.pull.into(), 100),
        FeelField::Reach => of(feel.reach.into(), 100),
        FeelField::Swing => {
            let into = u32::from(feel.swing.hundredths() - Swing::STRAIGHT.hundredths());
            Some((into * 8 * u32::from(BAR) / 2500) as u16)
        }
        FeelField::Whose | FeelField::Grid | FeelField::Rolls => None,
    }
}

/// A bar filled by so many eighths of a column, on a rule.
fn bar(pen: &mut Pen, x: u16, row: u16, eighths: u16) {
    let palette = pen.palette;
    for cell in 0..BAR {
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
    let Some(grid) = feel.grid else { return "-".to_string() };
    let kind = match grid.kind() {
        NoteKind::Straight => "",
        NoteKind::Triplet => "t",
        NoteKind::Dotted => ".",
    };
    let mut words = format!("1/{}{kind}", grid.division());
    if feel.pull < 100 {
        words += &format!(" {} %", feel.pull);
    }
    if feel.swing != Swing::STRAIGHT {
        words += &format!(" swing {}", feel.swing);
    }
    words
}
