//! The words of the view of the notes: which notes are shown, and everything about the one under the
//! cursor.

use crate::action::Arrows;
use crate::draw::Pen;
use crate::draw::timeline::Stage;
use crate::key_names::{LONGEST, Naming, key_name};
use crate::lane::points_on_axis;
use crate::sheet::{Lying, Sheet, SheetLayer};
use crate::text::{self, plural};
use chaconne_song::{Curve, Pass, Shape, U7};
use chaconne_time::{Span, Tick};
use std::ops::Range;

/// Which notes are shown: `bass: 16 notes`, `drums, layer 2 of 3: 32 notes`.
pub fn shown(sheet: &Sheet, cut: char) -> String {
    let (whose, count) = (whose(sheet, cut), sheet.count());
    match sheet.layers.as_slice() {
        [] => whose,
        _ => format!("{whose}: {count} {}", plural(count, "note")),
    }
}

/// Whose notes are shown: `bass`, `drums, layer 2 of 3`.
pub fn whose(sheet: &Sheet, cut: char) -> String {
    let name = text::clip(&sheet.track.name, 20, cut);
    match sheet.layers.as_slice() {
        [] => format!("{name}, no layers yet"),
        [_] if sheet.of == 1 => name,
        [only] => format!("{name}, layer {} of {}", only.number, sheet.of),
        all => format!("{name}, {} layers", all.len()),
    }
}

/// The other sections in which a change is heard, too, left of the ruler.
pub fn also(stage: &Stage, cut: char) -> String {
    let letters = stage.sight.screen.also(stage.sight.state);
    let room = usize::from(stage.left.saturating_sub(2));
    match letters.as_str() {
        "" => String::new(),
        letters => text::clip(&format!("also in {letters}"), room, cut),
    }
}

/// What the arrows do, if they do not move the cursor.
fn arrows_word(arrows: Arrows) -> &'static str {
    match arrows {
        Arrows::Cursor => "",
        Arrows::Move => "MOVE",
        Arrows::Length => "LENGTH",
        Arrows::Velocity => "VELOCITY",
        Arrows::Lane => "LANE",
    }
}

/// One row of words: what the arrows do, how many notes are selected, and the note under the cursor.
pub fn below(pen: &mut Pen, stage: &Stage, sheet: &Sheet, y: u16) {
    let notes = &stage.sight.screen.notes;
    let palette = pen.palette;
    let mut x = 1;
    let mut put = |pen: &mut Pen, word: &str, style| {
        if !word.is_empty() {
            x = pen.put(x, y, word, style) + 2;
        }
    };
    put(pen, arrows_word(notes.arrows), palette.on());
    put(pen, if notes.corner.is_some() { "RANGE" } else { "" }, palette.on());
    let count = notes.selected.len();
    let selected = match notes.arrows {
        Arrows::Cursor => format!("{count} selected"),
        _ => format!("{count} {}", plural(count, "note")),
    };
    put(pen, if count > 0 { &selected } else { "" }, palette.strong());
    if let Some(from) = notes.ramp_from {
        let ramp = format!("ramp {} to {}", sheet.place_of(from), sheet.place_of(notes.at));
        pen.put(x, y, &ramp, palette.strong());
        return;
    }
    let room = usize::from(pen.width().saturating_sub(x + 1));
    pen.put(x, y, &fitting(facts(stage, sheet), room), palette.text());
}

/// As many facts as fit whole; a length in beats goes before the last of them.
fn fitting(mut facts: Vec<String>, room: usize) -> String {
    let is_wide = |facts: &[String]| text::width(&facts.join("  ")) > room;
    if is_wide(&facts)
        && let Some(length) = facts.iter_mut().find(|fact| fact.starts_with("length "))
        && let Some(beats) = length.find(" (")
    {
        length.truncate(beats);
    }
    while facts.len() > 1 && is_wide(&facts) {
        facts.pop();
    }
    facts.join("  ")
}

