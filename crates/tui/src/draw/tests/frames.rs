//! Boxes over boxes: their frames never touch, whatever lies under them.

use super::*;
use crate::screen::Overlay;

/// The signs of a frame.
const SIGNS: [&str; 6] = ["─", "│", "┌", "┐", "└", "┘"];

/// The corners of frames that touch another frame. The rules above and below a view may lie along a box,
/// and the view itself along the top of one over the foot.
fn touching(buffer: &Buffer, over_foot: bool) -> Vec<(u16, u16)> {
    let (width, height) = (buffer.area.width, buffer.area.height);
    let sign = |x: i32, y: i32| -> &str {
        let inside = (0..i32::from(width)).contains(&x) && (0..i32::from(height)).contains(&y);
        if inside { buffer[(x as u16, y as u16)].symbol() } else { " " }
    };
    let is_frame = |x: i32, y: i32| SIGNS.contains(&sign(x, y));
    let mut found = Vec::new();
    for (x, y) in (0..height).flat_map(|y| (0..width).map(move |x| (x, y))) {
        let (across, down) = match buffer[(x, y)].symbol() {
            "┌" => (-1, -1),
            "┐" => (1, -1),
            "└" => (-1, 1),
            "┘" => (1, 1),
            _ => continue,
        };
        let (x, y) = (i32::from(x), i32::from(y));
        let is_along = match over_foot {
            true => down < 0,
            // Column 0 belongs to no box here, or to one as wide as the screen.
            false => sign(0, y + down) == "─",
        };
        if is_frame(x + across, y) || (!is_along && is_frame(x, y + down)) {
            found.push((x as u16, y as u16));
        }
    }
    found
}

/// The keys that open each box, with its name.
fn boxes() -> Vec<(&'static str, Vec<Key>)> {
    let f = |number| Key::new(Code::F(number));
    let typed = |text: &str| text.chars().map(Key::char).collect::<Vec<_>>();
    vec![
        ("form", typed("a")),
        ("feel", typed("v")),
        ("sound", typed("i")),
        ("jump", typed("j")),
        ("finder", typed("/")),
        ("save as", typed("w")),
        ("edits", [vec![f(4)], typed("e")].concat()),
        ("selections", [vec![f(4)], typed("s")].concat()),
        ("lane", [vec![f(4)], typed("B")].concat()),
        ("ramp", [vec![f(4)], typed("bx"), vec![Key::new(Code::Right)], typed("x")].concat()),
        ("form of sections", [vec![f(6)], typed("F")].concat()),
        ("section", [vec![f(6)], typed("e")].concat()),
        ("chords", [vec![f(6)], typed("H")].concat()),
        ("song", typed("E")),
        ("new song", typed("n")),
        ("export", vec![Key::ctrl('e')]),
        ("help", typed("?")),
    ]
}

/// The newest box: its left and right column, its top and its bottom row.
fn newest(buffer: &Buffer) -> Option<(u16, u16, u16, u16)> {
    let sign = |x: u16, y: u16| buffer[(x, y)].symbol();
    let (width, height) = (buffer.area.width, buffer.area.height);
    let all = (0..height).flat_map(|y| (0..width).map(move |x| (x, y)));
    let (left, top) = all.clone().find(|&(x, y)| sign(x, y) == "┌")?;
    let (right, bottom) = all.clone().rfind(|&(x, y)| sign(x, y) == "┘")?;
    Some((left, right, top, bottom))
}

#[test]
fn what_is_in_a_box_stays_inside_its_frame_on_every_size() {
    let long = "a name that is much longer than any that a musician would give to something";
    for (name, keys) in boxes().into_iter().filter(|(name, _)| *name != "help") {
        for (width, height) in [(40, 10), (40, 12), (45, 14), (60, 16), (80, 24)] {
            let mut song = song_with_two_sections();
            Arc::make_mut(&mut song.tracks[0]).name = long.into();
            Arc::make_mut(&mut song.sections[1]).name = long.into();
            song.title = long.into();
            let mut stage = Stage::new(song);
            stage.press(keys.iter().copied());
            let buffer = stage.draw(width, height).0;
            let text = text_of(&buffer);
            let (left, right, top, bottom) = newest(&buffer).expect(&text);
            for y in top + 1..bottom {
                let edge = [left, left + 1, right - 1, right].map(|x| buffer[(x, y)].symbol());
                assert_eq!(edge, ["│", " ", " ", "│"], "{name} {width}x{height} row {y}\n{text}");
            }
            for y in [top, bottom] {
                let edge = buffer[(right - 1, y)].symbol();
                assert_eq!(edge, "─", "{name} {width}x{height} row {y}\n{text}");
            }
        }
    }
}

#[test]
fn the_frame_of_a_box_touches_nothing() {
    for (name, keys) in boxes() {
        let over_foot = ["feel", "edits", "selections", "lane", "ramp"].contains(&name);
        for (width, height) in [(80, 24), (120, 40), (60, 16)] {
            let mut stage = Stage::new(song_with_two_sections());
            stage.bench.disk.unsaved = true;
            stage.press(keys.iter().copied());
            assert!(stage.screen.overlays.top().is_some(), "{name}");
            let buffer = stage.draw(width, height).0;
            let found = touching(&buffer, over_foot);
            assert_eq!(found, [], "{name} {width}x{height}\n{}", text_of(&buffer));
            // The view above a box over the foot stays where it is when the question opens.
            let known = touching(&buffer, false);
            stage.press([Key::ctrl('c')]);
            assert!(matches!(stage.screen.overlays.top(), Some(Overlay::Question(_))), "{name}");
            let buffer = stage.draw(width, height).0;
            let found = touching(&buffer, false);
            let is_new = |corner: &&(u16, u16)| !known.contains(corner);
            let new = found.iter().filter(is_new).count();
            assert_eq!(new, 0, "{name} {width}x{height}\n{}", text_of(&buffer));
        }
    }
}

fn song_with_two_sections() -> chaconne_song::Song {
    let mut song = four_parts();
    let copy = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    song
}
