//! The head of a track: number, name, letters, layers, grid.

use super::Pen;
use super::timeline::{Shape, Stage};
use crate::palette::Palette;
use crate::picture::Strip;
use crate::sounds;
use chaconne_song::{Feel, Track};
use chaconne_time::NoteKind;
use ratatui::style::Style;

/// The columns from which on the head above the marks has room for the sound.
const WITH_SOUND: u16 = 100;

/// The captions over heads that lie beside their marks, each with its column.
pub fn captions(stage: &Stage) -> [(u16, &'static str); 4] {
    let x = stage.extra;
    [(4, "track"), (17 + x, "AMS"), (21 + x, "layers"), (28 + x, "grid")]
}

/// Draws the head of the track at `place` in the list.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16, place: usize, track: &Track, strip: &Strip) {
    let palette = pen.palette;
    let chosen = stage.sight.screen.chosen == Some(track.id);
    let name = match (chosen, stage.is_silent(track)) {
        (true, _) => palette.strong(),
        (false, true) => palette.faint(),
        (false, false) => palette.text(),
    };
    let number = (place + 1).to_string();
    let after = if !stage.is_numbered() {
        1
    } else {
        // A number of three or four digits takes columns from the name.
        let pad = 2usize.saturating_sub(number.len()) as u16;
        let style = if chosen { palette.on() } else { palette.faint() };
        pen.put(1 + pad, row, &number, style) + 1
    };
    // Without a number, the name is marked.
    let name = if chosen && after == 1 { palette.on() } else { name };
    if chosen {
        pen.sign(0, row, palette.signs.chosen, palette.strong());
    }
    match stage.shape {
        Shape::Bare => {
            let x = stage.extra;
            let room = usize::from((8 + x).saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, stage, 9 + x, row, track);
        }
        Shape::Beside => {
            let x = stage.extra;
            let room = usize::from((16 + x).saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, stage, 17 + x, row, track);
            pen.put(21 + x, row, &format!("{:>6}", layers(strip)), palette.text());
            let (grid, style) = short_grid(palette, &track.feel);
            pen.put_in(28 + x, row, 5, &grid, style);
        }
        Shape::Above => {
            let room = usize::from(25u16.saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, stage, 26, row, track);
            let word = if strip.layers == 1 { "layer" } else { "layers" };
            let (layers, style) = match strip.layers {
                0 => ("empty".to_string(), palette.faint()),
                _ => (format!("{} {word}", layers(strip)), palette.text()),
            };
            pen.put_in(31, row, 14, &layers, style);
            let (grid, style) = match track.feel.grid {
                Some(_) => (format!("grid {}", short_grid(palette, &track.feel).0), palette.text()),
                None => ("as played".to_string(), palette.faint()),
            };
            pen.put_in(46, row, 13, &grid, style);
            let after = pen.put(60, row, &target(track), palette.faint());
            if let Some(program) = track.program.filter(|_| pen.width() >= WITH_SOUND) {
                let sound = sounds::name(Some(program), !track.pitched, &stage.sight.state.kits);
                pen.put((after + 2).max(74), row, &sound, palette.faint());
            }
        }
    }
}

/// A, M and S: armed, muted, soloed; else blank.
fn letters(pen: &mut Pen, stage: &Stage, x: u16, row: u16, track: &Track) {
    let (status, palette) = (&stage.sight.state.status, pen.palette);
    let armed = status.armed == Some(track.id);
    let armed_style = if status.recording { palette.alarm_on() } else { palette.on() };
    let states = [
        ('A', armed, armed_style),
        ('M', track.mute, palette.on()),
        ('S', status.solo_tracks.contains(&track.id), palette.on()),
    ];
    for (index, (letter, on, style)) in states.into_iter().enumerate() {
        if on {
            pen.sign(x + index as u16, row, letter, style);
        }
    }
}

/// How many layers sound, out of how many.
fn layers(strip: &Strip) -> String {
    match strip.silent {
        0 => strip.layers.to_string(),
        silent => format!("{}/{}", strip.layers - silent, strip.layers),
    }
}

fn short_grid(palette: &Palette, feel: &Feel) -> (String, Style) {
    let Some(grid) = feel.grid else { return ("-".into(), palette.faint()) };
    let kind = match grid.kind() {
        NoteKind::Straight => "",
        NoteKind::Triplet => "t",
        NoteKind::Dotted => ".",
    };
    (format!("1/{}{kind}", grid.division()), palette.text())
}

/// The channel the track is sent on.
fn target(track: &Track) -> String {
    let channel = match track.channel {
        Some(channel) => format!("channel {channel}"),
        None => "every channel".to_string(),
    };
    if track.port.is_empty() { channel } else { format!("{channel}, {}", track.port) }
}
