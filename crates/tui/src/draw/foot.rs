//! The foot of the screen: piano, meters, settings, ports, the last message, and the keys.

use super::{Frame, Pen, Sight, meters, piano, tour};
use crate::action::{Action, Arrows, LayerAction, LeadAction, Move, NoteAction};
use crate::desk::{DeskState, Direction, ExportRun, PortLine, PortState};
use crate::form::Value;
use crate::input::{Code, Key};
use crate::keymap::{Binding, Line, Need, Scene};
use crate::screen::{Notice, Overlay, View, when_word};
use crate::text;
use chaconne_engine::{Click, Mode, Rounds, Status, Turn};
use std::ops::Range;

pub fn draw(pen: &mut Pen, sight: &Sight, frame: &Frame) {
    let rows = &frame.foot;
    if let Some(row) = rows.rule {
        pen.rule(row, &[]);
        meters::draw(pen, sight, row);
    }
    piano::draw(pen, sight, &rows.piano);
    if let Some(row) = rows.settings {
        settings(pen, sight, row);
    }
    if let Some(row) = rows.ports {
        ports(pen, sight, row);
    }
    tour::draw(pen, sight, &rows.tour);
    let under = notice(pen, sight, rows.notice, rows.keys.len());
    keys(pen, sight, under..rows.keys.end, rows.settings.is_some());
}

/// The last message and, if there is room beside it, what undo would undo. A long message also
/// takes the first of the `spare` rows under it, if there are two. Returns the row below.
fn notice(pen: &mut Pen, sight: &Sight, first: u16, spare: usize) -> u16 {
    let notice = &sight.screen.notice;
    let style = if notice.wrong { pen.palette.alarm() } else { pen.palette.text() };
    let (room, cut) = (usize::from(pen.width()) - 2, pen.palette.signs.cut);
    let lines = match notice.hint {
        true => vec![hint(&notice.text, room, cut)],
        false => notice_lines(notice, spare.max(1), room, cut),
    };
    let mut end = 1;
    for (row, line) in (first..).zip(&lines) {
        end = pen.put(1, row, line, style);
    }
    let row = first + lines.len() as u16 - 1;
    if let Some(run) = &sight.state.export.running {
        let room = usize::from(pen.width()).saturating_sub(usize::from(end) + 3);
        let is_named = notice.text.contains(&run.file);
        export(pen, run, row, room, !is_named);
        return row + 1;
    }
    let Some(undo) = undo_words(&sight.state.status) else { return row + 1 };
    if usize::from(end) + 3 + text::width(&undo) < usize::from(pen.width()) {
        pen.put_before(pen.width() - 1, row, &undo, pen.palette.faint());
    }
    row + 1
}

/// How much of an export is done, at the right end of a row with room for so many columns; with the name of the
/// file, unless the message beside it has that already.
fn export(pen: &mut Pen, run: &ExportRun, row: u16, room: usize, named: bool) {
    const BAR: u16 = 20;
    let (palette, end) = (pen.palette, pen.width() - 1);
    let percent = format!("{:>3} %", run.percent);
    if room < percent.len() {
        return;
    }
    let x = pen.put_before(end, row, &percent, palette.text());
    let left = room - percent.len();
    let bar = if left > usize::from(BAR) + 1 { BAR } else { 0 };
    for cell in 0..bar {
        let done = u16::from(run.percent.min(100)) * bar / 100 > cell;
        let (sign, style) = match done {
            true => (palette.signs.filled[7], palette.track(0)),
            false => (palette.signs.rule, palette.faint()),
        };
        pen.sign(x - 1 - bar + cell, row, sign, style);
    }
    if !named {
        return;
    }
    let used = if bar > 0 { usize::from(bar) + 1 } else { 0 };
    let words = text::clip(&run.file, left.saturating_sub(used + 1), palette.signs.cut);
    let from = x - used as u16;
    pen.put_before(from - 1, row, &words, palette.faint());
}

/// What undo would undo, on which track if it is one that is still there, and in which section.
fn undo_words(status: &Status) -> Option<String> {
    Some(match status.undo? {
        Turn::Step(label, track, section) => {
            let track = track.and_then(|id| status.song.track(id));
            format!("undo: {}", label.about(track.map(|track| track.name.as_str()), section))
        }
        round @ (Turn::UnfinishedRound | Turn::KeyChange) => format!("undo: {round}"),
    })
}

