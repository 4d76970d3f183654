//! Collects what one channel of one port plays.
//!
//! A channel is one stream, whichever track chunks its events are in: a move in one chunk changes
//! what the notes of another sound like. So controllers are collected for the channel and notes for
//! each chunk. At one tick, the chunks play in the order of the file.

use super::notes::ChunkNotes;
use super::remarks::Tally;
use crate::reader::{Body, File};
use crate::scale::Scale;
use chaconne_engine::{Gathered, Message, Parameters};
use chaconne_song::{Channel, Control, Lane, Point, U7, U14};
use chaconne_time::{Span, Tick};
use std::collections::{BTreeMap, BTreeSet};

/// The moves of one controller, before the length of the section is known.
#[derive(Debug, Clone)]
pub(super) struct Moves {
    pub channel: Channel,
    pub control: Control,
    /// In order of time; never empty.
    pub points: Vec<Point>,
}

impl Moves {
    /// The moves as a lane that holds its controller from the first move to the end of a pass, or
    /// to the last move if that is later.
    pub fn covering(self, length: Tick) -> Lane {
        let from = self.points.first().map_or(Tick::ZERO, |point| point.at);
        let last = self.points.last().map_or(Tick::ZERO, |point| point.at);
        Lane {
            channel: self.channel,
            control: self.control,
            span: Span::new(from, length.max(last + Tick(1))),
            points: self.points,
        }
    }
}

/// The first program change of a channel, and the bank selected before it.
#[derive(Debug, Clone, Copy)]
struct FirstProgram {
    at: Tick,
    program: U7,
    bank: Option<U14>,
}

/// A channel of a port, both counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct PortChannel {
    pub port: u8,
    pub channel: Channel,
}

/// A controller's moves, and the track chunk that moves it first.
#[derive(Debug)]
pub(super) struct ControlMoves {
    pub chunk: usize,
    pub points: Vec<Point>,
    /// Whether other chunks move it as well.
    pub shared: bool,
}

/// What a channel plays.
pub(super) struct ChannelStream {
    channel: Channel,
    /// The notes of each track chunk that plays on it.
    pub notes: BTreeMap<usize, ChunkNotes>,
    /// Each held key, with the chunks that hold it.
    held: BTreeSet<(U7, usize)>,
    pub lanes: BTreeMap<Control, ControlMoves>,
    program: Option<FirstProgram>,
    parameters: Parameters,
}

const BANK: Control = Control::Change(U7::low_bits(0));
const BANK_FINE: Control = Control::Change(U7::low_bits(32));

/// The streams of a file. Notes still held at the end of their track chunk end there.
pub(super) fn streams(
    file: &File,
    scale: &mut Scale,
    tally: &mut Tally,
) -> BTreeMap<PortChannel, ChannelStream> {
    let mut order: Vec<(u64, usize, usize)> = Vec::new();
    for (chunk, track) in file.tracks.iter().enumerate() {
        let events = track.events.iter().enumerate();
        order.extend(events.map(|(index, event)| (event.at, chunk, index)));
    }
    order.sort_by_key(|&(at, ..)| at);
    let mut streams: BTreeMap<PortChannel, ChannelStream> = BTreeMap::new();
    for (at, chunk, index) in order {
        let event = file.tracks[chunk].events[index];
        let Body::Message(message) = event.body else { continue };
        let Some(channel) = message.channel() else { continue };
        let stream = streams.entry(PortChannel { port: event.port, channel });
        let stream = stream.or_insert_with(|| ChannelStream::new(channel));
        stream.add(chunk, scale.tick(at), message, tally);
    }
    for stream in streams.values_mut() {
        for (&chunk, notes) in &mut stream.notes {
            notes.finish(scale.tick(file.tracks[chunk].end), tally);
        }
    }
    streams
}

impl ChannelStream {
    fn new(channel: Channel) -> ChannelStream {
        ChannelStream {
            channel,
            notes: BTreeMap::new(),
            held: BTreeSet::new(),
            lanes: BTreeMap::new(),
            program: None,
            parameters: Parameters::default(),
        }
    }

    /// Reads a message of this channel from a track chunk.
    fn add(&mut self, chunk: usize, at: Tick, message: Message, tally: &mut Tally) {
        match message {
            Message::NoteOn { key, velocity, .. } => {
                self.held.insert((key, chunk));
                self.notes.entry(chunk).or_default().press(at, self.channel, key, velocity);
            }
            Message::NoteOff { key, velocity, .. } => {
                self.release(chunk, at, key, velocity, tally);
            }
            Message::Change { controller, .. } if controller.get() >= 120 => {
                tally.modes += 1;
                self.mode(chunk, at, controller, tally);
            }
            Message::Change { controller, value, .. } => self.change(chunk, at, controller, value),
            Message::Program { program, .. } => {
                if self.program.is_none() {
                    self.program = Some(FirstProgram { at, program, bank: self.bank() });
                }
                self.push(chunk, Control::Program, at, program.into());
            }
            other => {
                if let Some((control, value)) = other.control() {
                    self.push(chunk, control, at, value);
                }
            }
        }
    }

