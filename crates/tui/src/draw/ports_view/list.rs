//! The ports: a table on a wide screen, else two rows for each; those in trouble say what it is.

use super::{Area, span_words};
use crate::desk::{DeskState, Direction, PortFacts, PortLine, PortState};
use crate::draw::{Pen, Sight};
use crate::text;
use chaconne_song::Track;
use ratatui::layout::Position;
use ratatui::style::Style;
use std::ops::Range;

/// The columns of a direction and the blanks after it, the last one for the mark of the chosen port.
const WAY: u16 = 5;
/// The columns of a state beside a name.
const STATE: u16 = 14;
/// The columns of a count in the table.
const COUNT: u16 = 9;
const NO_PORTS: &str = "No ports: nothing you play is heard.";

/// A port with all that is known of it.
struct Port<'a> {
    line: &'a PortLine,
    facts: &'a PortFacts,
    /// The tracks that play on it, in the order of the song.
    tracks: Vec<&'a str>,
    /// Whether the chosen track plays on it.
    chosen: bool,
}

/// The ports as a table with heads. Returns where the port of the chosen track is, and the row below
/// the table.
pub fn table(pen: &mut Pen, sight: &Sight, rows: Range<u16>) -> (Option<Position>, u16) {
    let (width, faint) = (pen.width(), pen.palette.faint());
    let name = 16 + (width.saturating_sub(100) / 5).min(16);
    let state = 1 + WAY + name + 2;
    let about = state + STATE + 2;
    let counts = width - 1 - 3 * COUNT;
    let heads = [(1, "port"), (state, "state"), (about, "tracks; what else goes through")];
    heads.into_iter().for_each(|(x, head)| _ = pen.put(x, rows.start, head, faint));
    let count_end = |place: usize| counts + COUNT * (place as u16 + 1);
    for (place, head) in ["sent", "lost", "late"].into_iter().enumerate() {
        pen.put_before(count_end(place), rows.start, head, faint);
    }
    let all = ports(sight);
    // The histograms below need most of the rows.
    let shown = all.len().min(rows.len() / 2);
    let (mut focus, mut y) = (None, rows.start + 1);
    for port in all.iter().skip(first_shown(&all, shown)).take(shown) {
        focus = head(pen, port, (1, y), name).or(focus);
        let (word, style) = health(pen, port);
        pen.put(state, y, &word, style);
        let room = usize::from(counts - about);
        pen.put_in(about, y, room, &words(port, false), pen.palette.text());
        for (place, count) in count_words(port).into_iter().enumerate() {
            let (word, style) = match count {
                None => ("-".to_string(), faint),
                Some(count) if place > 0 && count > 0 => (count.to_string(), pen.palette.alarm()),
                Some(count) => (count.to_string(), pen.palette.text()),
            };
            pen.put_before(count_end(place), y, &word, style);
        }
        y += 1;
    }
    if shown < all.len() {
        pen.put(1, y, &format!("+{} more", all.len() - shown), faint);
        y += 1;
    }
    if all.is_empty() {
        pen.put(1, y, NO_PORTS, pen.palette.strong());
        y += 1;
    }
    (focus, y)
}

/// Messages sent, lost and late; `None` for what does not happen to this port.
fn count_words(port: &Port) -> [Option<u64>; 3] {
    let PortFacts { sent, lost, late, .. } = *port.facts;
    match port.line.direction {
        // Nobody is to hear it.
        _ if port.line.state == PortState::None => [None; 3],
        Direction::Out => [Some(sent), Some(lost), Some(late)],
        Direction::In => [None, Some(lost), None],
    }
}

/// The ports one below the other, each with a second row if there is room for all of them. Returns
/// where the port of the chosen track is.
pub fn rows(pen: &mut Pen, sight: &Sight, area: &Area) -> Option<Position> {
    let (palette, room) = (pen.palette, area.rows.len());
    let all = ports(sight);
    if all.is_empty() {
        pen.put(area.x, area.rows.start, NO_PORTS, palette.strong());
        return None;
    }
    let columns = usize::from(area.width - WAY);
    let more = |port: &Port| match words(port, true) {
        words if words.is_empty() => Vec::new(),
        words => text::wrap(&words, columns),
    };
    let with_more = all.iter().filter(|port| !more(port).is_empty()).count();
    let both = all.len() + with_more <= room;
    // Free rows go to the ports with most to say, from the first on.
    let mut spare = room.saturating_sub(all.len() + with_more);
    let shown = if all.len() <= room { all.len() } else { room - 1 };
    let name = area.width.saturating_sub(WAY + STATE + 1);
    let (mut y, mut focus) = (area.rows.start, None);
    for port in all.iter().skip(first_shown(&all, shown)).take(shown) {
        focus = head(pen, port, (area.x, y), name).or(focus);
        let (word, style) = health(pen, port);
        pen.put(area.x + WAY + name + 1, y, &word, style);
        y += 1;
        let lines = if both { more(port) } else { Vec::new() };
        let kept = lines.len().min(1 + spare);
        spare -= kept.saturating_sub(1);
        for (at, line) in lines.iter().take(kept).enumerate() {
            // What does not fit is marked as cut, with the next words after it.
            let rest = if at + 1 == kept { lines[at..].join(" ") } else { line.clone() };
            pen.put_in(area.x + WAY, y, columns, &rest, palette.faint());
            y += 1;
        }
    }
    if shown < all.len() {
        pen.put(area.x, y, &format!("+{} more", all.len() - shown), palette.faint());
    }
    focus
}

