//! The capture: everything that is played is kept, recording or not, so that nothing is missed
//! when a foot comes late, and so that what was played without recording can still be kept.
//!
//! In: messages with the transport tick they were played at. Out: notes with the name they will
//! bear in the song, pedal strokes, controller moves, system-exclusive messages.

use crate::Message;
use chaconne_midi::{Gathered, Parameters};
use chaconne_song::{Channel, Control, NoteId, Pairing, SysEx, U7, U14};
use chaconne_time::Tick;
use std::collections::{BTreeMap, VecDeque};

/// A note as it was caught.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Caught {
    pub id: NoteId,
    pub channel: Channel,
    pub key: U7,
    pub velocity: U7,
    pub release: U7,
    pub start: Tick,
    /// `None` while the key is down.
    pub end: Option<Tick>,
    /// Whether a pass has it already, or it was thrown away on purpose.
    pub taken: bool,
}

/// One stroke of the sustain pedal, from leaving the top to coming back to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stamp {
    /// Names it among the strokes of this run.
    pub number: u64,
    pub channel: Channel,
    pub moves: Vec<(Tick, U14)>,
    /// Whether it has come back up.
    pub up: bool,
    pub taken: bool,
}

impl Stamp {
    pub fn start(&self) -> Tick {
        self.moves.first().map_or(Tick::ZERO, |&(at, _)| at)
    }
}

/// A controller move as it was caught.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Move {
    pub at: Tick,
    pub channel: Channel,
    pub control: Control,
    pub value: U14,
    pub taken: bool,
}

/// Everything that was played lately.
#[derive(Debug, Clone, Default)]
pub(crate) struct Capture {
    pub notes: VecDeque<Caught>,
    pub stamps: VecDeque<Stamp>,
    pub moves: VecDeque<Move>,
    pub sysex: VecDeque<(Tick, Vec<u8>, bool)>,
    pairings: BTreeMap<u8, Pairing<NoteId>>,
    parameters: Parameters,
    /// Counts the notes, which names them.
    struck: u32,
    stamped: u64,
    lost: u64,
}

/// What a caught message completed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum News {
    Nothing,
    /// A key went down, a pedal or controller moved.
    Played,
    /// A key came up.
    Released(NoteId),
    /// A pedal stroke moved on or ended.
    Stamped(u64),
}

/// The most that is kept at a time; what is played beyond it is counted and lost.
const MOST: usize = 1_000_000;
/// The most bytes of system-exclusive messages kept at a time.
const MOST_SYSEX: usize = 1000;

impl Capture {
    /// Forgets everything; keys still down will be ignored when they come up.
    pub fn clear(&mut self) {
        let Capture { struck, stamped, lost, .. } = *self;
        *self = Capture { struck, stamped, lost, ..Capture::default() };
    }

    /// How much found no room.
    pub fn lost(&self) -> u64 {
        self.lost
    }

    /// Takes a message from an input.
    pub fn message(&mut self, at: Tick, source: u8, message: Message) -> News {
        match message {
            Message::NoteOn { channel, key, velocity } => {
                self.press(at, source, (channel, key, velocity))
            }
            Message::NoteOff { channel, key, velocity } => {
                let pairing = self.pairings.entry(source).or_default();
                match pairing.release(channel, key, at, velocity) {
                    Some(paired) => self.end(paired.tag, at, velocity),
                    None => News::Nothing,
                }
            }
            Message::Change { channel, controller, value } => {
                match self.parameters.gather(channel, controller, value) {
                    Gathered::Part => News::Nothing,
                    Gathered::Moved(control, value) => self.moved(at, channel, control, value),
                    Gathered::Plain if controller.get() == 64 => self.pedal(at, channel, value),
                    Gathered::Plain => self.other(at, message),
                }
            }
            other => self.other(at, other),
        }
    }

    fn other(&mut self, at: Tick, message: Message) -> News {
        match (message.channel(), message.control()) {
            (Some(channel), Some((control, value))) => self.moved(at, channel, control, value),
            _ => News::Nothing,
        }
    }

    /// Takes a system-exclusive message, where it is whole.
    pub fn sysex(&mut self, at: Tick, bytes: Vec<u8>) -> News {
        if !SysEx::is_whole(&bytes) || self.sysex.len() >= MOST_SYSEX {
            self.lost += 1;
            return News::Nothing;
        }
        self.sysex.push_back((at, bytes, false));
        News::Played
    }

