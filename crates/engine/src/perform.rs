//! `perform`: the one function that turns a song into timed events.

use crate::performer::Performer;
use crate::plan::Mix;
use crate::{Action, Address, Cue, Hand, Ledger, Message, PortIx, Route, Slot, View, Voice, Wire};
use chaconne_song::{Channel, Song, TrackId, U7};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// A message, its tick, its track and its port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// The transport tick at which it is due.
    pub at: Tick,
    /// The track it comes from.
    pub track: TrackId,
    /// The port it goes to, as an index into [`Performance::ports`].
    pub port: PortIx,
    /// The message.
    pub wire: Wire,
    /// For a note-on, the note and the cycle of its pass; else `None`.
    pub voice: Option<Voice>,
}

/// Everything a song plays over a span of a route.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Performance {
    /// The span that was performed.
    pub span: Span,
    /// The ports' names. Tracks without a port of their own play on the first.
    pub ports: Vec<String>,
    /// How many of the first events set up the instruments: the programs, controllers and
    /// system-exclusive messages in force at the span's start. A player sends them before it.
    pub set_up: usize,
    /// The events in the order in which they are sent. After the span's end come only the releases
    /// of notes that still sound, and then the lifts of sustain pedals that are down. The scheduler
    /// brings all other controllers to rest itself, as it sends Stop itself.
    pub events: Vec<Event>,
}

/// How many ticks are performed at a time: sixteen bars of four quarters of 960 ticks. Sorting part by part
/// is faster than sorting everything at once, and each part looks at every controller only once.
const PART: Tick = Tick(61_440);

/// Performs `song` along `route` over `span`. The same arguments give the same events.
///
/// It starts with the state in force at the span's start (bank, program, levels, controllers, bend,
/// pedal). Notes that started before the span are not struck again, except those meant for its start.
pub fn perform(song: &Song, route: &Route, span: Span, view: View) -> Performance {
    let mut performer = Performer::new(view, ports(song));
    let letters: Vec<_> = route.entries.iter().map(|entry| entry.section).collect();
    performer.start(span.from, span.from);
    performer.compile(song, &Mix::default(), &letters);
    performer.route(&route.entries, span.from);
    let ports = performer.planner().ports().to_vec();
    let mut wires = Wires::new(ports.len(), performer.planner().tracks_by_slot());
    let mut cues = Vec::new();
    let mut set_up = 0;
    let mut at = span.from;
    while at < span.to {
        at = (at + PART).min(span.to);
        let before = performer.advance(at, &mut cues);
        if before > 0 {
            wires.take(cues.drain(..before));
            set_up = wires.events.len();
        }
        wires.take(cues.drain(..));
    }
    performer.ring_out(&mut cues);
    wires.take(cues.drain(..));
    Performance { span, ports, set_up, events: wires.end(span.to) }
}

/// The ports that a song names, after the one without a name.
fn ports(song: &Song) -> Vec<String> {
    let mut ports = vec![String::new()];
    for track in &song.tracks {
        if !ports.contains(&track.port) && ports.len() < PortIx::MOST {
            ports.push(track.port.clone());
        }
    }
    ports
}

/// Turns cues into events, with the help of a ledger.
struct Wires {
    ledger: Ledger,
    events: Vec<Event>,
    /// The track of each slot, by its number.
    owners: Vec<Option<TrackId>>,
    /// The track that struck each key last: the key's release belongs to it too.
    strikers: Vec<Option<TrackId>>,
    /// The track that moved a controller last on each channel.
    movers: Vec<Option<TrackId>>,
}

/// The index of a channel in a table of all channels of all ports.
fn channel_cell(port: PortIx, channel: Channel) -> usize {
    usize::from(port.0) * 16 + usize::from(channel.wire())
}

