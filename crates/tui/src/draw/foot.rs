//! The foot of the screen: piano, meters, settings, ports, what was last said, and the keys.

use super::{Pen, Plan, Sight, meters};
use crate::desk::{Direction, PortLine, PortState};
use crate::input::{Code, Key};
use crate::keymap::{Action, Binding, Scene, here};
use crate::manual::keys_of;
use crate::screen::Notice;
use crate::text;
use chaconne_engine::{Click, Mode, Rounds};
use chaconne_song::U7;
use std::ops::Range;

pub fn draw(pen: &mut Pen, sight: &Sight, plan: &Plan) {
    if let Some(row) = plan.lower_rule {
        pen.rule(row, &[]);
        meters::draw(pen, sight, row);
    }
    piano(pen, sight, plan);
    if let Some(row) = plan.settings {
        settings(pen, sight, row);
    }
    if let Some(row) = plan.ports {
        ports(pen, sight, row);
    }
    let under = notice(pen, sight, plan);
    keys(pen, sight, under..plan.keys.end);
}

/// What was last said and, where there is room beside it, what undo would take back. A long one
/// takes the first row of keys, where they have two. Gives the row under it.
fn notice(pen: &mut Pen, sight: &Sight, plan: &Plan) -> u16 {
    let notice = &sight.screen.notice;
    let style = if notice.wrong { pen.palette.alarm() } else { pen.palette.text() };
    let (room, cut) = (usize::from(pen.width()) - 2, pen.palette.signs.cut);
    let lines = notice_lines(notice, plan.keys.len().max(1), room, cut);
    let mut end = 1;
    for (row, line) in (plan.notice..).zip(&lines) {
        end = pen.put(1, row, line, style);
    }
    let row = plan.notice + lines.len() as u16 - 1;
    let Some(undo) = sight.view.status.undo else { return row + 1 };
    let undo = format!("undo: {undo}");
    if usize::from(end) + 3 + text::width(&undo) < usize::from(pen.width()) {
        pen.put_before(pen.width() - 1, row, &undo, pen.palette.faint());
    }
    row + 1
}

/// What was last said in at most so many rows. What is too long is cut, but not what there is more.
fn notice_lines(notice: &Notice, rows: usize, room: usize, cut: char) -> Vec<String> {
    let whole = text::wrap(&format!("{} {}", notice.text, notice.more), room);
    if whole.len() <= rows {
        return whole;
    }
    let lines = text::wrap(&notice.text, room);
    let (kept, rest) = lines.split_at(lines.len().min(rows - 1));
    let more = text::width(&notice.more);
    let left = if more > 0 { room.saturating_sub(more + 1) } else { room };
    let last = text::clip(&rest.join(" "), left, cut);
    let last = format!("{last} {}", notice.more).trim().to_string();
    kept.iter().cloned().chain([last]).collect()
}

/// How the next pass is made.
fn settings(pen: &mut Pen, sight: &Sight, row: u16) {
    let status = &sight.view.status;
    let mode = match status.mode {
        Mode::Layer => "layer",
        Mode::Replace => "replace",
        Mode::Punch => "punch",
    };
    let rounds = match status.rounds {
        Rounds::All => "all",
        Rounds::Newest => "newest",
        Rounds::One => "one pass",
    };
    let click = match status.click {
        Click::CountIn => "in count-in",
        Click::Recording => "recording",
        Click::Always => "always",
    };
    let count_in = match status.count_in {
        0 => "none".to_string(),
        1 => "1 bar".to_string(),
        bars => format!("{bars} bars"),
    };
    let pairs = [
        ("new pass", mode, 9),
        ("rounds", rounds, 10),
        ("click", click, 13),
        ("count-in", count_in.as_str(), 8),
    ];
    let mut x = 1;
    for (label, value, room) in pairs {
        if usize::from(x) + label.len() + 1 + value.len() > usize::from(pen.width()) {
            return;
        }
        let after = pen.put(x, row, label, pen.palette.faint());
        pen.put(after + 1, row, value, pen.palette.text());
        x = after + 1 + room;
    }
}

