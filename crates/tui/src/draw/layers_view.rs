//! The layers of the chosen track in the section shown, top first: a row for each, with its marks on
//! the same axis as the loop's. The loop lists them too, below its tracks, if there is room.

use super::timeline::{self, Shape, Stage, marks, unfinished};
use super::{Frame, Pen, Sight, contour, notes_view, pane, track_head};
use crate::cells::Source;
use crate::lane::{InLane, control_name};
use crate::picture::{Pictures, Strip};
use crate::screen::Stack;
use crate::text::{self, plural};
use chaconne_song::{Control, Feel, Pass, PassId};
use chaconne_time::Tick;
use ratatui::layout::Position;
use ratatui::style::{Modifier, Style};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::Arc;

/// The columns that a length needs, such as "4 bars".
const SHORT_LENGTH: usize = 6;

/// A name that is cut to less than this says nothing.
const SHORTEST_NAME: usize = 6;

/// What to do if a track has no layers.
const NO_LAYERS: &str = "No layers yet: {record} records one.";

/// The fewest rows that the notes of the chosen layer keep below layers that have several rows each.
const LEAST_BELOW: usize = 16;

/// More rows for each layer would show no more.
const MOST_EACH: usize = 6;

/// With so many rows, layers below the loop do not take all of them.
const MANY_ROWS: usize = 14;

/// The columns of a layer's row, left of its marks or above them.
struct Columns {
    length: u16,
    letters: u16,
    notes: u16,
    /// The column of the track's feel above.
    feel: u16,
    also: u16,
}

impl Columns {
    fn of(stage: &Stage) -> Columns {
        match stage.shape {
            Shape::Bare | Shape::Key => {
                Columns { length: 4, letters: 9 + stage.extra, notes: 99, feel: 99, also: 99 }
            }
            Shape::Beside => {
                let x = stage.extra;
                let also = 29 + x + stage.heads.columns();
                Columns { length: 4, letters: 14 + x, notes: 18 + x, feel: 28 + x, also }
            }
            // The row has room for the controllers, too.
            Shape::Above => Columns { length: 4, letters: 26, notes: 31, feel: 44, also: 66 },
        }
    }
}

/// Draws the view, and returns where the chosen layer is.
pub fn draw(
    pen: &mut Pen,
    sight: &Sight,
    frame: &Frame,
    pictures: &mut Pictures,
) -> Option<Position> {
    let stage = timeline::stage(pen, sight, frame)?;
    timeline::draw(pen, &stage, frame, &track_head::captions(&stage));
    let stack = sight.screen.stack(sight.state);
    captions(pen, sight, frame, stack.as_ref());
    let rows = frame.body.rows.clone();
    let Some(stack) = stack else {
        track_head::none(pen, sight, rows.start + 1);
        return None;
    };
    let below = whole(pen, &stage, &stack, rows.start, pictures);
    // The words about the chosen layer are the last row, if there are enough.
    let worded = rows.len() > 5;
    let mut rows = below..rows.end - u16::from(worded);
    let chosen = sight.screen.layers.chosen(&stack);
    if stack.layers.is_empty() {
        rows.start = in_progress(pen, &stage, &stack, rows.clone());
        pen.put(2, rows.start, &sight.screen.with_keys(NO_LAYERS), pen.palette.text());
        return None;
    }
    if let Some(at) = chosen.filter(|_| worded) {
        pen.put(1, rows.end, &words(&stage, &stack, at), pen.palette.text());
    }
    let headed = headings(pen, &stage, &stack, rows.clone());
    rows.start += u16::from(headed);
    let below = rows.start;
    rows.start = in_progress(pen, &stage, &stack, rows.clone());
    let follows = headed && rows.start == below;
    // Several rows for each layer if the notes of the chosen one, below all, keep most of the screen. Those
    // notes show an only layer already.
    let count = stack.layers.len();
    let kept = LEAST_BELOW.max(rows.len() * 3 / 5);
    let wanted = |layer| contour::wanted(std::slice::from_ref(layer), stack.track.pitched);
    let most = stack.layers.iter().map(wanted).max().filter(|_| count > 1);
    let most = most.unwrap_or(0).min(MOST_EACH);
    let each = contour::rows_each(stage.shape, rows.len().saturating_sub(kept), count, most);
    // Below all layers, each with air, the notes of the chosen one.
    let all = each.map_or(2 * count, |each| (1 + usize::from(each)) * count + 1);
    let all = all + usize::from(!follows);
    if stage.shape == Shape::Beside && all < rows.len() {
        let notes = rows.start + all as u16..rows.end;
        pane::notes(pen, &stage, (&stack, chosen), notes, pictures);
        rows.end = rows.start + all as u16;
    }
    list(pen, &stage, &stack, (chosen, follows, each), rows, pictures)
}