    /// Releases a key that the same chunk holds or, failing that, that another one holds.
    fn release(&mut self, chunk: usize, at: Tick, key: U7, velocity: U7, tally: &mut Tally) {
        let own = self.held.get(&(key, chunk));
        let held = own.or_else(|| self.held.range((key, 0)..=(key, usize::MAX)).next()).copied();
        let found = held.and_then(|(_, chunk)| Some((chunk, self.notes.get_mut(&chunk)?)));
        let Some((chunk, notes)) = found else {
            tally.unmatched += 1;
            return;
        };
        notes.release(at, self.channel, key, velocity, tally);
        if !notes.holds(key) {
            self.held.remove(&(key, chunk));
        }
    }

    /// Carries out a channel mode message instead of storing it (MIDI 1.0, "Channel Mode").
    fn mode(&mut self, chunk: usize, at: Tick, controller: U7, tally: &mut Tally) {
        if ends_notes(controller) {
            for (_, chunk) in std::mem::take(&mut self.held) {
                if let Some(notes) = self.notes.get_mut(&chunk) {
                    notes.release_all(at, tally);
                }
            }
        } else if controller.get() == 121 {
            self.reset(chunk, at);
        }
    }

    /// Sets every controller that has moved back to its reset value (RP-015, "Response to Reset All
    /// Controllers").
    fn reset(&mut self, chunk: usize, at: Tick) {
        self.parameters = Parameters::default();
        for (control, moved) in &mut self.lanes {
            let rest = match control {
                Control::Change(number) => match number.get() {
                    1 | 64..=67 => 0,
                    11 => 127,
                    _ => continue,
                },
                Control::Bend => U14::CENTRE.get(),
                Control::Pressure | Control::KeyPressure(_) => 0,
                _ => continue,
            };
            let value = U14::new(rest).unwrap_or_default();
            if moved.points.last().is_some_and(|point| point.value != value) {
                moved.push(chunk, at, value);
            }
        }
    }

    fn change(&mut self, chunk: usize, at: Tick, controller: U7, value: U7) {
        match self.parameters.gather(self.channel, controller, value) {
            Gathered::Plain => self.push(chunk, Control::Change(controller), at, value.into()),
            Gathered::Part => {}
            Gathered::Moved(control, value) => {
                // Two halves of a value at one tick are one move.
                let last = self.lanes.get_mut(&control).and_then(|moved| moved.points.last_mut());
                match last.filter(|point| point.at == at) {
                    Some(point) => point.value = value,
                    None => self.push(chunk, control, at, value),
                }
            }
        }
    }

    fn push(&mut self, chunk: usize, control: Control, at: Tick, value: U14) {
        let moved = || ControlMoves { chunk, points: Vec::new(), shared: false };
        self.lanes.entry(control).or_insert_with(moved).push(chunk, at, value);
    }

    /// The bank selected so far.
    fn bank(&self) -> Option<U14> {
        let last = |control| Some(self.lanes.get(&control)?.points.last()?.value.lsb());
        let (coarse, fine) = (last(BANK), last(BANK_FINE));
        let parts = U14::from_parts(coarse.unwrap_or_default(), fine.unwrap_or_default());
        (coarse.is_some() || fine.is_some()).then_some(parts)
    }

    /// Removes the moves that become settings of the channel's tracks: a program and bank, a volume
    /// or a pan that is set by the first note and never changes. A controller that changes later
    /// keeps its whole lane, so that each round starts where the file starts.
    pub fn take_settings(&mut self) -> Settings {
        let strokes = self.notes.values().flat_map(|chunk| &chunk.notes);
        let Some(first_note) = strokes.map(|stroke| stroke.start).min() else {
            return Settings::default();
        };
        let mut settings = Settings {
            volume: self.take_constant(Control::VOLUME, first_note),
            pan: self.take_constant(Control::PAN, first_note),
            ..Settings::default()
        };
        let Some(first) = self.program.filter(|first| first.at <= first_note) else {
            return settings;
        };
        settings.program = Some(first.program);
        settings.bank = first.bank;
        if self.take_constant(Control::Program, first_note).is_some() {
            for bank in [BANK, BANK_FINE] {
                let moved = self.lanes.get(&bank);
                if moved.is_some_and(|moved| moved.points.iter().all(|point| point.at <= first.at))
                {
                    self.lanes.remove(&bank);
                }
            }
        }
        settings
    }

    /// Removes a controller that is set only once, at `by` or earlier. Returns its value.
    fn take_constant(&mut self, control: Control, by: Tick) -> Option<U7> {
        match self.lanes.get(&control)?.points.as_slice() {
            [only] if only.at <= by => {
                let value = only.value.lsb();
                self.lanes.remove(&control);
                Some(value)
            }
            _ => None,
        }
    }

    /// Whether several track chunks move one controller.
    pub fn is_shared(&self) -> bool {
        self.lanes.values().any(|moved| moved.shared)
    }
}

impl ControlMoves {
    fn push(&mut self, chunk: usize, at: Tick, value: U14) {
        self.shared |= chunk != self.chunk;
        self.points.push(Point::step(at, value));
    }
}

/// Whether a channel mode message releases the keys of its channel: all sound off, all notes off,
/// and the four that include the latter (MIDI 1.0, "Channel Mode").
pub(crate) fn ends_notes(controller: U7) -> bool {
    matches!(controller.get(), 120 | 123..)
}

/// The settings of a track.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Settings {
    pub bank: Option<U14>,
    pub program: Option<U7>,
    pub volume: Option<U7>,
    pub pan: Option<U7>,
}