/// The ports, those in trouble first, and how punctual they are served.
fn ports(pen: &mut Pen, sight: &Sight, row: u16) {
    let palette = pen.palette;
    let end = usize::from(lateness(pen, sight, row));
    let mut lines: Vec<&PortLine> = sight.view.ports.iter().collect();
    lines.sort_by_key(|port| (port.state == PortState::Ok, port.direction == Direction::In));
    if lines.is_empty() {
        pen.put(1, row, "no port: what is played is silent", palette.strong());
    }
    let mut x = 1;
    for (index, port) in lines.iter().enumerate() {
        let way = if port.direction == Direction::Out { "out" } else { "in" };
        let word = port.state.word();
        let more = format!("+{} more", lines.len() - index);
        let reserve = if index + 1 < lines.len() { more.len() + 3 } else { 0 };
        let room = end.saturating_sub(usize::from(x) + way.len() + word.len() + 2 + reserve);
        if room < 6.min(text::width(&port.name)) {
            pen.put(x, row, &more, palette.faint());
            return;
        }
        let name = text::clip(&port.name, room.min(24), palette.signs.cut);
        x = pen.put(x, row, way, palette.faint()) + 1;
        x = pen.put(x, row, &name, palette.text()) + 1;
        let style = match port.state {
            PortState::Ok => palette.faint(),
            // To play silently may be meant; it is no alarm.
            PortState::None => palette.strong(),
            PortState::Slow | PortState::Lost => palette.alarm_on(),
        };
        x = pen.put(x, row, word, style);
        let detail = format!(", {}", port.detail);
        let fits = usize::from(x) + text::width(&detail) + reserve <= end;
        if fits && !port.detail.is_empty() {
            x = pen.put(x, row, &detail, palette.text());
        }
        x += 3;
    }
}

/// How late events have been, at the right end; gives the column before it.
fn lateness(pen: &mut Pen, sight: &Sight, row: u16) -> u16 {
    let (palette, view) = (pen.palette, sight.view);
    let tenths = view.lateness.worst_ns / 100_000;
    let worst = format!("{}.{} ms", tenths / 10, tenths % 10);
    let lost = usize::try_from(view.status.dropped).unwrap_or(usize::MAX);
    let (text, style) = if lost > 0 {
        (format!("{lost} {} lost", text::plural(lost, "event")), palette.alarm())
    } else if view.lateness.late > 0 {
        (format!("{} late, at most {worst}", view.lateness.late), palette.strong())
    } else if tenths > 0 && pen.width() >= 60 {
        (format!("at most {worst} late"), palette.faint())
    } else {
        return pen.width() - 1;
    };
    pen.put_before(pen.width() - 1, row, &text, style) - 2
}

/// The two rows of letters, the notes they play, and what leaves piano mode.
fn piano(pen: &mut Pen, sight: &Sight, plan: &Plan) {
    if plan.piano.is_empty() {
        return;
    }
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let (low, high) = piano.reach();
    let sign = "KEYS PLAY NOTES";
    let reach = format!("{} to {}, velocity {}", note(low), note(high), piano.velocity());
    let top = plan.piano.start;
    if plan.piano.len() < 3 {
        let x = pen.put(1, top, sign, palette.on()) + 2;
        pen.put(x, top, &format!("Esc ends. {reach}"), palette.text());
        return;
    }
    let (white, black) = (piano.keyboard.white(), piano.keyboard.black());
    for (index, (white, black)) in std::iter::zip(white, black).enumerate() {
        let x = 2 + 4 * index as u16;
        if piano.keyboard.semitones(black).is_some() {
            pen.sign(x, top, black, palette.on());
        }
        let is_c = piano.keyboard.semitones(white) == Some(0);
        pen.sign(x + 2, top + 1, white, palette.strong());
        let key = piano.key_of(white);
        let name = key.map_or(String::new(), |key| name_of(key).to_string());
        let name = if is_c { key.map_or(name, note) } else { name };
        pen.put(x + 2, top + 2, &name, palette.faint());
    }
    let x = 50;
    let after = pen.put(x, top, sign, palette.on()) + 1;
    pen.put(after, top, "Esc ends it", palette.strong());
    pen.put(x, top + 1, &reach, palette.text());
    let held = match piano.releases {
        true => "notes last while a key is down",
        false => "notes last 0.2 s: just tap",
    };
    pen.put(x, top + 2, held, palette.faint());
}