/// The direction and the name; returns where it is if the chosen track plays there.
fn head(pen: &mut Pen, port: &Port, (x, y): (u16, u16), room: u16) -> Option<Position> {
    let palette = pen.palette;
    let way = if port.line.direction == Direction::Out { "out" } else { "in" };
    pen.put(x, y, way, palette.faint());
    if port.chosen {
        pen.sign(x + WAY - 1, y, palette.signs.chosen, palette.strong());
    }
    let style = if port.chosen { palette.on() } else { palette.strong() };
    let name = text::clip(&port.line.name, room.into(), palette.signs.cut);
    pen.put(x + WAY, y, &name, style);
    port.chosen.then(|| Position::new(x + WAY - 1, y))
}

/// What is wrong with a port, its tracks, and what else goes through it; with the counts of trouble
/// if they are asked for.
fn words(port: &Port, counts: bool) -> String {
    let PortFacts { lost, late, carries, .. } = port.facts;
    // What a slow port drops is among what is lost.
    let is_counted = matches!(port.line.state, PortState::Slow | PortState::Stalled);
    let detail = &port.line.detail;
    let trouble = (!detail.is_empty() && !is_counted).then(|| detail.clone());
    let counted = [(*lost, "lost"), (*late, "late")].into_iter();
    let counted = counted.filter(|(count, _)| counts && *count > 0);
    let counted = counted.map(|(count, word)| format!("{count} {word}"));
    let tracks = (!port.tracks.is_empty()).then(|| track_names(&port.tracks));
    let all = trouble.into_iter().chain(counted).chain(tracks).chain(carries.iter().cloned());
    all.collect::<Vec<_>>().join("; ")
}

/// The names of tracks; of many only the first.
fn track_names(tracks: &[&str]) -> String {
    const ALL: usize = 12;
    const FIRST: usize = 10;
    match tracks.len() {
        ..=ALL => tracks.join(", "),
        count => format!("{} and {} more", tracks[..FIRST].join(", "), count - FIRST),
    }
}

/// How a port is, in a few words.
fn health(pen: &Pen, port: &Port) -> (String, Style) {
    let palette = pen.palette;
    match port.line.state {
        PortState::Ok => ("connected".to_string(), palette.text()),
        PortState::Slow => ("slow".to_string(), palette.alarm_on()),
        PortState::Stalled => ("stalled".to_string(), palette.alarm_on()),
        PortState::Waiting => ("waiting for it".to_string(), palette.strong()),
        PortState::Lost => {
            let ago = port.facts.since.map(|since| format!("lost {} ago", span_words(since)));
            (ago.unwrap_or_else(|| "not open".to_string()), palette.alarm_on())
        }
        PortState::None => ("silent".to_string(), palette.strong()),
    }
}

/// All ports, with the tracks that play on each.
fn ports<'a>(sight: &Sight<'a>) -> Vec<Port<'a>> {
    let state: &'a DeskState = sight.state;
    let port = |(line, facts)| Port { line, facts, tracks: Vec::new(), chosen: false };
    let mut ports: Vec<Port<'a>> = state.ports.iter().zip(&state.health.ports).map(port).collect();
    for track in &state.status.song.tracks {
        if let Some(port) = port_of(&mut ports, track) {
            port.tracks.push(&track.name);
            port.chosen |= sight.screen.chosen == Some(track.id);
        }
    }
    ports
}

/// The output that a track plays on: the one it names, else the first.
fn port_of<'p, 'a>(ports: &'p mut [Port<'a>], track: &Track) -> Option<&'p mut Port<'a>> {
    let is_out = |port: &Port| port.line.direction == Direction::Out;
    let named = |port: &Port| is_out(port) && port.facts.called == track.port;
    let place = ports.iter().position(named).or_else(|| ports.iter().position(is_out));
    ports.get_mut(place?)
}

/// The first port to show of so many, so that the one of the chosen track is among them.
fn first_shown(all: &[Port], shown: usize) -> usize {
    let at = all.iter().position(|port| port.chosen).unwrap_or(0);
    at.saturating_sub(shown / 2).min(all.len() - shown)
}
