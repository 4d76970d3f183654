//! The feel of a track, as a box of settings; and the same in a few words, for the track's head.

use super::overlays::TOP;
use super::overlays::{bottom, top};
use super::{Pen, Sight, groove_curve};
use crate::groove_curve::GrooveCurve;
use crate::keymap::Scene;
use crate::numbers::short_value;
use crate::screen::{FeelField, FeelPick};
use crate::text;
use crate::view_rows::window;
use chaconne_song::{Feel, Human, Swing};
use chaconne_time::NoteValue;
use ratatui::layout::Position;

/// The most columns of a setting's bar, and the fewest that say something.
const BAR: u16 = 16;
const LEAST_BAR: u16 = 4;
/// The columns of a setting's name, and of its value, each with a gap.
const NAME: u16 = 10;
const VALUE: u16 = 13;
/// The columns of the box, and from how many on it has two columns of settings.
const WIDTH: u16 = 76;
const TWO: usize = 58;
/// The rows of the view that the curve of a groove leaves in sight.
const IN_SIGHT: u16 = 12;

/// Draws the box, and returns where the chosen setting is. It lies over the foot or, if the track whose notes it
/// moves is there, over the rows above that: quantise on the left, groove and variation on the right, and the
/// groove below them. `below` is the place of the cursor in the view.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    pick: &FeelPick,
    below: Option<Position>,
) -> Option<Position> {
    let song = &sight.state.status.song;
    let name = song.track(pick.track).map_or("", |track| track.name.as_str());
    let of = if pick.is_of_layer() { "this layer of " } else { "" };
    let columns = Columns::of(pick, usize::from(WIDTH.min(pen.width().saturating_sub(4))));
    let half = usize::from(pen.height() / 2).saturating_sub(3).max(3);
    let shown = columns.rows().min(half);
    let curved = curve_rows(pen, pick, shown as u16 + 3);
    let rows = shown as u16 + 1 + curved;
    let place = if hides(pen, below, rows) { top } else { bottom };
    let (x, y, room) = place(pen, WIDTH, rows, &format!("Feel of {of}{name}"));
    let at = columns.place(pick.field).1;
    let first = window(at.saturating_sub(shown / 2), at, columns.rows(), shown);
    pen.left_out(columns.fields_in(0..first), columns.fields_in(first + shown..columns.rows()));
    let width = (room / columns.0.len()) as u16;
    let mut focus = None;
    for (column, fields) in (0..).zip(&columns.0) {
        for (row, &field) in (y..).zip(fields.iter().skip(first).take(shown)) {
            let place = Position::new(x + width * column, row);
            setting(pen, pick, field, place, width);
            if field == pick.field {
                focus = Some(place);
            }
        }
    }
    if curved > 0 {
        curve(pen, sight, pick, (x, y + shown as u16, room), curved);
    }
    let said = sight.screen.keymap.fill_in(Scene::Layers, &pick.sentence());
    pen.put_in(x, y + rows - 1, room, &said, pen.palette.faint());
    focus
}

/// Whether a box over the foot hides the row of the cursor or the one under it, where its marks may be, and one
/// over the rows above does not.
fn hides(pen: &Pen, below: Option<Position>, rows: u16) -> bool {
    let height = rows + 2;
    below.is_some_and(|at| at.y + 2 > pen.height().saturating_sub(height) && at.y > TOP + height)
}

/// The settings in one or two columns.
struct Columns(Vec<Vec<FeelField>>);

impl Columns {
    fn of(pick: &FeelPick, room: usize) -> Columns {
        let fields = pick.fields().to_vec();
        match room >= TWO {
            true => {
                let (right, left) =
                    fields.into_iter().partition(|field: &FeelField| field.is_of_groove());
                Columns(vec![left, right])
            }
            false => Columns(vec![fields]),
        }
    }

    fn rows(&self) -> usize {
        self.0.iter().map(Vec::len).max().unwrap_or(0)
    }

    /// The column and the row of a setting.
    fn place(&self, field: FeelField) -> (usize, usize) {
        let row = |column: &Vec<FeelField>| column.iter().position(|known| *known == field);
        let places = self.0.iter().enumerate();
        let mut found = places.filter_map(|(at, column)| Some((at, row(column)?)));
        found.next().unwrap_or_default()
    }

    /// How many settings there are in some rows.
    fn fields_in(&self, rows: std::ops::Range<usize>) -> usize {
        self.0.iter().map(|column| rows.end.min(column.len()).saturating_sub(rows.start)).sum()
    }
}

