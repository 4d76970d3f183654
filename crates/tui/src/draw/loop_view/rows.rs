//! The rows along the axis: ruler, playhead, marks, layers.

use super::{Shape, Stage, track_head};
use crate::axis::{BarLine, Grain};
use crate::draw::Pen;
use crate::draw::frame::Body;
use crate::draw::head::saved_word;
use crate::picture::{Pictures, Shows, Strip, fresh};
use crate::sounds;
use crate::text::{self, clip, plural};
use chaconne_engine::Transport;
use chaconne_song::Track;
use chaconne_time::Tick;
use ratatui::layout::Position;
use ratatui::style::{Modifier, Style};

/// The bars' numbers and their beats.
pub fn ruler(pen: &mut Pen, stage: &Stage, row: u16) {
    let palette = pen.palette;
    let status = &stage.sight.state.status;
    match stage.shape {
        Shape::Beside => track_head::captions(pen, stage, row),
        // If the title has no row, whether the song is saved is shown above the names.
        Shape::Bare if !stage.titled => saved(pen, stage, row),
        Shape::Bare | Shape::Above => {}
    }
    bar_lines(pen, stage, row);
    for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
        pen.sign(stage.left + mark.column, row, palette.signs.beat, palette.faint());
    }
    beat_numbers(pen, stage, row);
    for line in &stage.scale.lines {
        let number = line_words(stage, line);
        let bars = line.number..line.number + line.bars;
        let here = stage.sight.state.is_playing() && bars.contains(&status.place.bar);
        let style = if here { palette.on() } else { palette.text() };
        if number.len() <= line.marks {
            pen.put(stage.left + line.column + 1, row, &number, style);
        }
    }
}

/// The beats by number, if the marks are so fine that few bar lines are on the screen.
fn beat_numbers(pen: &mut Pen, stage: &Stage, row: u16) {
    const ROOM: i64 = 8;
    let Grain::Ticks(ticks) = stage.scale.grain else { return };
    for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
        let place = stage.section.metre.place(mark.start);
        let beat = stage.section.metre.metre_at(mark.start).beat();
        if place.tick == 0 && place.beat > 1 && beat.0 / ticks >= ROOM {
            let number = format!("{}.{}", place.bar, place.beat);
            pen.put(stage.left + mark.column, row, &number, pen.palette.faint());
        }
    }
}

/// The number of a line's bar; if the page begins inside the bar, the place where it begins.
fn line_words(stage: &Stage, line: &BarLine) -> String {
    if !line.inside {
        return line.number.to_string();
    }
    let place = stage.section.metre.place(stage.scale.start());
    match place.tick {
        0 => format!("{}.{}", place.bar, place.beat),
        tick => format!("{}.{}.{tick}", place.bar, place.beat),
    }
}

/// Whether everything is saved, in the room left of the bars.
fn saved(pen: &mut Pen, stage: &Stage, row: u16) {
    if let Some((word, style)) = saved_word(&stage.sight.state.disk, pen.palette) {
        pen.put(1, row, word, style);
    }
}

/// The lines before each bar, and after the last one if there is room.
fn bar_lines(pen: &mut Pen, stage: &Stage, row: u16) {
    let (sign, faint) = (pen.palette.signs.bar, pen.palette.faint());
    for line in stage.scale.lines.iter().filter(|line| !line.inside) {
        pen.sign(stage.left + line.column, row, sign, faint);
    }
    if stage.scale.lines.last().is_some_and(|line| !line.cut) {
        pen.sign(stage.left + stage.scale.columns(), row, sign, faint);
    }
}

/// The playhead's mark, or the progress of the count-in.
pub fn playhead(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.state.status, pen.palette);
    match status.transport {
        // At the top, where a start begins anyway, there is nothing to show.
        Transport::Stopped if status.at == Tick::ZERO => {}
        Transport::CountingIn => count_in(pen, stage, row),
        Transport::Rolling if stage.sight.calm => {}
        Transport::Stopped | Transport::Rolling => {
            if let Some(mark) = stage.scale.mark_of(status.in_section) {
                let column = stage.scale.marks[mark].column;
                let style = if status.recording { palette.alarm() } else { palette.strong() };
                pen.sign(stage.left + column, row, palette.signs.playhead, style);
            }
        }
    }
}