/// The headings of the layers beside their marks, in the empty row between the track and its layers, if there is
/// one; returns whether there is.
fn headings(pen: &mut Pen, stage: &Stage, stack: &Stack, rows: Range<u16>) -> bool {
    let fits = stage.shape == Shape::Beside && 2 * stack.layers.len() + 1 < rows.len();
    if fits {
        let columns = Columns::of(stage);
        let heads = [
            (1, "layer"),
            (columns.letters, "cms"),
            (columns.notes + 1, "notes"),
            (columns.feel, if stage.heads.feel > 0 { "own feel" } else { "feel" }),
            (columns.also, "also"),
        ];
        for (x, head) in heads {
            pen.put(x, rows.start, head, pen.palette.faint());
        }
    }
    fits
}

fn captions(pen: &mut Pen, sight: &Sight, frame: &Frame, stack: Option<&Stack>) {
    let Some(row) = frame.body.captions else { return };
    let layers = stack.map_or(String::new(), |stack| {
        let count = stack.layers.len();
        let name = text::clip(&stack.track.name, 20, pen.palette.signs.cut);
        let order = if count > 1 { ", top first" } else { "" };
        format!("{name}: {}{order}", counted(count as i64, "layer"))
    });
    super::view_names(pen, sight, row, &[layers]);
}

/// The track as its layers sound together, and the unfinished round on it; returns the row below.
fn whole(pen: &mut Pen, stage: &Stage, stack: &Stack, y: u16, pictures: &mut Pictures) -> u16 {
    let status = &stage.sight.state.status;
    let (song, solo) = (&status.song, &status.solo_passes);
    let (section, track) = (stage.section, &stack.track);
    let strip = pictures.strip(song, section, track, solo, status.round, &stage.scale);
    track_head::draw(pen, stage, y, stack.place, track, &strip);
    let row = y + stage.shape.rows() - 1;
    let style = timeline::track_style(pen, stage, stack.place, track);
    marks(pen, stage, row, &strip, style);
    if status.armed == Some(track.id) {
        unfinished(pen, stage, row);
    }
    row + 1
}

/// The round that is being recorded, on top of the others; returns the row below.
fn in_progress(pen: &mut Pen, stage: &Stage, stack: &Stack, rows: Range<u16>) -> u16 {
    let status = &stage.sight.state.status;
    let armed = status.armed == Some(stack.track.id);
    let Some(pass) = status.unfinished.as_ref().filter(|_| armed) else { return rows.start };
    let height = stage.shape.rows();
    if rows.len() < 2 * usize::from(height) + 1 {
        return rows.start;
    }
    let y = rows.start;
    let columns = Columns::of(stage);
    let style = pen.palette.alarm();
    pen.sign(2, y, pen.palette.signs.fresh, style);
    let room = usize::from(columns.letters - columns.length - 1);
    let word = if room > 10 { "this round" } else { "now" };
    pen.put_in(columns.length, y, room, word, style);
    let count = pass.notes().len();
    let held = format!("{count:>4} {}", plural(count, "note"));
    if columns.notes + held.len() as u16 <= stage.left.max(pen.width() * u16::from(height > 1)) {
        pen.put(columns.notes, y, &held, pen.palette.text());
    }
    let row = y + height - 1;
    timeline::bar_lines(pen, stage, row);
    unfinished(pen, stage, row);
    row + 1
}

