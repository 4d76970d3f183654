//! The box of the grooves: a list, and the chosen one as a curve over the bar.

use super::overlays::middle;
use super::{Pen, Sight, groove_curve};
use crate::groove_curve::{GrooveCurve, extent_words, given_words, length_words};
use crate::keymap::Scene;
use crate::screen::GroovePick;
use crate::text;
use crate::view_rows::window;
use chaconne_song::{GivenGroove, Groove, Section, Song};
use ratatui::layout::Position;

/// The columns inside the box, and the most rows of the list.
const WIDTH: u16 = 76;
const MOST: usize = 6;
/// The columns of the length and of what a groove is given to.
const LENGTH: u16 = 24;
const GIVEN: u16 = 42;

/// Draws the box, and returns where the chosen groove is.
pub fn draw(pen: &mut Pen, sight: &Sight, pick: &GroovePick) -> Option<Position> {
    let status = &sight.state.status;
    let (song, room) = (&status.song, WIDTH.min(pen.width().saturating_sub(4)));
    let chosen = pick.chosen(song).zip(song.section(status.section));
    let words = match chosen {
        Some((groove, section)) => words(sight, pick, groove, section, room.into()),
        None => vec!["The song has no grooves any more.".to_string()],
    };
    let (count, inside) = (song.grooves.len(), usize::from(pen.height()).saturating_sub(8).max(3));
    let listed = count.min(MOST).min(inside.saturating_sub(words.len()).max(1));
    // An empty row above the curve and one below it.
    let curved = groove_curve::filled(inside.saturating_sub(listed + words.len() + 2) as u16);
    let between = if curved > 0 { curved + 2 } else { 0 };
    let rows = listed as u16 + between + words.len() as u16;
    let (x, y, room) = middle(pen, WIDTH, rows, "Grooves");
    let focus = list(pen, song, pick, (x, y, room), listed);
    let below = y + listed as u16;
    if let Some((groove, section)) = chosen.filter(|_| curved > 0) {
        let (whole, bar) = (GivenGroove::whole(groove.id), pick.bar(groove));
        let columns = groove_curve::columns(room);
        let curve = GrooveCurve::new(groove, &whole, section, bar, columns);
        groove_curve::draw(pen, &curve, (x, below + 1), curved);
    }
    for (row, line) in (below + between..).zip(&words) {
        pen.put_in(x, row, room, line, pen.palette.text());
    }
    focus
}

/// The grooves; returns where the chosen one is.
fn list(
    pen: &mut Pen,
    song: &Song,
    pick: &GroovePick,
    (x, y, room): (u16, u16, usize),
    listed: usize,
) -> Option<Position> {
    let (palette, at, count) = (pen.palette, pick.place(song), song.grooves.len());
    let first = window(at.saturating_sub(listed / 2), at, count, listed);
    pen.left_out(first, count - first - listed);
    let mut focus = None;
    for (row, (index, groove)) in
        (y..).zip(song.grooves.iter().enumerate().skip(first).take(listed))
    {
        let chosen = index == at;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let style = if chosen { palette.on() } else { palette.text() };
        let narrow = room < usize::from(GIVEN) + 10;
        let name_room = if narrow { room.saturating_sub(2) } else { usize::from(LENGTH) - 4 };
        pen.put(x + 2, row, &text::clip(&groove.name, name_room, palette.signs.cut), style);
        if narrow {
            continue;
        }
        pen.put(x + LENGTH, row, &length_words(groove), palette.faint());
        let given = given_words(song, groove);
        let given =
            if given.is_empty() { "not given".to_string() } else { format!("given to {given}") };
        let given = text::clip(&given, room - usize::from(GIVEN), palette.signs.cut);
        pen.put(x + GIVEN, row, &given, palette.faint());
    }
    focus
}

/// What the chosen groove is like, and what Enter does with it, in lines.
fn words(
    sight: &Sight,
    pick: &GroovePick,
    groove: &Groove,
    section: &Section,
    room: usize,
) -> Vec<String> {
    let bar = match groove.bars {
        1 => String::new(),
        bars => format!("bar {} of {bars}; ", pick.bar(groove)),
    };
    let about = text::sentence(&format!("{bar}{}", extent_words(groove, section)));
    let track = sight.screen.chosen.and_then(|id| sight.state.status.song.track(id));
    let said = match track {
        Some(track) if track.feel.groove.is_some_and(|given| given.groove == groove.id) => {
            format!("{} has this groove; {{groove-name}} renames it.", track.name)
        }
        Some(track) => {
            format!("{{confirm}} gives it to {}; {{groove-name}} renames it.", track.name)
        }
        None => "{groove-name} renames it.".to_string(),
    };
    let said = sight.screen.keymap.fill_in(Scene::Grooves, &said);
    [about, said].iter().flat_map(|words| text::wrap(words, room)).collect()
}
