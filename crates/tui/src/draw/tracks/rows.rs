//! The rows over and under the heads: ruler, playhead, marks, layers.

use super::{Shape, Stage, head};
use crate::draw::band::saved_word;
use crate::draw::{Pen, Plan};
use crate::picture::{Mark, Pictures, Strip, fresh};
use crate::sounds;
use crate::text::{self, clip, plural};
use chaconne_engine::Transport;
use chaconne_song::{Pass, Track};
use chaconne_time::Tick;
use ratatui::layout::Position;
use ratatui::style::{Modifier, Style};
use std::sync::Arc;

/// The bars' numbers and their beats.
pub fn ruler(pen: &mut Pen, stage: &Stage, row: u16) {
    let palette = pen.palette;
    let status = &stage.sight.view.status;
    match stage.shape {
        Shape::Beside => head::captions(pen, stage, row),
        // Where the title has no row, how it is saved stands over the names.
        Shape::Bare if !stage.titled => saved(pen, stage, row),
        Shape::Bare | Shape::Above => {}
    }
    bar_lines(pen, stage, row);
    for bar in &stage.ruler.bars {
        let x = stage.left + bar.column + 1;
        for index in (0..bar.cells).filter(|&index| stage.ruler.on_beat(bar, index)) {
            pen.sign(x + index as u16, row, palette.signs.beat, palette.faint());
        }
        let number = bar.number.to_string();
        let here = status.transport == Transport::Rolling && status.place.bar == bar.number;
        let style = if here { palette.on() } else { palette.text() };
        if number.len() <= bar.cells {
            pen.put(x, row, &number, style);
        }
    }
}

/// Whether everything is saved, in the room left of the bars.
fn saved(pen: &mut Pen, stage: &Stage, row: u16) {
    if let Some((word, style)) = saved_word(&stage.sight.view.disk, pen.palette) {
        pen.put(1, row, word, style);
    }
}

/// The lines before each bar, and after the last one where there is room.
fn bar_lines(pen: &mut Pen, stage: &Stage, row: u16) {
    let (sign, faint) = (pen.palette.signs.bar, pen.palette.faint());
    for bar in &stage.ruler.bars {
        pen.sign(stage.left + bar.column, row, sign, faint);
    }
    pen.sign(stage.left + stage.ruler.columns(), row, sign, faint);
}

/// The playhead's mark, or how far the count-in is.
pub fn playhead(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.view.status, pen.palette);
    match status.transport {
        // At the top, where a start begins anyway, there is nothing to show.
        Transport::Stopped if status.at == Tick::ZERO => {}
        Transport::CountingIn => count_in(pen, stage, row),
        Transport::Rolling if stage.sight.calm => {}
        Transport::Stopped | Transport::Rolling => {
            let cell = stage.ruler.cell_of(status.in_section);
            if let Some(column) = cell.and_then(|cell| stage.ruler.column_of(cell)) {
                let style = if status.recording { palette.alarm() } else { palette.strong() };
                pen.sign(stage.left + column, row, palette.signs.playhead, style);
            }
        }
    }
}

/// The beats of the count-in's bar; the one that is on is reversed.
fn count_in(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.view.status, pen.palette);
    let (beat, beats) = (status.place.beat, status.metre.count());
    let x = pen.put(stage.left + 1, row, "count-in", palette.strong()) + 2;
    let mut x = x;
    if beats <= 12 {
        for each in 1..=beats {
            let style = match each.cmp(&beat) {
                std::cmp::Ordering::Equal => palette.on(),
                std::cmp::Ordering::Less => palette.text(),
                std::cmp::Ordering::Greater => palette.faint(),
            };
            x = pen.put(x, row, &each.to_string(), style) + 1;
        }
    } else {
        x = pen.put(x, row, &format!("beat {beat} of {beats}"), palette.on()) + 1;
    }
    let bars = format!("bar {} of {}", status.place.bar, status.count_in);
    pen.put(x + 1, row, &bars, palette.text());
}

/// The rows that layers get before tracks that fit closely get air between them.
const LAYERS: usize = 8;

