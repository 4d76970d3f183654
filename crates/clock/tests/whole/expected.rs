//! The expected output: the events of `perform`, at the times of the walker.

use super::stand::{Line, PORTS};
use chaconne_engine::{Beat, Event, PortIx, Route, View, Walk, Wire, perform};
use chaconne_song::Song;
use chaconne_time::{Ns, Span, Tempo, Tick, Timeline, pulse};

/// The timeline of a run that starts at tick `start` at time `ns`.
pub fn timeline(song: &Song, route: &Route, start: Tick, ns: Ns) -> Timeline {
    let walk = Walk::along(song, route);
    let end = route.span().to;
    let mut line = Timeline::new(start, ns, walk.tempo_at(start).unwrap_or(Tempo::DEFAULT));
    for (at, tempo) in walk.tempi(start + Tick(1)).take_while(|&(at, _)| at < end) {
        line.push(at, tempo);
    }
    line
}

/// The bytes of an event.
pub fn bytes(event: &Event) -> Vec<u8> {
    match &event.wire {
        Wire::Message(message) => message.bytes().to_vec(),
        Wire::SysEx(bytes) => bytes.to_vec(),
    }
}

/// The port of the stand that has the name of a performance's port.
pub fn port_of(ports: &[String], port: PortIx) -> PortIx {
    let name = ports[usize::from(port.0)].as_str();
    PortIx(PORTS.iter().position(|known| *known == name).unwrap_or(0) as u8)
}

/// The song's events in a run from `start` to the route's end. Those that set up the instruments are
/// sent `set_up` nanoseconds before the start, rounded to a tick.
pub fn song_lines(
    song: &Song,
    route: &Route,
    start: Tick,
    line: &Timeline,
    set_up: Ns,
) -> Vec<Line> {
    let span = Span::new(start, route.span().to);
    let performance = perform(song, route, span, View::Corrected);
    let early = start - line.tempo_at(start).ticks_in(set_up as u64);
    let events = performance.events.iter().enumerate();
    let events = events.take_while(|(_, event)| event.at < span.to);
    let lines = events.map(|(index, event)| {
        let at = if index < performance.set_up { early } else { event.at };
        let port = port_of(&performance.ports, event.port);
        Line { ns: line.ns_at(at), port, bytes: bytes(event), prompt: false, tick: None }
    });
    lines.collect()
}

/// The times of the clock's pulses in a run.
pub fn pulses(line: &Timeline, span: Span) -> Vec<Ns> {
    pulse::within(span).map(|at| line.ns_at(at)).collect()
}

/// The times of the clicks, and whether each is beat one.
pub fn clicks(song: &Song, route: &Route, line: &Timeline, span: Span) -> Vec<(Ns, bool)> {
    let beats = Walk::along(song, route).beats(span.from).take_while(|beat| beat.at < span.to);
    beats.map(|Beat { at, first }| (line.ns_at(at), first)).collect()
}