/// A setting: its name, its value, and a bar.
fn setting(pen: &mut Pen, pick: &FeelPick, field: FeelField, at: Position, width: u16) {
    let palette = pen.palette;
    // A blank after the sign of the chosen setting, if there is room.
    let gap = if width > 2 * NAME + VALUE { 2 } else { 1 };
    let value_at = NAME + gap - 1;
    let chosen = field == pick.field;
    if chosen {
        pen.sign(at.x, at.y, palette.signs.chosen, palette.strong());
    }
    let label = if chosen { palette.strong() } else { palette.faint() };
    pen.put(at.x + gap, at.y, field.name(), label);
    let value = match (chosen, field.idle(&pick.feel)) {
        (true, _) => palette.on(),
        (false, Some(_)) => palette.faint(),
        (false, None) => palette.text(),
    };
    let half = pick.half_typed().filter(|_| chosen).map(str::to_string);
    let room = usize::from(width - value_at) - 1;
    let words = half.unwrap_or_else(|| words(field, pick, room));
    let words = text::clip(&words, room, palette.signs.cut);
    pen.put(at.x + value_at, at.y, &words, value);
    let columns = width.saturating_sub(value_at + VALUE + 2).min(BAR);
    if let Some(part) = part(field, pick).filter(|_| columns >= LEAST_BAR) {
        bar(pen, at.x + value_at + VALUE, at.y, part, columns);
    }
}

/// The rows for the curve of the groove that is given: none if there is no groove, or no room below a box of so
/// many rows.
fn curve_rows(pen: &Pen, pick: &FeelPick, above: u16) -> u16 {
    let left = pen.height().saturating_sub(above + IN_SIGHT);
    match pick.feel.groove {
        Some(_) => groove_curve::filled(left),
        None => 0,
    }
}

/// The curve of the groove, as much of it as is given.
fn curve(pen: &mut Pen, sight: &Sight, pick: &FeelPick, at: (u16, u16, usize), rows: u16) {
    let status = &sight.state.status;
    let Some(given) = pick.feel.groove else { return };
    let section = status.song.section(status.section);
    let (Some(groove), Some(section)) = (status.song.groove(given.groove), section) else { return };
    let room = groove_curve::columns(at.2);
    let bar = groove_curve::bar_now(status, groove, section);
    let curve = GrooveCurve::new(groove, &given, section, bar, room);
    groove_curve::draw(pen, &curve, (at.0, at.1), rows);
}

/// A setting's value, in so many columns.
fn words(field: FeelField, pick: &FeelPick, columns: usize) -> String {
    let (feel, (timing, loudness)) = (&pick.feel, pick.depths);
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
        FeelField::Groove => pick.groove_name().unwrap_or("none").to_string(),
        FeelField::Timing => format!("{timing} %"),
        FeelField::Loudness => format!("{loudness} %"),
        FeelField::Human => format!("{} %", feel.human.timing),
        FeelField::Dynamics => format!("{} %", feel.human.loudness),
        FeelField::Seed => feel.human.seed.to_string(),
    }
}

/// How far a value is along its range, 0 to 1.
fn part(field: FeelField, pick: &FeelPick) -> Option<f32> {
    let feel = &pick.feel;
    let part = |value: u8| Some(f32::from(value) / f32::from(field.highest()));
    match field {
        FeelField::Pull => part(feel.pull),
        FeelField::Reach => part(feel.reach),
        FeelField::Swing => {
            let into = feel.swing.hundredths() - Swing::STRAIGHT.hundredths();
            Some(f32::from(into) / 2500.0)
        }
        FeelField::Timing => part(pick.depths.0),
        FeelField::Loudness => part(pick.depths.1),
        FeelField::Human => part(feel.human.timing),
        FeelField::Dynamics => part(feel.human.loudness),
        FeelField::Whose
        | FeelField::Grid
        | FeelField::Rolls
        | FeelField::Groove
        | FeelField::Seed => None,
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

const AS_PLAYED: &str = "as played";

/// The feel in a few words, without what is as usual: `1/16t 60 % swing 58 groove`; `-` if the track plays as
/// played.
pub fn short(feel: &Feel) -> String {
    in_words(feel, short_value).unwrap_or_else(|| "-".to_string())
}

/// The same; `as played` in words if so many columns have room for it.
pub fn in_room(feel: &Feel, columns: usize) -> String {
    match feel.is_on() {
        false if AS_PLAYED.len() <= columns => AS_PLAYED.to_string(),
        _ => short(feel),
    }
}

/// The same in five columns: the grid, with a plus if there is more to it.
pub fn shortest(feel: &Feel) -> String {
    let grid = feel.grid.map_or("-".to_string(), short_value);
    if short(feel) == grid { grid } else { format!("{grid}+") }
}

/// The same with the kind of the grid as a word: `1/16 triplet 60 % swing 58`.
pub fn long(feel: &Feel) -> String {
    in_words(feel, |grid| grid.to_string()).unwrap_or_else(|| AS_PLAYED.to_string())
}

fn in_words(feel: &Feel, name: fn(NoteValue) -> String) -> Option<String> {
    let mut words = Vec::new();
    if let Some(grid) = feel.grid {
        words.push(name(grid));
        if feel.pull < 100 {
            words.push(format!("{} %", feel.pull));
        }
        if feel.swing != Swing::STRAIGHT {
            words.push(format!("swing {}", feel.swing));
        }
    }
    words.extend(feel.groove.map(|_| "groove".to_string()));
    words.extend(
        Some("human".to_string()).filter(|_| feel.human != Human::NONE && feel.human.is_on()),
    );
    (!words.is_empty()).then(|| words.join(" "))
}