    /// An input is gone: what it held is let go.
    pub fn input_lost(&mut self, at: Tick, source: u8) -> Vec<NoteId> {
        let held: Vec<NoteId> = self
            .pairings
            .remove(&source)
            .map(|mut held| held.drain().collect())
            .unwrap_or_default();
        for &id in &held {
            self.end(id, at, U7::CENTRE);
        }
        held
    }

    /// Lets every key go, whoever holds it.
    pub fn release_all(&mut self, at: Tick) -> Vec<NoteId> {
        let sources: Vec<u8> = self.pairings.keys().copied().collect();
        sources.into_iter().flat_map(|source| self.input_lost(at, source)).collect()
    }

    fn press(&mut self, at: Tick, source: u8, what: (Channel, U7, U7)) -> News {
        if self.notes.len() >= MOST {
            self.lost += 1;
            return News::Nothing;
        }
        let (channel, key, velocity) = what;
        self.struck += 1;
        let id = NoteId(self.struck);
        let (release, end, taken) = (U7::CENTRE, None, false);
        self.notes.push_back(Caught { id, channel, key, velocity, release, start: at, end, taken });
        self.pairings.entry(source).or_default().press(channel, key, id);
        News::Played
    }

    /// A note by its name; names only grow.
    pub fn note(&self, id: NoteId) -> Option<&Caught> {
        let index = self.notes.binary_search_by_key(&id, |note| note.id).ok()?;
        self.notes.get(index)
    }

    pub fn note_mut(&mut self, id: NoteId) -> Option<&mut Caught> {
        let index = self.notes.binary_search_by_key(&id, |note| note.id).ok()?;
        self.notes.get_mut(index)
    }

    /// A pedal stroke by its number.
    pub fn stamp(&self, number: u64) -> Option<&Stamp> {
        self.stamps.iter().rev().find(|stamp| stamp.number == number)
    }

    /// Brings every pedal up; says which strokes that ends.
    pub fn lift_pedals(&mut self, at: Tick) -> Vec<u64> {
        let down = self.stamps.iter_mut().filter(|stamp| !stamp.up);
        down.map(|stamp| {
            let last = stamp.moves.last().map_or(at, |moved| moved.0);
            stamp.moves.push((at.max(last + Tick(1)), U14::default()));
            stamp.up = true;
            stamp.number
        })
        .collect()
    }

    fn end(&mut self, id: NoteId, at: Tick, velocity: U7) -> News {
        let Some(note) = self.note_mut(id) else { return News::Nothing };
        note.end = Some(at.max(note.start + Tick(1)));
        note.release = velocity;
        News::Released(id)
    }

    fn pedal(&mut self, at: Tick, channel: Channel, value: U7) -> News {
        let down = self.stamps.iter_mut().rev().find(|s| s.channel == channel && !s.up);
        if let Some(stamp) = down {
            stamp.moves.push((at, value.into()));
            stamp.up = value == U7::MIN;
            return News::Stamped(stamp.number);
        }
        if value == U7::MIN {
            return News::Nothing;
        }
        if self.stamps.len() >= MOST {
            self.lost += 1;
            return News::Nothing;
        }
        self.stamped += 1;
        let (number, moves) = (self.stamped, vec![(at, value.into())]);
        self.stamps.push_back(Stamp { number, channel, moves, up: false, taken: false });
        News::Played
    }

    fn moved(&mut self, at: Tick, channel: Channel, control: Control, value: U14) -> News {
        if self.moves.len() >= MOST {
            self.lost += 1;
            return News::Nothing;
        }
        self.moves.push_back(Move { at, channel, control, value, taken: false });
        News::Played
    }

    /// Forgets what ended before `at`.
    pub fn prune(&mut self, at: Tick) {
        while self.notes.front().is_some_and(|note| note.start < at && note.end.is_some()) {
            self.notes.pop_front();
        }
        while self.stamps.front().is_some_and(|stamp| stamp.start() < at && stamp.up) {
            self.stamps.pop_front();
        }
        while self.moves.front().is_some_and(|moved| moved.at < at) {
            self.moves.pop_front();
        }
        while self.sysex.front().is_some_and(|(when, ..)| *when < at) {
            self.sysex.pop_front();
        }
    }
}