/// The tracks in sight, what is under them, and the captions over them. Says where the chosen
/// track is.
pub fn tracks(
    pen: &mut Pen,
    stage: &Stage,
    plan: &Plan,
    pictures: &mut Pictures,
) -> Option<Position> {
    let song = &stage.sight.view.status.song;
    let screen = stage.sight.screen;
    let count = song.tracks.len();
    let room = usize::from(plan.tracks.end - plan.tracks.start);
    let rows = usize::from(stage.shape.rows());
    let at = song.tracks.iter().position(|track| Some(track.id) == screen.chosen).unwrap_or(0);
    // Air between the tracks, where all of them still fit with it.
    let air_fits = match stage.shape {
        Shape::Above => count * (rows + 1) <= room + 1,
        Shape::Beside => count * (rows + 1) + LAYERS <= room,
        Shape::Bare => false,
    };
    let stride = rows + usize::from(air_fits);
    // Nothing needs air below the last one.
    let shown = ((room + stride - rows) / stride).max(1).min(count.max(1));
    let first = at.saturating_sub(shown / 2).min(count.saturating_sub(shown));
    captions(pen, stage, plan, first, shown);
    if count == 0 {
        empty(pen, plan);
        return None;
    }
    let mut focus = None;
    let mut y = plan.tracks.start;
    for (place, track) in song.tracks.iter().enumerate().skip(first).take(shown) {
        let strip = pictures.strip(
            stage.section,
            track,
            &stage.sight.view.status.solo_passes,
            stage.sight.view.status.round,
            &stage.ruler,
        );
        head::draw(pen, stage, y, place, track, &strip);
        let row = y + stage.shape.rows() - 1;
        marks(pen, stage, row, &strip, style_of(pen, stage, place, track));
        if stage.sight.view.status.armed == Some(track.id) {
            unfinished(pen, stage, row);
        }
        if place == at {
            focus = Some(Position::new(0, y));
        }
        y += stride as u16;
    }
    layers(pen, stage, plan, y, at, pictures);
    focus
}

/// A track that does not sound is drawn faint.
fn style_of(pen: &Pen, stage: &Stage, place: usize, track: &Track) -> Style {
    match stage.is_silent(track) {
        true => pen.palette.faint(),
        false => pen.palette.track(place),
    }
}

/// What there is to see, let into the rule over the tracks.
fn captions(pen: &mut Pen, stage: &Stage, plan: &Plan, first: usize, shown: usize) {
    let Some(row) = plan.rule else { return };
    let count = stage.sight.view.status.song.tracks.len();
    let tracks = match count {
        0 => "no track yet".to_string(),
        1 => "1 track".to_string(),
        _ if shown >= count => format!("{count} tracks"),
        _ => format!("tracks {} to {} of {count}", first + 1, first + shown),
    };
    let bars = match (stage.ruler.is_whole(), stage.ruler.bars.first(), stage.ruler.bars.last()) {
        (false, Some(first), Some(last)) => {
            format!("bars {} to {} of {}", first.number, last.number, stage.ruler.of)
        }
        _ if stage.ruler.of == 1 => "1 bar".to_string(),
        _ => format!("{} bars", stage.ruler.of),
    };
    let cell = format!("a mark is {}", stage.ruler.cell_word());
    let mut captions = vec![tracks, bars, cell];
    captions.extend(sound(stage, usize::from(pen.width()), &captions));
    pen.rule(row, &captions);
}

/// What the chosen track sounds like, as long as it fits behind the other captions.
fn sound(stage: &Stage, width: usize, before: &[String]) -> Option<String> {
    let track = stage.sight.view.status.song.track(stage.sight.screen.chosen?)?;
    let name = sounds::name(Some(track.program?), !track.pitched);
    // Each caption has a stroke before it and a space on either side.
    let taken: usize = before.iter().map(|caption| text::width(caption) + 3).sum();
    let whole = format!("{}: {name}", track.name);
    [whole, name].into_iter().find(|caption| taken + text::width(caption) + 4 <= width)
}

/// What to do where there is no track.
fn empty(pen: &mut Pen, plan: &Plan) {
    let lines = ["This song has no track yet.", "a adds one: drums, bass, whatever comes first."];
    for (row, line) in (plan.tracks.start + 1..plan.tracks.end).zip(lines) {
        pen.put(2, row, line, pen.palette.text());
    }
}