/// The facts about what is under the cursor, what matters most first.
fn facts(stage: &Stage, sheet: &Sheet) -> Vec<String> {
    let notes = &stage.sight.screen.notes;
    let base = sheet.base(stage.sight.state.status.round);
    if notes.arrows == Arrows::Lane
        && let Some((pass, curve)) = stage.sight.screen.curve_in_lane(stage.sight.state)
    {
        return point_facts(stage, sheet, &pass, curve);
    }
    if notes.arrows == Arrows::Lane {
        return velocity_facts(stage, sheet);
    }
    match notes.on.and_then(|name| sheet.nearest(name, notes.at, base)) {
        Some(lying) => note_facts(stage, sheet, &lying),
        None => {
            let name = key_name(notes.key, stage.naming(&sheet.track));
            let place = sheet.place_of(notes.at).to_string();
            vec![name, place, "no note".to_string()]
        }
    }
}

/// The notes whose velocities the lane shows at the cursor.
fn velocity_facts(stage: &Stage, sheet: &Sheet) -> Vec<String> {
    let (notes, scale) = (&stage.sight.screen.notes, &stage.scale);
    let mut facts = vec![sheet.place_of(notes.at).to_string()];
    let base = sheet.base(stage.sight.state.status.round);
    let Some(mark) = notes.mark(scale, base).map(|mark| scale.marks[mark]) else { return facts };
    let span = Span::new(mark.start - scale.early(), mark.end - scale.early());
    let here = sheet.keys().flat_map(|key| sheet.starting(key, span, base));
    facts.extend(here.map(|lying| {
        let stroke = lying.note.stroke();
        format!("{} {}", key_name(stroke.key, stage.naming(&sheet.track)), stroke.velocity.get())
    }));
    if facts.len() == 1 {
        facts.push("no note begins here".to_string());
    }
    facts
}

/// The facts about the lane at the cursor: where it is, and whether a point is there.
fn point_facts(stage: &Stage, sheet: &Sheet, pass: &Pass, curve: Curve) -> Vec<String> {
    let (notes, scale) = (&stage.sight.screen.notes, &stage.scale);
    let mut facts = vec![notes.lane.long_name(), sheet.place_of(notes.at).to_string()];
    let layer = sheet.layers.iter().find(|layer| layer.pass.id == pass.id);
    if let (Some(layer), Some(mark)) =
        (layer, notes.mark(scale, sheet.base(stage.sight.state.status.round)))
    {
        let mark = Span::new(scale.marks[mark].start, scale.marks[mark].end);
        let base = sheet.base(stage.sight.state.status.round);
        facts.push(match points_on_axis(layer, curve, mark, base).as_slice() {
            [] => "no point".to_string(),
            [(at, point)] => {
                let away = (*at - mark.from).0;
                let away = if away == 0 { String::new() } else { format!(" {away} ticks later") };
                format!("point{away}, {}", until_next(point.shape))
            }
            several => format!("{} points", several.len()),
        });
        if sheet.layers.len() > 1 {
            facts.push(format!("of layer {}", layer.number));
        }
    }
    facts
}

/// Where a note is heard. If it is drawn in the mark after that, the start of the mark and how early it is.
fn place_of(stage: &Stage, sheet: &Sheet, on: Tick) -> String {
    let scale = &stage.scale;
    let drawn = scale.mark_of(on + scale.early()).map(|mark| scale.marks[mark].start);
    match drawn.filter(|start| *start > on) {
        Some(start) => format!("{}, {} early", sheet.place_of(start), (start - on).0),
        None => sheet.place_of(on.max(Tick::ZERO)).to_string(),
    }
}

/// What happens after a point, up to the next one.
fn until_next(shape: Shape) -> &'static str {
    match shape {
        Shape::Step => "holds",
        Shape::Straight => "straight to the next",
        Shape::SlowStart => "slow start to the next",
        Shape::SlowEnd => "slow end to the next",
    }
}

fn note_facts(stage: &Stage, sheet: &Sheet, lying: &Lying) -> Vec<String> {
    let stroke = lying.note.stroke();
    let naming = stage.naming(&sheet.track);
    let mut facts = vec![
        key_name(stroke.key, naming),
        place_of(stage, sheet, lying.on),
        velocity_words(stroke.velocity, lying.velocity),
        format!("length {}", length_words(stroke.length, sheet.section.metre.first().beat())),
    ];
    let played = played_words(sheet, lying, naming);
    if !played.is_empty() {
        facts.push(format!("played {}", played.join(", ")));
    }
    if sheet.layers.len() > 1 {
        facts.push(format!("layer {}", lying.layer.number));
    }
    facts
}

/// The velocity of a note and, if a groove or human variation changes it, the one with which it sounds.
fn velocity_words(velocity: U7, sounds: U7) -> String {
    match velocity == sounds {
        true => format!("velocity {velocity}"),
        false => format!("velocity {velocity}, sounds {sounds}"),
    }
}