impl Wires {
    fn new(ports: usize, tracks: BTreeMap<Slot, TrackId>) -> Wires {
        let count = tracks.last_key_value().map_or(0, |(slot, _)| usize::from(slot.0) + 1);
        let mut owners = vec![None; count];
        for (slot, track) in tracks {
            owners[usize::from(slot.0)] = Some(track);
        }
        Wires {
            ledger: Ledger::new(ports, 0),
            events: Vec::new(),
            owners,
            strikers: vec![None; ports * 16 * 128],
            movers: vec![None; ports * 16],
        }
    }

    /// Adds the events of cues.
    fn take(&mut self, cues: impl ExactSizeIterator<Item = Cue>) {
        self.ledger.reserve(cues.len());
        self.events.reserve(cues.len());
        for cue in cues {
            self.send(cue);
        }
    }

    fn send(&mut self, cue: Cue) {
        let Cue { at, slot, port, action, .. } = cue;
        let owner = self.owners.get(usize::from(slot.0)).copied().flatten();
        let Some(track) = owner else { return };
        let Wires { ledger, events, strikers, movers, .. } = self;
        let struck = match action {
            Action::Press { voice, .. } => Some(voice),
            _ => None,
        };
        let mut key = |port: PortIx, message: Message| {
            let whose = striker(strikers, track, port, message);
            let voice = struck.filter(|_| matches!(message, Message::NoteOn { .. }));
            events.push(Event { at, track: whose, port, wire: Wire::Message(message), voice });
        };
        match action {
            Action::Press { channel, key: pressed, velocity, voice } => {
                let address = Address { port, channel, key: pressed };
                ledger.press(address, velocity, slot, voice, &mut key);
            }
            Action::Lift { channel, key: lifted, velocity, voice } => {
                let address = Address { port, channel, key: lifted };
                ledger.lift(address, velocity, slot, voice, &mut key);
            }
            Action::Send(message) => {
                let Some(message) = ledger.resolve(port, message, Hand::Song) else { return };
                let cell = message.channel().map(|channel| channel_cell(port, channel));
                if let Some(mover) = cell.and_then(|cell| movers.get_mut(cell)) {
                    *mover = Some(track);
                }
                events.push(Event { at, track, port, wire: Wire::Message(message), voice: None });
            }
            Action::SysEx(bytes) => {
                events.push(Event { at, track, port, wire: Wire::SysEx(bytes), voice: None });
            }
        }
    }

    /// Lifts the sustain pedals, at `end` or at the last event if that is later. No key is down any
    /// more. Other controllers stay where they are, so an imported file that leaves one away from rest
    /// is exported with the same ending.
    fn end(self, end: Tick) -> Vec<Event> {
        let Wires { mut ledger, mut events, movers, .. } = self;
        let at = events.last().map_or(end, |event| event.at.max(end));
        ledger.halt(&mut |port, message| {
            if !lifts_sustain(message) {
                return;
            }
            let cell = message.channel().map(|channel| channel_cell(port, channel));
            let track = cell.and_then(|cell| movers.get(cell).copied().flatten());
            events.extend(track.map(|track| Event {
                at,
                track,
                port,
                wire: Wire::Message(message),
                voice: None,
            }));
        });
        events
    }
}

/// Whether a message of a halt lifts a sustain pedal.
fn lifts_sustain(message: Message) -> bool {
    matches!(message, Message::Change { controller, .. } if controller.get() == 64)
}

/// The track that a note message belongs to. A note-on belongs to `track`, which is remembered for
/// the note-off.
fn striker(
    strikers: &mut [Option<TrackId>],
    track: TrackId,
    port: PortIx,
    message: Message,
) -> TrackId {
    let place = |channel, key: U7| channel_cell(port, channel) * 128 + usize::from(key.get());
    match message {
        Message::NoteOn { channel, key, .. } => {
            if let Some(striker) = strikers.get_mut(place(channel, key)) {
                *striker = Some(track);
            }
            track
        }
        Message::NoteOff { channel, key, .. } => {
            strikers.get(place(channel, key)).copied().flatten().unwrap_or(track)
        }
        _ => track,
    }
}

#[cfg(test)]
mod tests;
