//! The ruler: the numbers of the bars, their beats, and the lines between them.

use super::{Shape, Stage};
use crate::axis::{BarLine, Grain};
use crate::chords::sounding;
use crate::draw::Pen;
use crate::draw::head::saved_word;
use chaconne_song::ChordSymbol;
use chaconne_time::Tick;

/// The bars' numbers and their beats.
pub fn draw(pen: &mut Pen, stage: &Stage, row: u16, heads: &[(u16, &str)]) {
    let palette = pen.palette;
    match stage.shape {
        Shape::Beside => {
            for &(x, head) in heads {
                pen.put(x, row, head, palette.faint());
            }
        }
        // If the title has no row, whether the song is saved is shown above the names.
        Shape::Bare | Shape::Key if !stage.titled => saved(pen, stage, row),
        Shape::Bare | Shape::Above | Shape::Key => {}
    }
    bar_lines(pen, stage, row);
    for mark in stage.scale.marks.iter().filter(|mark| mark.on_beat) {
        pen.sign(stage.left + mark.column, row, palette.signs.beat, palette.faint());
    }
    beat_numbers(pen, stage, row);
    for line in &stage.scale.lines {
        let number = line_words(stage, line);
        let bars = line.number..line.number + line.bars;
        let plays = stage.sight.state.is_playing()
            && stage.section.letter == stage.sight.state.status.section;
        let here = plays && bars.contains(&stage.bar_now());
        let style = if here { palette.on() } else { palette.text() };
        if number.len() <= line.marks * usize::from(stage.scale.wide) {
            pen.put(stage.left + line.column + 1, row, &number, style);
        }
    }
    chords(pen, stage, row);
}

/// A chord on the ruler.
struct Label {
    name: String,
    /// The first column, and the one after the last of its bar.
    from: u16,
    to: u16,
    /// Whether it is the chord of the moment.
    sounds: bool,
}

/// The chords over the bars. The first of a bar that has no room is a sign that something is left out, and
/// nothing follows it in its bar: half a name would be another chord, and a later chord would pass for that of
/// the whole bar.
fn chords(pen: &mut Pen, stage: &Stage, row: u16) {
    let labels = labels(stage);
    for bar in labels.chunk_by(|one, next| one.to == next.to) {
        for (index, label) in bar.iter().enumerate() {
            let end = label.from + label.name.chars().count() as u16;
            // Where the next one is in the way, this one needs room for the sign as well.
            let is_last = bar.get(index + 1).is_none_or(|next| end >= next.from);
            let leaves_out = is_last && index + 1 < bar.len();
            if end + 2 * u16::from(leaves_out) > label.to {
                cut(pen, label.from, label.to, row);
                break;
            }
            put(pen, label, end, row);
            if leaves_out {
                cut(pen, end + 1, label.to, row);
            }
            if is_last {
                break;
            }
        }
    }
}

/// A chord with room for its name, which ends before a column.
fn put(pen: &mut Pen, label: &Label, end: u16, row: u16) {
    let style = if label.sounds { pen.palette.on() } else { pen.palette.text() };
    // The dots of the beats under it go, with an empty column behind it.
    let room = usize::from((end + 1).min(label.to) - label.from);
    pen.put_in(label.from, row, room, "", style);
    pen.put(label.from, row, &label.name, style);
}

/// The sign that chords of a bar are left out, if the bar has room for it.
fn cut(pen: &mut Pen, column: u16, end: u16, row: u16) {
    if column < end {
        pen.sign(column, row, pen.palette.signs.cut, pen.palette.faint());
    }
}

/// The chords on the page, round after round.
fn labels(stage: &Stage) -> Vec<Label> {
    let (section, scale) = (stage.section, &stage.scale);
    let plays =
        stage.sight.state.is_playing() && section.letter == stage.sight.state.status.section;
    let now = stage.playhead();
    let mut labels: Vec<Label> = Vec::new();
    let end = scale.marks.last().map_or(Tick::ZERO, |mark| mark.end);
    let rounds = (0..).map(|round| section.length() * round).take_while(|&top| top < end);
    let chords = sounding(&stage.sight.state.status.song, section);
    let told = rounds.flat_map(|top| {
        let inside = chords.iter().filter(|chord| chord.at < section.length());
        inside.map(move |chord| (top + chord.at, chord.symbol))
    });
    let told: Vec<(Tick, ChordSymbol)> = told.collect();
    for (index, &(at, symbol)) in told.iter().enumerate() {
        let until = told.get(index + 1).map_or(end, |next| next.0);
        let Some(mark) = scale.mark_of(at) else { continue };
        let column = scale.marks[mark].column;
        // Behind the number of its bar, if it begins with one.
        let line = scale.lines.iter().find(|line| line.column + 1 == column);
        let number = line.map_or(0, |line| line_words(stage, line).len() as u16 + 1);
        let from = stage.left + column + number;
        // Up to the next bar line.
        let bar = scale.lines.iter().map(|line| line.column).find(|&next| next > column);
        let to = stage.left + bar.unwrap_or_else(|| scale.columns());
        let sounds = plays && at <= now && now < until;
        labels.push(Label { name: symbol.to_string(), from, to, sounds });
    }
    labels
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
pub fn bar_lines(pen: &mut Pen, stage: &Stage, row: u16) {
    let (sign, faint) = (pen.palette.signs.bar, pen.palette.faint());
    for line in stage.scale.lines.iter().filter(|line| !line.inside) {
        pen.sign(stage.left + line.column, row, sign, faint);
    }
    if stage.scale.lines.last().is_some_and(|line| !line.cut) {
        pen.sign(stage.left + stage.scale.columns(), row, sign, faint);
    }
}