/// How the note was played, where that differs from how it is heard.
fn played_words(sheet: &Sheet, lying: &Lying, naming: Naming) -> Vec<String> {
    let (played, placed) = (lying.note.played, lying.note.placed);
    let late = (lying.played() - lying.on).0;
    let beat = sheet.section.metre.first().beat();
    let mut words = Vec::new();
    words.extend(placed.key.map(|_| key_name(played.key, naming)));
    words.extend(match late {
        0 => None,
        late if Tick(late.abs()) < beat => {
            let way = if late < 0 { "early" } else { "late" };
            Some(format!("{} {way}", late.abs()))
        }
        _ => Some(format!("at {}", sheet.place_of(lying.played()))),
    });
    words.extend(placed.velocity.map(|_| format!("velocity {}", played.velocity.get())));
    words.extend(placed.length.map(|_| format!("length {}", played.length.0)));
    words
}

/// A length in ticks, in which it is changed, and in beats, in which it is heard.
fn length_words(length: Tick, beat: Tick) -> String {
    let ticks = usize::try_from(length.0).unwrap_or(0);
    let beats = format!("{:.2}", ticks as f64 / beat.0.max(1) as f64);
    let beats = beats.trim_end_matches('0').trim_end_matches('.');
    let unit = if beats == "1" { "beat" } else { "beats" };
    format!("{ticks} {} ({beats} {unit})", plural(ticks, "tick"))
}

/// What a large screen has room for, left of the keys: the layers shown, and what is selected.
pub fn beside(pen: &mut Pen, stage: &Stage, sheet: &Sheet, rows: Range<u16>) {
    // Two columns of air on the left; the sign of the cursor and one column on either side of the name.
    let room = usize::from(stage.left.saturating_sub(2 + LONGEST + 3));
    let layers = sheet.layers.iter().map(|layer| layer_words(layer, sheet));
    let lines = layers.chain(selection(stage, sheet));
    for (y, line) in rows.zip(lines) {
        pen.put(2, y, &text::clip(&line, room, pen.palette.signs.cut), pen.palette.text());
    }
}

/// How many notes a key has and how hard they are, left of its name, if there is room for it after a column.
pub fn key_facts(pen: &mut Pen, stage: &Stage, sheet: &Sheet, key: U7, (from, y): (u16, u16)) {
    let Some((low, high, count)) = sheet.velocities(key) else { return };
    let end = stage.left.saturating_sub(LONGEST + 4);
    let notes = format!("{count} {}", plural(count, "note"));
    // All rows tell the same, so what counts is the room for the longest words.
    let words = match end.saturating_sub(from) {
        31.. if low == high => format!("{notes}, velocity {low}"),
        31.. => format!("{notes}, velocity {low} to {high}"),
        10.. => notes,
        _ => return,
    };
    pen.put_before(end, y, &words, pen.palette.faint());
}

fn layer_words(layer: &SheetLayer, sheet: &Sheet) -> String {
    let count = layer.pass.notes().len();
    let muted = if layer.mute { ", muted" } else { "" };
    let notes = format!("layer {}: {count} {}{muted}", layer.number, plural(count, "note"));
    let feel = layer.pass.feel.unwrap_or(sheet.track.feel);
    let grid = feel.grid.map(|grid| format!(", grid {grid}")).unwrap_or_default();
    let groove = if feel.groove.is_some() { ", groove" } else { "" };
    let human = if feel.human.is_on() { ", human" } else { "" };
    format!("{notes}{grid}{groove}{human}")
}

/// What the selected notes have in common.
fn selection(stage: &Stage, sheet: &Sheet) -> Vec<String> {
    let Some(summary) = stage.sight.screen.notes.summary else { return Vec::new() };
    let name = |key: U7| key_name(key, stage.naming(&sheet.track));
    let (low, high) = summary.keys;
    let keys = match low == high {
        true => format!("all {}", name(low)),
        false => format!("from {} to {}", name(low), name(high)),
    };
    let (soft, loud) = summary.velocities;
    let velocities = match soft == loud {
        true => format!("velocity {}", soft.get()),
        false => format!("velocity {} to {}", soft.get(), loud.get()),
    };
    vec![String::new(), format!("{} selected", summary.count), keys, velocities]
}