/// The rows of the layers that fit, around the chosen one; returns where that is. If they follow their headings,
/// there is no empty row above them. Layers may have so many rows each below the first.
fn list(
    pen: &mut Pen,
    stage: &Stage,
    stack: &Stack,
    (chosen, follows, each): (Option<usize>, bool, Option<u16>),
    rows: Range<u16>,
    pictures: &mut Pictures,
) -> Option<Position> {
    let height = stage.shape.rows() + each.unwrap_or(0);
    let count = stack.layers.len();
    let air = u16::from(usize::from(height + 1) * count < rows.len());
    let stride = height + air;
    let top = rows.start + u16::from(air > 0 && !follows);
    let shown = usize::from((rows.end.saturating_sub(top) + air) / stride).max(1).min(count);
    let at = chosen.unwrap_or(0);
    let first = at.saturating_sub(shown / 2).min(count - shown);
    let mut focus = None;
    for (index, y) in (first..first + shown).zip((top..).step_by(usize::from(stride))) {
        layer(pen, stage, stack, index, y..y + height, pictures);
        if chosen == Some(index) {
            pen.sign(0, y, pen.palette.signs.chosen, pen.palette.strong());
            focus = Some(Position::new(0, y));
        }
    }
    focus
}

/// Says that the chosen track has no layers, below the tracks of the loop.
pub fn none(pen: &mut Pen, stage: &Stage, stack: &Stack, y: u16) {
    let name = text::clip(&stack.track.name, 20, pen.palette.signs.cut);
    pen.rule(y, &[format!("layers of {name}")]);
    pen.put(1, y + 1, &stage.sight.screen.with_keys(NO_LAYERS), pen.palette.text());
}

/// The layers of the chosen track below the tracks of the loop: in all rows or, if there are many, a third
/// of them. Returns the row below.
pub fn below(
    pen: &mut Pen,
    stage: &Stage,
    stack: &Stack,
    rows: Range<u16>,
    pictures: &mut Pictures,
) -> u16 {
    let (count, room) = (stack.layers.len(), rows.len());
    if stage.shape == Shape::Bare || count == 0 || room < 2 {
        return rows.start;
    }
    let y = rows.start + u16::from(room > count + 1);
    let most = if room < MANY_ROWS { usize::from(rows.end - y - 1) } else { room / 3 };
    let shown = count.min(most);
    let more = match count - shown {
        0 => String::new(),
        more => format!("{more} more {} below", plural(more, "layer")),
    };
    let name = text::clip(&stack.track.name, 20, pen.palette.signs.cut);
    pen.rule(y, &[format!("layers of {name}, top first"), more]);
    for index in 0..shown {
        let y = y + 1 + index as u16;
        layer(pen, stage, stack, index, y..y + 1, pictures);
    }
    y + 1 + shown as u16
}

/// A row, and in the view a row of marks below it if they do not fit beside; or several rows of notes.
fn layer(
    pen: &mut Pen,
    stage: &Stage,
    stack: &Stack,
    at: usize,
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    let y = rows.start;
    let (pass, muted) = &stack.layers[at];
    let strip = strip(stage, stack, at, pictures);
    let status = &stage.sight.state.status;
    let silent = *muted || strip.is_covered() || !is_soloed(stack, pass.id, &status.solo_passes);
    let palette = pen.palette;
    let style = if silent { palette.faint() } else { palette.text() };
    let columns = Columns::of(stage);
    pen.put(1, y, &format!("{:>2}", stack.layers.len() - at), style);
    let room = usize::from(columns.letters - columns.length - 1);
    let length = length_word(stage, pass.length);
    let named = SHORT_LENGTH + 2 + text::width(&pass.name).min(SHORTEST_NAME);
    let words = match pass.name.as_str() {
        "" => length,
        name if room >= named => {
            let name = text::clip(name, room - text::width(&length) - 2, palette.signs.cut);
            format!("{name}, {length}")
        }
        name => text::clip(name, room, palette.signs.cut),
    };
    if room >= SHORT_LENGTH {
        pen.put_in(columns.length, y, room, &words, style);
    }
    let letters =
        [('c', strip.has_covered()), ('m', *muted), ('s', status.solo_passes.contains(&pass.id))];
    for (x, (letter, on)) in (columns.letters..).zip(letters) {
        if on {
            pen.sign(x, y, letter, palette.on());
        }
    }
    held(pen, stage, (stack, at), y, style);
    if stage.shape == Shape::Above && stage.sight.screen.view != crate::screen::View::Layers {
        return;
    }
    let row = y + stage.shape.rows() - 1;
    let rows =
        if rows.len() > usize::from(stage.shape.rows()) { row + 1..rows.end } else { row..row + 1 };
    if pass.notes().is_empty() && !pass.lanes().is_empty() {
        curves(pen, stage, (stack, at), rows, pictures);
    } else if rows.start > row {
        contour::draw(pen, stage, (stack, Some(at)), rows, pictures);
    } else {
        let marked = if silent { palette.faint() } else { palette.track(stack.place) };
        marks(pen, stage, row, &strip, marked.remove_modifier(Modifier::BOLD));
    }
}