/// The last message in at most `rows` rows. A long text is cut, but never the words that say where
/// to read all of it.
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

/// As much of a hint as fits into a row: all of it, if necessary in fewer words, or else its first parts.
fn hint(hint: &str, room: usize, cut: char) -> String {
    let (begins, ends) = ("The ", " key does nothing here");
    let short = |long: &str| match long.starts_with(begins) {
        true => long.replacen(begins, "", 1).replacen(ends, ": nothing here", 1),
        false => long.to_string(),
    };
    let mut parts: Vec<&str> = hint.split("; ").collect();
    loop {
        let long = text::sentence(&parts.join("; "));
        let fits = [short(&long), long].into_iter().rfind(|words| text::width(words) <= room);
        match fits {
            Some(words) => return words,
            None if parts.len() == 1 => return text::clip(&short(hint), room, cut),
            None => _ = parts.pop(),
        }
    }
}

/// The settings: those of recording, or in the view of the form those of leading it.
fn settings(pen: &mut Pen, sight: &Sight, row: u16) {
    let status = &sight.state.status;
    let mode = match status.mode {
        Mode::Layer => "add",
        Mode::Replace => "replace",
        Mode::Punch => "punch",
    };
    let rounds = match status.rounds {
        Rounds::All => EVERY_ROUND,
        Rounds::Newest => "newest",
        Rounds::One => "one pass",
    };
    let click = match status.click {
        Click::CountIn => "count-in",
        Click::Recording => "recording",
        Click::Always => "always",
    };
    let count_in = match status.count_in {
        0 => "none".to_string(),
        1 => "1 bar".to_string(),
        bars => format!("{bars} bars"),
    };
    let (names, first, second) = match sight.screen.view {
        View::Form => {
            let at_end = if status.repeat { "repeat" } else { "stop" };
            (LEADING, (when_word(sight.screen.when), 7), (at_end, 6))
        }
        _ => (SETTINGS, (mode, 7), (rounds, 11)),
    };
    let mut values = [first, second, (click, 9), (count_in.as_str(), 6)];
    let keys = names.map(|(action, _)| setting_key(sight, action));
    let named = |at: usize| {
        let keyed = if keys[at].is_empty() { 0 } else { text::width(&keys[at]) + 1 };
        keyed + names[at].1.len() + 1
    };
    let room = usize::from(pen.width()).saturating_sub(1);
    let least: usize = (0..names.len()).map(|at| named(at) + text::width(values[at].0)).sum();
    // Fewer words rather than one setting less.
    if values[1].0 == EVERY_ROUND && least + LEAST_SETTING_GAP * (names.len() - 1) > room {
        values[1] = ("all", 8);
    }
    let width = |at: usize| named(at) + values[at].1;
    // Where each has room for its longest value, none moves when another changes.
    let longest: usize = (0..names.len()).map(width).sum();
    let is_steady = longest + LEAST_SETTING_GAP * (names.len() - 1) <= room;
    let width = |at: usize| {
        let unused = values[at].1.saturating_sub(text::width(values[at].0));
        width(at) - if is_steady { 0 } else { unused }
    };
    let all = |count: usize| (0..count).map(width).sum::<usize>();
    let fits = |&count: &usize| all(count) + LEAST_SETTING_GAP * (count - 1) <= room;
    let count = (1..=names.len()).rev().find(fits).unwrap_or(1);
    let spare = room.saturating_sub(all(count)) / (count - 1).max(1);
    let gap = spare.clamp(LEAST_SETTING_GAP, SETTING_GAP);
    let mut x = 1;
    for (at, key) in keys.iter().enumerate().take(count) {
        let from = if key.is_empty() { x } else { pen.put(x, row, key, pen.palette.strong()) + 1 };
        let after = pen.put(from, row, names[at].1, pen.palette.faint());
        pen.put(after + 1, row, values[at].0, pen.palette.text());
        x += (width(at) + gap) as u16;
    }
}