/// The name of a key without its octave.
fn name_of(key: U7) -> &'static str {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    NAMES[usize::from(key.get()) % 12]
}

/// The name of a key with its octave; middle C, key 60, is C4 (scientific pitch notation).
fn note(key: U7) -> String {
    format!("{}{}", name_of(key), i16::from(key.get()) / 12 - 1)
}

/// The keys that apply now, as many as fit; help and quitting have the last word.
fn keys(pen: &mut Pen, sight: &Sight, rows: Range<u16>) {
    let (screen, scene) = (sight.screen, sight.screen.scene());
    let facts = screen.facts(sight.view);
    let pinned = [Action::Help, Action::Quit];
    let applies = |binding: &&Binding| facts.meet(binding.need) && !is_minor(binding);
    let (last, first): (Vec<&Binding>, Vec<&Binding>) =
        here(scene).filter(applies).partition(|binding| pinned.contains(&binding.action));
    let written = |binding: &Binding| (key_words(sight, binding), binding.label);
    let tail: Vec<(String, &str)> = last.iter().map(|binding| written(binding)).collect();
    let tail_width: usize = tail.iter().map(|(key, label)| entry_width(key, label) + 2).sum();
    let mut first = first.iter().map(|binding| written(binding)).peekable();
    for row in rows.clone() {
        let is_last = row + 1 == rows.end;
        let reserve = if is_last { tail_width } else { 0 };
        let mut x = 1;
        while let Some((key, label)) = first.peek() {
            let wanted = entry_width(key, label) + reserve;
            if usize::from(x) + wanted > usize::from(pen.width()) {
                break;
            }
            x = entry(pen, x, row, key, label);
            first.next();
        }
        if is_last {
            for (key, label) in &tail {
                x = entry(pen, x, row, key, label);
            }
        }
    }
}

/// Lines of the table that the line of keys leaves to the help.
fn is_minor(binding: &Binding) -> bool {
    let only_control = binding.keys.iter().all(|key| key.ctrl) && binding.action != Action::Save;
    only_control || (binding.action == Action::Panic && !binding.scenes.contains(&Scene::Sketch))
}

/// A key as it has to be struck here: arrows as signs, and with Shift what plays a note without.
fn key_words(sight: &Sight, binding: &Binding) -> String {
    let screen = sight.screen;
    let arrows = sight.palette.signs.arrows;
    let word = |key: &Key| match key.code {
        Code::Up => arrows[0].to_string(),
        Code::Down => arrows[1].to_string(),
        Code::Left => arrows[2].to_string(),
        Code::Right => arrows[3].to_string(),
        Code::Char(c)
            if screen.scene() == Scene::Piano
                && !key.ctrl
                && screen.piano.keyboard.semitones(c).is_some() =>
        {
            c.to_uppercase().to_string()
        }
        _ => key.to_string(),
    };
    if binding.shown.is_empty() {
        binding.keys.iter().map(word).collect::<Vec<_>>().join(" ")
    } else {
        keys_of(binding)
    }
}

fn entry_width(key: &str, label: &str) -> usize {
    text::width(key) + 1 + text::width(label)
}

fn entry(pen: &mut Pen, x: u16, row: u16, key: &str, label: &str) -> u16 {
    let after = pen.put(x, row, key, pen.palette.strong());
    pen.put(after + 1, row, label, pen.palette.faint()) + 2
}