/// What a layer holds, in columns: its notes, its own feel, the controllers that it moves, and the other
/// sections that share it.
fn held(pen: &mut Pen, stage: &Stage, (stack, at): (&Stack, usize), y: u16, style: Style) {
    let columns = Columns::of(stage);
    let (pass, cut) = (&stack.layers[at].0, pen.palette.signs.cut);
    let end = match stage.shape {
        Shape::Above => pen.width(),
        Shape::Beside | Shape::Bare | Shape::Key => stage.left,
    };
    let mut put = |from: u16, to: u16, text: &str| -> u16 {
        let room = to.min(end).saturating_sub(from + 1);
        if room == 0 { from } else { pen.put(from, y, &text::clip(text, room.into(), cut), style) }
    };
    let (count, moved) = (pass.notes().len(), moved(pass).join(", "));
    let notes = match (count, &*moved) {
        // In the column of the words, beside the counts of other layers.
        (0, moved) if !moved.is_empty() => format!("     {moved}"),
        (_, moved) if pass.feel.is_none() && !moved.is_empty() => {
            format!("{count:>4} {}, {moved}", plural(count, "note"))
        }
        _ => format!("{count:>4} {}", plural(count, "note")),
    };
    let feel = match &pass.feel {
        Some(feel) if stage.shape == Shape::Beside && stage.heads.feel == 0 => {
            super::feel::shortest(feel)
        }
        Some(feel) => feel_word(feel),
        None => String::new(),
    };
    let to = if feel.is_empty() { columns.also } else { columns.feel };
    put(columns.notes, to, &notes);
    if !feel.is_empty() {
        let after = put(columns.feel, columns.also, &feel);
        let left = usize::from(columns.also.saturating_sub(after + 3));
        if count > 0 && text::width(&moved) <= left {
            put(after + 2, columns.also, &moved);
        }
    }
    let room = usize::from(end.saturating_sub(columns.also + 1));
    put(columns.also, end, &also_words(stage, stack, at, room));
}

/// The other sections that share the layer's pass, in as many words as there is room for; under a heading that
/// says what they are, only their letters.
fn also_words(stage: &Stage, stack: &Stack, at: usize, room: usize) -> String {
    let letters = also(stage, stack, at);
    let is_headed =
        stage.shape == Shape::Beside && stage.sight.screen.view == crate::screen::View::Layers;
    if letters.is_empty() || is_headed {
        return letters;
    }
    let words = [format!("also in {letters}"), format!("in {letters}")];
    words.into_iter().find(|words| text::width(words) <= room).unwrap_or(letters)
}