/// A row of marks.
fn marks(pen: &mut Pen, stage: &Stage, row: u16, strip: &Strip, style: Style) {
    let signs = pen.palette.signs;
    bar_lines(pen, stage, row);
    for bar in &stage.ruler.bars {
        for index in 0..bar.cells {
            let x = stage.left + bar.column + 1 + index as u16;
            match strip.marks.get(bar.first + index).copied().unwrap_or_default() {
                Mark::Struck(height) => pen.sign(x, row, signs.height(height), style),
                Mark::Held => pen.sign(x, row, signs.held, style),
                Mark::Empty if stage.ruler.on_beat(bar, index) => {
                    pen.sign(x, row, signs.beat, pen.palette.faint());
                }
                Mark::Empty => {}
            }
        }
    }
}

/// The notes of the unfinished round, as rings over what is there.
fn unfinished(pen: &mut Pen, stage: &Stage, row: u16) {
    let Some(pass) = &stage.sight.view.status.unfinished else { return };
    let style = pen.palette.alarm();
    for (cell, _) in fresh(pass, &stage.ruler).iter().enumerate().filter(|(_, fresh)| **fresh) {
        if let Some(column) = stage.ruler.column_of(cell) {
            pen.sign(stage.left + column, row, pen.palette.signs.fresh, style);
        }
    }
}

/// The layers of the chosen track, the top one first, where there is room for them.
fn layers(pen: &mut Pen, stage: &Stage, plan: &Plan, y: u16, at: usize, pictures: &mut Pictures) {
    let Some(track) = stage.sight.view.status.song.tracks.get(at) else { return };
    let passes: Vec<&Arc<Pass>> = stage.section.passes_of(track.id).collect();
    let room = usize::from(plan.tracks.end.saturating_sub(y));
    if stage.shape == Shape::Bare || passes.is_empty() || room < 2 {
        return;
    }
    let y = y + u16::from(room > passes.len() + 1);
    let name = clip(&track.name, 20, pen.palette.signs.cut);
    let shown = passes.len().min(usize::from(plan.tracks.end - y - 1));
    let more = match passes.len() - shown {
        0 => String::new(),
        more => format!("{more} more {} below", plural(more, "layer")),
    };
    pen.rule(y, &[format!("layers of {name}, the top one first"), more]);
    for (index, pass) in passes.iter().rev().take(shown).enumerate() {
        let row = y + 1 + index as u16;
        let muted = pass.mute;
        let style = if muted { pen.palette.faint() } else { pen.palette.text() };
        let number = passes.len() - index;
        pen.put(1, row, &format!("{number:>2}"), style);
        pen.put(4, row, &length_word(stage, pass.length), style);
        let mute = if stage.shape == Shape::Beside { 18 + stage.extra } else { 27 };
        pen.put(mute, row, if muted { "M" } else { "-" }, style);
        let count = pass.notes.len();
        let notes = format!("{count:>4} {}", plural(count, "note"));
        pen.put(mute + 4, row, &notes, style);
        if stage.shape == Shape::Beside {
            let status = &stage.sight.view.status;
            let strip = pictures.layer(stage.section, track, pass, status.round, &stage.ruler);
            let marked = if muted { style } else { pen.palette.track(at) };
            marks(pen, stage, row, &strip, marked.remove_modifier(Modifier::BOLD));
        }
    }
}

/// A count and what is counted.
fn counted(count: i64, one: &str) -> String {
    format!("{count} {}", plural(usize::try_from(count).unwrap_or(0), one))
}

/// A length in bars, or else in beats.
fn length_word(stage: &Stage, length: Tick) -> String {
    let metre = stage.section.metre.first();
    let count = |unit: Tick| (length.0 % unit.0 == 0).then_some(length.0 / unit.0);
    match (count(metre.bar()), count(metre.beat())) {
        (Some(bars), _) => counted(bars, "bar"),
        (None, Some(beats)) => counted(beats, "beat"),
        (None, None) => counted(length.0, "tick"),
    }
}
