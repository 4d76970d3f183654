//! The head of a track: number, name, letters, layers, grid.

use super::timeline::{Heads, Shape, Stage};
use super::{Pen, Sight, contour, feel, levels_view};
use crate::picture::Strip;
use crate::sounds;
use crate::text;
use chaconne_engine::Status;
use chaconne_song::Track;
use std::ops::Range;

/// The columns from which on the head above the marks has room for the sound.
const WITH_SOUND: u16 = 100;

/// The captions over heads that lie beside their marks, each with its column.
pub fn captions(stage: &Stage) -> Vec<(u16, &'static str)> {
    let x = stage.extra;
    let feel = if stage.heads.feel > 0 { "feel" } else { "grid" };
    let mut heads = vec![(4, "track"), (17 + x, "ams"), (21 + x, "layers"), (28 + x, feel)];
    if stage.heads.levels > 0 {
        let at = levels(stage);
        let volume = if at.pan - at.volume > 6 { "volume" } else { "vol" };
        heads.extend([(at.volume, volume), (at.pan, "pan")]);
    }
    heads
}

/// Which tracks a list shows, if it does not show all.
pub fn part(first: usize, shown: usize, count: usize) -> Option<String> {
    (shown < count).then(|| format!("tracks {} to {} of {count}", first + 1, first + shown))
}

/// What to do where tracks would be, if there are none.
pub fn none(pen: &mut Pen, sight: &Sight, row: u16) {
    let line = "This song has no tracks yet: {add-track} adds one.";
    pen.put(2, row, &sight.screen.keymap.fill(line), pen.palette.text());
}

/// Where volume and pan are, between the feel and the marks.
fn levels(stage: &Stage) -> levels_view::Columns {
    let Heads { feel, levels } = stage.heads;
    levels_view::Columns::beside(34 + stage.extra + feel, levels)
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
    let after = if stage.is_numbered() { self::number(pen, row, place, chosen) } else { 1 };
    // Without a number, the name is marked.
    let name = if chosen && after == 1 { palette.on() } else { name };
    if chosen {
        pen.sign(0, row, palette.signs.chosen, palette.strong());
    }
    match stage.shape {
        Shape::Bare | Shape::Key => {
            let x = stage.extra;
            let room = usize::from((8 + x).saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, &stage.sight.state.status, 9 + x, row, track);
        }
        Shape::Beside => {
            let x = stage.extra;
            let room = usize::from((16 + x).saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, &stage.sight.state.status, 17 + x, row, track);
            pen.put(21 + x, row, &format!("{:>6}", layers(strip)), palette.text());
            let style = if track.feel.is_on() { palette.text() } else { palette.faint() };
            let room = 5 + stage.heads.feel;
            let words = if room > 5 {
                feel::in_room(&track.feel, room.into())
            } else {
                feel::shortest(&track.feel)
            };
            pen.put_in(28 + x, row, room.into(), &words, style);
            if stage.heads.levels > 0 {
                let silent = stage.is_silent(track);
                levels_view::levels(
                    pen,
                    &stage.sight.state.status,
                    &levels(stage),
                    (place, row),
                    track,
                    silent,
                );
            }
        }
        Shape::Above => {
            let room = usize::from(25u16.saturating_sub(after));
            pen.put_in(after, row, room, &track.name, name);
            letters(pen, &stage.sight.state.status, 26, row, track);
            let (layers, style) = match strip.layers {
                0 => ("empty".to_string(), palette.faint()),
                _ => (layers_words(strip), palette.text()),
            };
            pen.put_in(31, row, 12, &layers, style);
            let style = if track.feel.is_on() { palette.text() } else { palette.faint() };
            pen.put_in(44, row, 21, &feel::in_room(&track.feel, 21), style);
            let after = pen.put(66, row, &target(track), palette.faint());
            if let Some(program) = track.program.filter(|_| pen.width() >= WITH_SOUND) {
                let sound = sounds::name(Some(program), !track.pitched, &stage.sight.state.kits);
                pen.put((after + 2).max(80), row, &sound, palette.faint());
            }
        }
    }
}

/// What the sound is and where it is sent, below a head beside its marks that has several rows.
pub fn more(pen: &mut Pen, stage: &Stage, rows: Range<u16>, track: &Track) {
    const LEFT: u16 = 4;
    let kits = &stage.sight.state.kits;
    let sound = track.program.map(|program| sounds::name(Some(program), !track.pitched, kits));
    // The names of the keys are right of it.
    let room = usize::from(stage.left.saturating_sub(contour::NAME + 2 + LEFT));
    for (y, line) in rows.zip(sound.into_iter().chain([target(track)])) {
        let line = text::clip(&line, room, pen.palette.signs.cut);
        pen.put(LEFT, y, &line, pen.palette.faint());
    }
}

/// The number of the track at a place of the list, in reverse if it is chosen; returns the column after
/// it and a space.
pub fn number(pen: &mut Pen, row: u16, place: usize, chosen: bool) -> u16 {
    let number = (place + 1).to_string();
    // One of three or four digits takes columns from the name.
    let pad = 2usize.saturating_sub(number.len()) as u16;
    let style = if chosen { pen.palette.on() } else { pen.palette.faint() };
    pen.put(1 + pad, row, &number, style) + 1
}

/// a, m and s: armed, muted, soloed; else blank. Capitals are sections.
pub fn letters(pen: &mut Pen, status: &Status, x: u16, row: u16, track: &Track) {
    let palette = pen.palette;
    let armed = status.armed == Some(track.id);
    let armed_style = if status.recording { palette.alarm_on() } else { palette.on() };
    let states = [
        ('a', armed, armed_style),
        ('m', track.mute, palette.on()),
        ('s', status.solo_tracks.contains(&track.id), palette.on()),
    ];
    for (index, (letter, on, style)) in states.into_iter().enumerate() {
        if on {
            pen.sign(x + index as u16, row, letter, style);
        }
    }
}

/// How many layers there are, and how many of them are heard if some are not.
fn layers_words(strip: &Strip) -> String {
    match (strip.layers, strip.silent) {
        (1, 0) => "1 layer".to_string(),
        (all, 0) => format!("{all} layers"),
        (all @ 10.., _) => format!("{}/{all} heard", all - strip.silent),
        (all, silent) => format!("{} of {all} heard", all - silent),
    }
}

/// The same in figures.
fn layers(strip: &Strip) -> String {
    match strip.silent {
        0 => strip.layers.to_string(),
        silent => format!("{}/{}", strip.layers - silent, strip.layers),
    }
}

/// The channel the track is sent on.
fn target(track: &Track) -> String {
    let channel = match track.channel {
        Some(channel) => format!("channel {channel}"),
        None => "every channel".to_string(),
    };
    if track.port.is_empty() { channel } else { format!("{channel}, {}", track.port) }
}
