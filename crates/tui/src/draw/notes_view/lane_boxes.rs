//! The boxes about the lane under the notes: what it can show, and the ramp that is being drawn. They lie
//! over the foot of the screen, so that the lane stays in sight.

use crate::draw::overlays::{bottom, columns, columns_in_all};
use crate::draw::{Pen, Sight};
use crate::keymap::Scene;
use crate::screen::{LanePick, RampField, RampPick};
use crate::text::{self, plural};
use ratatui::layout::Position;

/// The rows of the list of what the lane can show.
pub const ROWS: usize = 4;

/// The column of the keys in the box of a ramp.
const KEYS: u16 = 36;

/// Draws the list, and returns where the chosen entry is.
pub fn lane_list(pen: &mut Pen, pick: &LanePick) -> Option<Position> {
    let palette = pen.palette;
    let (count, width) = columns(pen);
    let title = "The lane shows";
    let (x, y, _) = bottom(pen, columns_in_all(pen), ROWS as u16, title);
    // As many columns as fit, with that of the cursor.
    let first = (pick.at / ROWS).saturating_sub(usize::from(count) - 1) * ROWS;
    let room = ROWS * usize::from(count);
    let shown = pick.entries.iter().enumerate().skip(first).take(room);
    let mut focus = None;
    for (index, entry) in shown {
        let at = index - first;
        let (left, row) = (x + width * (at / ROWS) as u16, y + (at % ROWS) as u16);
        let chosen = index == pick.at;
        if chosen {
            pen.sign(left, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(left, row));
        }
        let style = if chosen { palette.on() } else { palette.text() };
        let room = usize::from(width) - 3;
        let name = text::clip(&entry.shows.long_name(), room, palette.signs.cut);
        let after = pen.put(left + 2, row, &name, style);
        let points = entry.points.map(|count| format!("{count} {}", plural(count, "point")));
        let points = points.unwrap_or_default();
        if usize::from(after - left) + 1 + points.len() < usize::from(width) {
            pen.put(after + 1, row, &points, palette.faint());
        }
    }
    let out = (first, pick.entries.len().saturating_sub(first + room));
    let more = match out {
        (0, 0) => String::new(),
        (before, after) => {
            let [.., left, right] = palette.signs.arrows;
            let words = |sign, count| {
                if count > 0 { format!(" {sign} {count} more ") } else { String::new() }
            };
            words(left, before) + &words(right, after)
        }
    };
    let hint = " type a name, or the number of a controller ";
    // At the other end of the edge is the key that leaves the box.
    let fits = |words: &str| text::width(words) + 16 < usize::from(count * width);
    let end = y + ROWS as u16;
    let after = pen.put(x, end, &more, palette.faint());
    if fits(&format!("{more}{hint}")) {
        pen.put(after, end, hint, palette.faint());
    }
    focus
}

/// Draws the ramp's box, and returns where the chosen setting is.
pub fn ramp_box(pen: &mut Pen, sight: &Sight, pick: &RampPick) -> Option<Position> {
    let palette = pen.palette;
    let title = match pick.notes {
        Some(count) => format!("Velocity ramp over {count} {}", plural(count, "note")),
        None => format!("Ramp of {}", pick.shows.long_name()),
    };
    let (x, y, room) = bottom(pen, 76, 4, &title);
    let mut focus = None;
    for (row, field) in (y..).zip(RampField::ALL) {
        let chosen = field == pick.field;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let ramp = &pick.ramp;
        let (label, value) = match field {
            RampField::First => {
                (format!("start {}", pick.places.0), pick.shows.value_words(ramp.first))
            }
            RampField::Last => {
                (format!("end   {}", pick.places.1), pick.shows.value_words(ramp.last))
            }
            RampField::Shape => ("shape".to_string(), ramp.shape.word().to_string()),
        };
        let label_style = if chosen { palette.strong() } else { palette.faint() };
        pen.put(x + 2, row, &label, label_style);
        let style = if chosen { palette.on() } else { palette.text() };
        let after = pen.put(x + 18, row, &value, style);
        if field != RampField::Shape {
            pen.put((after + 1).max(x + 23), row, &pick.shows.unit(), palette.faint());
        }
    }
    let keys = [
        "{up} {down}: start, end, shape",
        "{less} {more}: change it",
        "{page-up} {page-down}: by ten, or type it",
    ];
    for (row, keys) in (y..).zip(keys) {
        let keys = sight.screen.keymap.fill_in(Scene::Ramp, keys);
        pen.put_in(x + KEYS, row, room.saturating_sub(KEYS.into()), &keys, palette.faint());
    }
    let about = match (pick.also.as_str(), sight.state.is_playing()) {
        ("", true) => "You hear it as the loop goes round.".to_string(),
        ("", false) => "You hear it when the loop plays.".to_string(),
        (also, _) => format!("This layer is also in {also}."),
    };
    let keys =
        sight.screen.keymap.fill_in(Scene::Ramp, "{confirm} keeps it, {back} takes it back.");
    let both = format!("{about} {keys}");
    let words = if text::width(&both) <= room { both } else { keys };
    pen.put_in(x, y + 3, room, &words, palette.faint());
    focus
}
