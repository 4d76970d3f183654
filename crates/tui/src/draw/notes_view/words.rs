//! The words of the view of the notes: which notes are shown, and everything about the one under the
//! cursor.

use crate::action::Arrows;
use crate::draw::Pen;
use crate::draw::timeline::Stage;
use crate::key_names::key_name;
use crate::sheet::{Lying, Sheet, SheetLayer};
use crate::text::{self, plural};
use chaconne_song::{U7, transposed};
use chaconne_time::{NoteValue, Tick};
use std::ops::Range;

/// Which notes are shown: `bass: layer 2 of 3, 16 notes`.
pub fn shown(sheet: &Sheet, cut: char) -> String {
    let name = text::clip(&sheet.track.name, 20, cut);
    let count = sheet.count();
    let notes = format!("{count} {}", plural(count, "note"));
    let layers = match sheet.layers.as_slice() {
        [] => return format!("{name}: no layers yet"),
        [_] if sheet.of == 1 => "one layer".to_string(),
        [only] => format!("layer {} of {}", only.number, sheet.of),
        all => format!("{} layers", all.len()),
    };
    format!("{name}: {layers}, {notes}")
}

/// The other sections in which a change is heard, too.
pub fn also(stage: &Stage, sheet: &Sheet) -> String {
    let song = &stage.sight.state.status.song;
    let mut letters: Vec<&str> = Vec::new();
    for section in &song.sections {
        let has = |pass| section.layers.iter().any(|layer| layer.pass == pass);
        let shares = sheet.layers.iter().any(|layer| has(layer.pass.id));
        if shares && section.letter != sheet.section.letter {
            letters.push(section.letter.as_str());
        }
    }
    if letters.is_empty() { String::new() } else { format!("also in {}", letters.join(" ")) }
}

/// What the arrows do, if they do not move the cursor.
fn arrows_word(arrows: Arrows) -> &'static str {
    match arrows {
        Arrows::Cursor => "",
        Arrows::Move => "MOVE",
        Arrows::Hold => "HOLD",
        Arrows::Force => "HARDER",
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
    put(pen, if notes.corner.is_some() { "STRETCH" } else { "" }, palette.on());
    let count = notes.selected.len();
    let selected = format!("{count} selected");
    put(pen, if count > 0 { &selected } else { "" }, palette.strong());
    put(pen, &facts(stage, sheet).join("  "), palette.text());
}

/// The facts about what is under the cursor, what matters most first.
fn facts(stage: &Stage, sheet: &Sheet) -> Vec<String> {
    let notes = &stage.sight.screen.notes;
    let base = sheet.base(stage.sight.state.status.round);
    match notes.on.and_then(|name| sheet.nearest(name, notes.at, base)) {
        Some(lying) => note_facts(stage, sheet, &lying),
        None => {
            let name = key_name(notes.key, sheet.track.pitched);
            let place = sheet.place_of(notes.at).to_string();
            vec![name, place, "no note".to_string()]
        }
    }
}

fn note_facts(stage: &Stage, sheet: &Sheet, lying: &Lying) -> Vec<String> {
    let stroke = lying.note.stroke();
    let pitched = sheet.track.pitched;
    let mut facts = vec![
        key_name(stroke.key, pitched),
        format!("velocity {}", stroke.velocity.get()),
        sheet.place_of(lying.on.max(Tick::ZERO)).to_string(),
        format!("length {}", length_word(stroke.length)),
    ];
    let played = played_words(sheet, lying);
    if !played.is_empty() {
        facts.push(format!("played {}", played.join(", ")));
    }
    let sounds = transposed(stroke.key, by(stage, sheet));
    if sounds != stroke.key {
        facts.push(format!("sounds as {}", key_name(sounds, true)));
    }
    if sheet.layers.len() > 1 {
        facts.push(format!("layer {}", lying.layer.number));
    }
    facts
}

/// How the note was played, where that differs from how it is heard.
fn played_words(sheet: &Sheet, lying: &Lying) -> Vec<String> {
    let (played, placed) = (lying.note.played, lying.note.placed);
    let late = (lying.played() - lying.on).0;
    let beat = sheet.section.metre.first().beat();
    let mut words = Vec::new();
    words.extend(placed.key.map(|_| key_name(played.key, sheet.track.pitched)));
    words.extend(match late {
        0 => None,
        late if Tick(late.abs()) < beat => Some(late_words(late)),
        _ => Some(format!("at {}", sheet.place_of(lying.played()))),
    });
    words.extend(placed.velocity.map(|_| format!("velocity {}", played.velocity.get())));
    words.extend(placed.length.map(|_| format!("length {}", length_word(played.length))));
    words
}

/// How far the track is transposed.
fn by(stage: &Stage, sheet: &Sheet) -> i32 {
    let song = stage.sight.state.status.song.transpose.semitones();
    let section = sheet.section.transpose.semitones();
    if sheet.track.pitched { i32::from(song) + i32::from(section) } else { 0 }
}

fn late_words(late: i64) -> String {
    let ticks = usize::try_from(late.abs()).unwrap_or(usize::MAX);
    let way = if late < 0 { "early" } else { "late" };
    format!("{ticks} {} {way}", plural(ticks, "tick"))
}

/// A length as a part of a whole note, or in ticks.
fn length_word(length: Tick) -> String {
    let value = NoteValue::grids().find(|value| value.ticks() == length);
    let ticks = usize::try_from(length.0).unwrap_or(0);
    value.map_or(format!("{ticks} {}", plural(ticks, "tick")), |value| value.to_string())
}

/// What a large screen has room for, left of the keys: the layers shown, and what is selected.
pub fn beside(pen: &mut Pen, stage: &Stage, sheet: &Sheet, rows: Range<u16>) {
    const NAME: u16 = 11;
    let room = usize::from(stage.left.saturating_sub(NAME + 2));
    let layers = sheet.layers.iter().map(|layer| layer_words(layer, sheet));
    let lines = layers.chain(selection(stage, sheet));
    for (y, line) in rows.zip(lines) {
        pen.put(2, y, &text::clip(&line, room, pen.palette.signs.cut), pen.palette.text());
    }
}

fn layer_words(layer: &SheetLayer, sheet: &Sheet) -> String {
    let count = layer.pass.notes().len();
    let muted = if layer.mute { ", muted" } else { "" };
    let notes = format!("layer {}: {count} {}{muted}", layer.number, plural(count, "note"));
    match layer.pass.feel.unwrap_or(sheet.track.feel).grid {
        Some(grid) => format!("{notes}, grid {grid}"),
        None => notes,
    }
}

/// What the selected notes have in common.
fn selection(stage: &Stage, sheet: &Sheet) -> Vec<String> {
    let Some(summary) = stage.sight.screen.notes.summary else { return Vec::new() };
    let name = |key: U7| key_name(key, sheet.track.pitched);
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