/// The settings of recording: what changes each, and its name.
const SETTINGS: [(Action, &str); 4] = [
    (Action::NextMode, "new pass:"),
    (Action::NextRounds, "keep:"),
    (Action::NextClick, "click:"),
    (Action::CountIn(0), "count-in:"),
];

/// The settings in the view of the form.
const LEADING: [(Action, &str); 4] = [
    (Action::Lead(LeadAction::When), "go at:"),
    (Action::Lead(LeadAction::Repeat), "at the end:"),
    (Action::NextClick, "click:"),
    (Action::CountIn(0), "count-in:"),
];

/// What is kept of a take, where there is room for two words.
const EVERY_ROUND: &str = "every round";

/// The most columns between settings.
const SETTING_GAP: usize = 4;
/// The fewest.
const LEAST_SETTING_GAP: usize = 2;

/// The key that changes a setting now; nothing if none does, as in piano mode.
fn setting_key(sight: &Sight, action: Action) -> String {
    let mut here = sight.screen.keymap.here(sight.screen.scene());
    let line = Line::join(here.find(|binding| binding.action == action).into_iter());
    line.first().map_or(String::new(), |line| line_word(sight, line))
}

/// The ports, those in trouble first, and how well the clock keeps time.
fn ports(pen: &mut Pen, sight: &Sight, row: u16) {
    let palette = pen.palette;
    let mut lines: Vec<&PortLine> = sight.state.ports.iter().collect();
    let wanted: usize = lines.iter().map(|port| port_width(port)).sum();
    let end = usize::from(timing(pen, sight, row, wanted));
    lines.sort_by_key(|port| (port.state == PortState::Ok, port.direction == Direction::In));
    if lines.is_empty() {
        pen.put(1, row, "no ports: nothing you play is heard", palette.strong());
    }
    let mut x = 1;
    for (index, port) in lines.iter().enumerate() {
        let way = if port.direction == Direction::Out { "out" } else { "in" };
        let (name, word) = port_words(port);
        let way = if name.is_empty() { "" } else { way };
        let more = format!("+{} more", lines.len() - index);
        let reserve = if index + 1 < lines.len() { more.len() + 3 } else { 0 };
        let taken = if name.is_empty() { word.len() } else { way.len() + word.len() + 2 };
        let room = end.saturating_sub(usize::from(x) + taken + reserve);
        if room < 6.min(text::width(name)) {
            pen.put(x, row, &more, palette.faint());
            return;
        }
        if !name.is_empty() {
            let name = text::clip(name, room.min(LONGEST_PORT), palette.signs.cut);
            x = pen.put(x, row, way, palette.faint()) + 1;
            x = pen.put(x, row, &name, palette.text()) + 1;
        }
        let style = match port.state {
            PortState::Ok => palette.faint(),
            // Playing silently may be intended: no alarm.
            PortState::None | PortState::Waiting => palette.strong(),
            PortState::Slow | PortState::Stalled | PortState::Lost => palette.alarm_on(),
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

/// The longest name of a port, in columns.
const LONGEST_PORT: usize = 24;

/// What a port is called, and how it is; one that is none and has no name of its own is told in one word.
fn port_words(port: &PortLine) -> (&str, &'static str) {
    const UNNAMED: &str = "none";
    match (port.state, port.direction) {
        (PortState::None, Direction::Out) if port.name == UNNAMED => ("", "no output"),
        (PortState::None, Direction::In) if port.name == UNNAMED => ("", "no input"),
        (state, _) => (&port.name, state.word()),
    }
}

/// The columns of a port, with those between it and the next.
fn port_width(port: &PortLine) -> usize {
    let (name, word) = port_words(port);
    let way = if port.direction == Direction::Out { 4 } else { 3 };
    let detail = if port.detail.is_empty() { 0 } else { 2 + text::width(&port.detail) };
    let name = if name.is_empty() { 0 } else { way + text::width(name).min(LONGEST_PORT) + 1 };
    name + word.len() + detail + 3
}

/// How well the clock keeps time, at the right end, beside ports that want so many columns; gives
/// the column before it.
fn timing(pen: &mut Pen, sight: &Sight, row: u16, ports: usize) -> u16 {
    let (palette, end) = (pen.palette, pen.width() - 1);
    let trouble = trouble_words(sight.state);
    let timing = &sight.state.timing;
    let (words, style) = if !trouble.is_empty() {
        // The ports need half the row.
        (fitting(trouble, usize::from(pen.width()) / 2), palette.alarm())
    } else if timing.p99_ns < TENTH || !sight.state.has_output() {
        return end;
    } else {
        let (p50, p99) = (tenths(timing.p50_ns), tenths(timing.p99_ns));
        let words = format!("p50 {p50}, p99 {p99} ms late");
        if 1 + ports + words.len() >= usize::from(end) {
            return end;
        }
        (words, palette.faint())
    };
    pen.put_before(end, row, &words, style).saturating_sub(2)
}

/// As many words as fit; what matters least comes last.
fn fitting(mut words: Vec<String>, room: usize) -> String {
    while words.len() > 1 && text::width(&words.join(", ")) > room {
        words.pop();
    }
    words.join(", ")
}

/// A tenth of a millisecond, in nanoseconds.
const TENTH: u64 = 100_000;

/// Milliseconds, with one decimal.
pub fn tenths(ns: u64) -> String {
    format!("{}.{}", ns / TENTH / 10, ns / TENTH % 10)
}

/// What was lost or late, the worst first; empty if nothing was.
fn trouble_words(state: &DeskState) -> Vec<String> {
    let timing = &state.timing;
    let unheard = timing.unheard.saturating_add(state.status.lost);
    // Nobody hears what is late where no output is.
    let late = if state.has_output() { timing.late } else { 0 };
    let mut words: Vec<String> = [
        (timing.queue_full, "lost"),
        (unheard, "not recorded"),
        (late, "late"),
        (timing.waiting, "waiting"),
    ]
    .into_iter()
    .filter(|(count, _)| *count > 0)
    .map(|(count, word)| format!("{count} {word}"))
    .collect();
    if !words.is_empty() && timing.worst_ns >= TENTH {
        words.push(format!("worst {} ms", tenths(timing.worst_ns)));
    }
    words
}

/// What actions on a track or its layers need.
const TRACK_NEEDS: [Need; 4] = [Need::Track, Need::Apart, Need::Layer, Need::AnyLayer];
/// Rows as wide as this always show the key that saves.
const WITH_SAVE: u16 = 80;

/// Rows as wide as this have room for every key of the layers.
const WITH_ALL: u16 = 100;

/// Rows narrower than this have room for little.
const NARROW: u16 = 60;

/// The keys that apply now, as many as fit; what leads on and out comes last and are always
/// there. `settings` says whether the settings are shown with their keys.
pub fn keys(pen: &mut Pen, sight: &Sight, rows: Range<u16>, settings: bool) {
    let (screen, scene) = (sight.screen, sight.screen.scene());
    let facts = screen.facts(sight.state);
    let is_narrow = pen.width() < NARROW;
    // What ends a mode of the arrows must be in sight as long as it lasts.
    let ends = (scene == Scene::Notes && facts.arrows != Arrows::Cursor)
        .then_some(Action::Note(NoteAction::Release));
    let leads: &[Action] = match pen.width() {
        WITH_SAVE.. => &[
            Action::Confirm,
            Action::Cancel,
            Action::Save,
            Action::Find,
            Action::Help,
            Action::Quit,
        ],
        // On a narrow screen the way out of the mode comes first.
        _ if is_narrow && ends.is_some() => &[Action::Help],
        // What Enter does in a box matters more than how to move in it.
        _ if scene == Scene::Form => &[Action::Confirm, Action::Cancel, Action::Help],
        _ => &[Action::Cancel, Action::Help, Action::Quit],
    };
    let is_pinned = |action: Action| leads.contains(&action) || ends == Some(action);
    let applies = |binding: &&Binding| {
        let is_free = !binding.keys.iter().all(|key| screen.tour_has(key));
        let beside = settings && is_setting(binding);
        // The ports are not about a track; its keys work there, and the help has them.
        let is_apart = scene == Scene::Ports && TRACK_NEEDS.contains(&binding.need);
        // What turned the arrows ends that, too; one key for it is enough.
        let is_on =
            ends.is_some() && binding.action == Action::Note(NoteAction::Arrows(facts.arrows));
        // A name is the first thing to do without where there is no room for all.
        let is_spare = pen.width() < WITH_ALL && binding.action == Action::Layer(LayerAction::Name);
        let is_left_out = is_minor(binding) || beside || is_apart || is_on || is_spare;
        facts.meet(binding.need) && is_free && !is_left_out
    };
    let (last, first): (Vec<&'static Binding>, Vec<&'static Binding>) =
        screen.keymap.here(scene).filter(applies).partition(|binding| is_pinned(binding.action));
    let written = |bindings: Vec<&'static Binding>| -> Vec<(String, &'static str)> {
        let lines = Line::join(bindings.into_iter());
        let label = |row: &Binding| match row.action {
            Action::Help if is_narrow => "help",
            Action::Confirm if scene == Scene::Form => form_verb(sight).unwrap_or(row.label),
            Action::Adjust(_) if is_in_text(sight) => "cursor",
            _ => row.label,
        };
        let entry = |line: &Line| (line_word(sight, line), label(line.first()));
        lines.iter().map(entry).collect()
    };
    // What the song waits for comes before all else.
    let (held, rest): (Vec<_>, Vec<_>) = first.into_iter().partition(|row| row.need == Need::Held);
    let first = [held, rest].concat();
    let tail = written(last);
    let tail_width: usize = tail.iter().map(|(key, label)| entry_width(key, label) + 2).sum();
    let mut first = written(first).into_iter().peekable();
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

/// Whether a row of the table changes a setting of recording: the settings have their keys beside them.
fn is_setting(binding: &Binding) -> bool {
    SETTINGS.iter().any(|(action, _)| *action == binding.action)
        || matches!(binding.action, Action::CountIn(_))
}

/// Whether the line of keys leaves a row of the table to the help.
fn is_minor(binding: &Binding) -> bool {
    binding.is_fixed()
        || binding.action == Action::Clear
        || (binding.action == Action::Silence && !binding.scenes.contains(&Scene::Loop))
        || (binding.action == Action::Tap
            && binding.need == Need::Flowing
            && binding.scenes.contains(&Scene::Piano))
        || (matches!(binding.action, Action::Move(Move::First | Move::Last))
            && binding.scenes.contains(&Scene::Layers))
}

/// What Enter does in the box that is open.
fn form_verb(sight: &Sight) -> Option<&'static str> {
    match sight.screen.overlays.top() {
        Some(Overlay::Form(form)) => Some(form.verb()),
        _ => None,
    }
}

/// Whether the arrows move the cursor in a text.
fn is_in_text(sight: &Sight) -> bool {
    match sight.screen.overlays.top() {
        Some(Overlay::Form(form)) => matches!(form.fields[form.focus].value, Value::Text(_)),
        _ => false,
    }
}

/// The keys of a line as they are written here: arrows as signs, and what they have in common once.
fn line_word(sight: &Sight, line: &Line) -> String {
    let is_shifted = line.first().shown.is_empty() && line.keys().all(|key| key.shift);
    let words = line.key_words(|key| {
        let plain = if is_shifted { Key { shift: false, ..*key } } else { *key };
        key_word(sight, &plain)
    });
    if is_shifted { format!("Shift-{words}") } else { words }
}

/// A key as it is written here: arrows as signs.
fn key_word(sight: &Sight, key: &Key) -> String {
    let arrows = sight.palette.signs.arrows;
    let arrow = match key.code {
        Code::Up => arrows[0],
        Code::Down => arrows[1],
        Code::Left => arrows[2],
        Code::Right => arrows[3],
        _ => return key.to_string(),
    };
    if key.shift { format!("Shift-{arrow}") } else { arrow.to_string() }
}

fn entry_width(key: &str, label: &str) -> usize {
    text::width(key) + 1 + text::width(label)
}

fn entry(pen: &mut Pen, x: u16, row: u16, key: &str, label: &str) -> u16 {
    let after = pen.put(x, row, key, pen.palette.strong());
    pen.put(after + 1, row, label, pen.palette.faint()) + 2
}