/// What a layer without notes moves, as curves: as many as there are rows for, the most moved first.
fn curves(
    pen: &mut Pen,
    stage: &Stage,
    (stack, at): (&Stack, usize),
    rows: Range<u16>,
    pictures: &mut Pictures,
) {
    let status = &stage.sight.state.status;
    let Some(section) = status.song.section(stage.section.letter) else { return };
    let kept = pictures.lane(stack, Some(at), section);
    let (sheet, none) = (kept.sheet.clone(), BTreeSet::new());
    let source = Source {
        sheet: &sheet,
        rows: &[],
        scale: &stage.scale,
        base: contour::base(stage),
        selected: (&none, 0),
        silent: sheet.silent(&status.solo_passes),
    };
    let controls = controls(&stack.layers[at].0);
    let shown = controls.len().min(rows.len() / 2).max(1);
    let each = rows.len() as u16 / shown as u16;
    for (index, control) in controls.into_iter().take(shown).enumerate() {
        let (shows, top) = (InLane::Control(control, None), rows.start + each * index as u16);
        let lane = top..top + each;
        if each > 1 {
            pane::lane_head(pen, stage, shows, &lane);
        }
        let mut bars = kept.bars(index).of(&source, shows).to_vec();
        if each == 1 {
            // The sign of a point would hide its height.
            bars.iter_mut().flatten().for_each(|bar| bar.point = false);
        }
        notes_view::lane_bars(pen, stage, &sheet, (&lane, shows), &bars);
    }
}

fn strip(stage: &Stage, stack: &Stack, at: usize, pictures: &mut Pictures) -> Arc<Strip> {
    let status = &stage.sight.state.status;
    let from_here_up = stack.layers[..=at].iter().rev().cloned().collect();
    let (solo, round) = (&status.solo_passes, status.round);
    let of = (&*status.song, stage.section);
    pictures.layer(of, &stack.track, from_here_up, solo, round, &stage.scale)
}

/// Whether a pass is soloed, or none of its track is.
fn is_soloed(stack: &Stack, pass: PassId, solo: &BTreeSet<PassId>) -> bool {
    solo.contains(&pass) || !stack.layers.iter().any(|(other, _)| solo.contains(&other.id))
}

/// The other sections that share the layer's pass.
fn also(stage: &Stage, stack: &Stack, at: usize) -> String {
    let song = &stage.sight.state.status.song;
    let others = song.sections_with(stack.layers[at].0.id);
    let others = others.filter(|section| section.letter != stage.section.letter);
    let letters: Vec<&str> = others.map(|section| section.letter.as_str()).collect();
    letters.join(" ")
}

/// The chosen layer in words.
fn words(stage: &Stage, stack: &Stack, at: usize) -> String {
    let (pass, muted) = &stack.layers[at];
    let mut facts = vec![length_word(stage, pass.length)];
    let (notes, moved) = (pass.notes().len(), moved(pass));
    if notes > 0 || moved.is_empty() {
        facts.push(counted(notes as i64, "note"));
    }
    facts.extend(moved);
    if let Some(feel) = &pass.feel {
        facts.push(format!("own feel {}", super::feel::long(feel)));
    }
    if !pass.covers.is_empty() {
        facts.push("replaces what is below".into());
    }
    if *muted {
        facts.push("muted".into());
    }
    let also = also(stage, stack, at);
    let also = if also.is_empty() { also } else { format!("; also in {also}") };
    let (number, of) = (stack.layers.len() - at, stack.layers.len());
    let name = if pass.name.is_empty() { String::new() } else { format!(", {}", pass.name) };
    format!("Layer {number} of {of}{name}: {}{also}.", facts.join(", "))
}

/// A feel of a layer's own, in words.
fn feel_word(feel: &Feel) -> String {
    super::feel::in_room(feel, usize::MAX)
}

/// What a pass moves besides notes, in words.
fn moved(pass: &Pass) -> Vec<String> {
    let mut words: Vec<String> = controls(pass).into_iter().map(held_name).collect();
    words.dedup();
    if !pass.sysex().is_empty() {
        words.push("SysEx".into());
    }
    words
}

/// The controllers that a pass moves, those with most points first.
fn controls(pass: &Pass) -> Vec<Control> {
    let mut points: BTreeMap<Control, usize> = BTreeMap::new();
    for lane in pass.lanes() {
        *points.entry(lane.control).or_default() += lane.points.len();
    }
    let mut controls: Vec<_> = points.into_iter().collect();
    controls.sort_by_key(|&(control, points)| (Reverse(points), control));
    controls.into_iter().map(|(control, _)| control).collect()
}

/// A controller in short. Pressure on single keys is many controllers; one word is enough.
fn held_name(control: Control) -> String {
    match control {
        Control::KeyPressure(_) => "key pressure".to_string(),
        control => control_name(control),
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