/// The beats of the count-in's bar; the one that is on is reversed.
fn count_in(pen: &mut Pen, stage: &Stage, row: u16) {
    let (status, palette) = (&stage.sight.state.status, pen.palette);
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

/// The rows that layers get before tracks that fit closely are spaced out.
const LAYERS: usize = 8;

/// The tracks on the screen, what is below them, and the captions above them. Returns where the
/// chosen track is.
pub fn tracks(
    pen: &mut Pen,
    stage: &Stage,
    body: &Body,
    pictures: &mut Pictures,
) -> Option<Position> {
    let song = &stage.sight.state.status.song;
    let screen = stage.sight.screen;
    let count = song.tracks.len();
    let room = body.rows.len();
    let rows = usize::from(stage.shape.rows());
    let at = song.tracks.iter().position(|track| Some(track.id) == screen.chosen).unwrap_or(0);
    // An empty row between the tracks, if all of them still fit.
    let air_fits = match stage.shape {
        Shape::Above => count * (rows + 1) <= room + 1,
        Shape::Beside => count * (rows + 1) + LAYERS <= room,
        Shape::Bare => false,
    };
    let stride = rows + usize::from(air_fits);
    // The last one needs no empty row below it.
    let shown = ((room + stride - rows) / stride).max(1).min(count.max(1));
    let first = at.saturating_sub(shown / 2).min(count.saturating_sub(shown));
    captions(pen, stage, body, first, shown);
    if count == 0 {
        empty(pen, body);
        return None;
    }
    let mut focus = None;
    let mut y = body.rows.start;
    for (place, track) in song.tracks.iter().enumerate().skip(first).take(shown) {
        let strip = pictures.strip(
            song,
            stage.section,
            track,
            &stage.sight.state.status.solo_passes,
            stage.sight.state.status.round,
            &stage.scale,
        );
        track_head::draw(pen, stage, y, place, track, &strip);
        let row = y + stage.shape.rows() - 1;
        marks(pen, stage, row, &strip, style_of(pen, stage, place, track));
        if stage.sight.state.status.armed == Some(track.id) {
            unfinished(pen, stage, row);
        }
        if place == at {
            // Beside the reversed number: a cursor on it would reverse it again.
            focus = Some(Position::new(0, y));
        }
        y += stride as u16;
    }
    layers(pen, stage, body, y, at, pictures);
    focus
}

/// The style of a track's marks: faint if the track does not sound.
fn style_of(pen: &Pen, stage: &Stage, place: usize, track: &Track) -> Style {
    match stage.is_silent(track) {
        true => pen.palette.faint(),
        false => pen.palette.track(place),
    }
}

/// What the screen shows, in the rule above the tracks.
fn captions(pen: &mut Pen, stage: &Stage, body: &Body, first: usize, shown: usize) {
    let Some(row) = body.captions else { return };
    let count = stage.sight.state.status.song.tracks.len();
    let tracks = match count {
        0 => "no tracks yet".to_string(),
        1 => "1 track".to_string(),
        _ if shown >= count => format!("{count} tracks"),
        _ => format!("tracks {} to {} of {count}", first + 1, first + shown),
    };
    let grain = format!("1 mark = {}", stage.scale.grain.words());
    let mut captions = vec![tracks, stage.scale.bars_words(), grain];
    captions.extend(sound(stage, usize::from(pen.width()), &captions));
    pen.rule(row, &captions);
}

/// What the chosen track sounds like, if it fits after the other captions.
fn sound(stage: &Stage, width: usize, before: &[String]) -> Option<String> {
    let track = stage.sight.state.status.song.track(stage.sight.screen.chosen?)?;
    let name = sounds::name(Some(track.program?), !track.pitched, &stage.sight.state.kits);
    // Each caption has a stroke before it and a space on either side.
    let taken: usize = before.iter().map(|caption| text::width(caption) + 3).sum();
    let whole = format!("{}: {name}", track.name);
    [whole, name].into_iter().find(|caption| taken + text::width(caption) + 4 <= width)
}

/// What to do next, if there are no tracks.
fn empty(pen: &mut Pen, body: &Body) {
    let lines =
        ["This song has no tracks yet.", "Press a to add one: drums, bass, whatever comes first."];
    for (row, line) in (body.rows.start + 1..body.rows.end).zip(lines) {
        pen.put(2, row, line, pen.palette.text());
    }
}

/// A row of marks.
fn marks(pen: &mut Pen, stage: &Stage, row: u16, strip: &Strip, style: Style) {
    let signs = pen.palette.signs;
    bar_lines(pen, stage, row);
    for (index, (mark, shown)) in stage.scale.marks.iter().zip(&strip.shows).enumerate() {
        let x = stage.left + mark.column;
        let covered = strip.covered.get(index) == Some(&true);
        let style = if covered { pen.palette.faint() } else { style };
        match shown {
            Shows::Struck(height) => pen.sign(x, row, signs.height(*height), style),
            Shows::Held => pen.sign(x, row, signs.held, style),
            Shows::Nothing if mark.on_beat => {
                pen.sign(x, row, signs.beat, pen.palette.faint());
            }
            Shows::Nothing => {}
        }
    }
}

/// The notes of the unfinished round, as rings over the other marks.
fn unfinished(pen: &mut Pen, stage: &Stage, row: u16) {
    let Some(pass) = &stage.sight.state.status.unfinished else { return };
    let style = pen.palette.alarm();
    let fresh = fresh(pass, &stage.scale);
    for (mark, _) in stage.scale.marks.iter().zip(fresh).filter(|(_, fresh)| *fresh) {
        pen.sign(stage.left + mark.column, row, pen.palette.signs.fresh, style);
    }
}

/// The layers of the chosen track, the top one first, if there is room for them.
fn layers(pen: &mut Pen, stage: &Stage, body: &Body, y: u16, at: usize, pictures: &mut Pictures) {
    let Some(track) = stage.sight.state.status.song.tracks.get(at) else { return };
    let song = &stage.sight.state.status.song;
    let status = &stage.sight.state.status;
    let passes: Vec<_> = song
        .layers_of(stage.section, track.id)
        .map(|(layer, pass)| (pass.clone(), layer.mute))
        .collect();
    let room = usize::from(body.rows.end.saturating_sub(y));
    if stage.shape == Shape::Bare || passes.is_empty() || room < 2 {
        return;
    }
    let y = y + u16::from(room > passes.len() + 1);
    let name = clip(&track.name, 20, pen.palette.signs.cut);
    let shown = passes.len().min(usize::from(body.rows.end - y - 1));
    let more = match passes.len() - shown {
        0 => String::new(),
        more => format!("{more} more {} below", plural(more, "layer")),
    };
    pen.rule(y, &[format!("layers of {name}, top first"), more]);
    for (index, (pass, muted)) in passes.iter().rev().take(shown).enumerate() {
        let row = y + 1 + index as u16;
        let number = passes.len() - index;
        let from_here_up = passes[number - 1..].to_vec();
        let (solo, round) = (&status.solo_passes, status.round);
        let strip = pictures.layer(stage.section, track, from_here_up, solo, round, &stage.scale);
        let silent = *muted || strip.is_covered();
        let style = if silent { pen.palette.faint() } else { pen.palette.text() };
        pen.put(1, row, &format!("{number:>2}"), style);
        pen.put(4, row, &length_word(stage, pass.length), style);
        let mute = if stage.shape == Shape::Beside { 18 + stage.extra } else { 27 };
        if *muted {
            pen.sign(mute, row, 'M', pen.palette.on());
        } else if strip.has_covered() {
            pen.sign(mute, row, 'C', pen.palette.on());
        }
        let count = pass.notes().len();
        let notes = format!("{count:>4} {}", plural(count, "note"));
        pen.put(mute + 4, row, &notes, style);
        if stage.shape == Shape::Beside {
            let marked = if silent { style } else { pen.palette.track(at) };
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
