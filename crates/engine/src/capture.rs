//! The capture: everything that is played is kept, recording or not, so that nothing is missed
//! when a foot comes late, and so that what was played without recording can still be kept.
//!
//! In: messages with the transport tick they were played at. Out: notes with the name they will
//! bear in the song, pedal strokes, controller moves, system-exclusive messages.

use crate::Message;
use chaconne_midi::{Gathered, Parameters};
use chaconne_song::{Channel, Control, NoteId, SysEx, U7, U14};
use chaconne_time::Tick;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

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
    pub fate: Fate,
}

/// Who has what was played.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Fate {
    /// Nobody yet.
    #[default]
    Free,
    /// A pass.
    Owned,
    /// Nobody: undo threw it away with a round, which has this number.
    Discarded(u32),
}

impl Fate {
    /// Whether a pass may take it; `anew` takes what was thrown away, too.
    pub fn is_free(self, anew: bool) -> bool {
        match self {
            Fate::Free => true,
            Fate::Owned => false,
            Fate::Discarded(_) => anew,
        }
    }
}

/// A system-exclusive message as it was caught.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Exclusive {
    pub at: Tick,
    pub bytes: Vec<u8>,
    pub fate: Fate,
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
    pub fate: Fate,
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
    pub fate: Fate,
}

/// Everything that was played lately.
#[derive(Debug, Clone, Default)]
pub(crate) struct Capture {
    pub notes: VecDeque<Caught>,
    pub stamps: VecDeque<Stamp>,
    pub moves: VecDeque<Move>,
    pub sysex: VecDeque<Exclusive>,
    /// The keys that are down, by input.
    down: BTreeMap<(u8, Channel, U7), NoteId>,
    /// The pedals that are down, by the number of their stroke.
    pedals: BTreeMap<Channel, u64>,
    parameters: Parameters,
    /// Counts the notes, which names them.
    struck: u32,
    stamped: u64,
    /// What the round being recorded holds; `None` while nothing is recorded.
    round: Option<Load>,
    /// How many moves the pedal strokes have together.
    pedalled: usize,
    /// How far the past was last forgotten.
    pruned: Tick,
    lost: u64,
    work: u64,
}

/// How much was caught in a round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Load {
    notes: usize,
    moves: usize,
    bytes: usize,
}

/// What a caught message completed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum News {
    Nothing,
    /// A key went down, a pedal or controller moved.
    Played,
    /// A key that was down went down again, which ends this note.
    Again(NoteId),
    /// A key came up.
    Released(NoteId),
    /// A pedal stroke moved on or ended.
    Stamped(u64),
}

/// The most notes a round holds: more than five hours of sixteenths at 120.
pub(crate) const MOST_NOTES: usize = 50_000;
/// The most controller moves and pedal moves a round holds.
pub(crate) const MOST_MOVES: usize = 100_000;
/// The most bytes of system-exclusive messages a round holds.
pub(crate) const MOST_BYTES: usize = 1 << 20;
/// How many such rounds are kept at a time.
const ROUNDS: usize = 4;
/// How often the past is forgotten, in ticks.
const PRUNE: Tick = Tick(960);

impl Capture {
    /// Forgets everything; keys still down will be ignored when they come up.
    pub fn clear(&mut self) {
        let Capture { struck, stamped, lost, work, .. } = *self;
        *self = Capture { struck, stamped, lost, work, ..Capture::default() };
    }

    /// From here on a round is recorded, which has room for so much; or none is.
    pub fn count_round(&mut self, records: bool) {
        self.round = records.then(Load::default);
    }

    /// How many notes, moves and messages were looked at so far: the work of recording.
    pub fn work(&self) -> u64 {
        self.work
    }

    /// How much there is.
    pub fn len(&self) -> usize {
        self.notes.len() + self.moves.len() + self.stamps.len() + self.sysex.len()
    }

    /// Counts so many notes, moves or messages that were looked at.
    pub fn worked(&mut self, more: usize) {
        self.work += more as u64;
    }

    /// Whether there is room for more; what finds none is counted.
    fn has_room(&mut self, kept: [usize; 3], more: Load) -> bool {
        self.work += 1;
        let most = [MOST_NOTES, MOST_MOVES, MOST_BYTES];
        let mut room = std::iter::zip(kept, most).all(|(kept, most)| kept < most * ROUNDS);
        if let Some(round) = &mut self.round {
            let Load { notes, moves, bytes } = *round;
            let [notes, moves, bytes] =
                [notes + more.notes, moves + more.moves, bytes + more.bytes];
            room &= notes <= MOST_NOTES && moves <= MOST_MOVES && bytes <= MOST_BYTES;
            if room {
                *round = Load { notes, moves, bytes };
            }
        }
        self.lost += u64::from(!room);
        room
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
                self.work += 1;
                match self.down.remove(&(source, channel, key)) {
                    Some(id) => self.end(id, at, velocity),
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
        if !SysEx::is_whole(&bytes) {
            self.lost += 1;
            return News::Nothing;
        }
        let more = Load { bytes: bytes.len(), ..Load::default() };
        if !self.has_room([0, 0, self.sysex.iter().map(|kept| kept.bytes.len()).sum()], more) {
            return News::Nothing;
        }
        self.sysex.push_back(Exclusive { at, bytes, fate: Fate::Free });
        News::Played
    }

    /// An input is gone: what it held is let go.
    pub fn input_lost(&mut self, at: Tick, source: u8) -> Vec<NoteId> {
        let keys = self.down.range((source, Channel::default(), U7::MIN)..);
        let mine = keys.take_while(|(key, _)| key.0 == source);
        let keys: Vec<_> = mine.map(|(key, id)| (*key, *id)).collect();
        for (key, id) in &keys {
            self.down.remove(key);
            self.end(*id, at, U7::CENTRE);
        }
        keys.into_iter().map(|(_, id)| id).collect()
    }

    /// Lets every key go, whoever holds it.
    pub fn release_all(&mut self, at: Tick) -> Vec<NoteId> {
        let sources: BTreeSet<u8> = self.down.keys().map(|key| key.0).collect();
        sources.into_iter().flat_map(|source| self.input_lost(at, source)).collect()
    }

    fn press(&mut self, at: Tick, source: u8, what: (Channel, U7, U7)) -> News {
        let more = Load { notes: 1, ..Load::default() };
        if !self.has_room([self.notes.len(), 0, 0], more) {
            return News::Nothing;
        }
        let (channel, key, velocity) = what;
        self.struck += 1;
        let id = NoteId(self.struck);
        let (release, end, fate) = (U7::CENTRE, None, Fate::Free);
        self.notes.push_back(Caught { id, channel, key, velocity, release, start: at, end, fate });
        match self.down.insert((source, channel, key), id) {
            // Struck again while it sounds: that ends the note before.
            Some(before) => {
                self.end(before, at, U7::CENTRE);
                News::Again(before)
            }
            None => News::Played,
        }
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
        let first = self.stamps.front()?.number;
        self.stamps.get(usize::try_from(number.checked_sub(first)?).ok()?)
    }

    /// Brings every pedal up; says which strokes that ends.
    pub fn lift_pedals(&mut self, at: Tick) -> Vec<u64> {
        self.pedals.clear();
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
        if !self.has_room([0, self.pedalled, 0], Load { moves: 1, ..Load::default() })
            && value != U7::MIN
        {
            return News::Nothing;
        }
        let first = self.stamps.front().map_or(0, |stamp| stamp.number);
        let place = |number: &u64| number.checked_sub(first).and_then(|n| usize::try_from(n).ok());
        let down = self.pedals.get(&channel).and_then(place);
        if let Some(stamp) = down.and_then(|place| self.stamps.get_mut(place)) {
            stamp.moves.push((at, value.into()));
            self.pedalled += 1;
            stamp.up = value == U7::MIN;
            if stamp.up {
                self.pedals.remove(&channel);
            }
            return News::Stamped(stamp.number);
        }
        if value == U7::MIN {
            return News::Nothing;
        }
        self.stamped += 1;
        let (number, moves) = (self.stamped, vec![(at, value.into())]);
        self.stamps.push_back(Stamp { number, channel, moves, up: false, fate: Fate::Free });
        self.pedalled += 1;
        self.pedals.insert(channel, number);
        News::Played
    }

    fn moved(&mut self, at: Tick, channel: Channel, control: Control, value: U14) -> News {
        if !self.has_room([0, self.moves.len(), 0], Load { moves: 1, ..Load::default() }) {
            return News::Nothing;
        }
        self.moves.push_back(Move { at, channel, control, value, fate: Fate::Free });
        News::Played
    }

    /// Gives another fate to all that has one.
    pub fn change_fate(&mut self, from: Fate, to: Fate) {
        let notes = self.notes.iter_mut().map(|note| &mut note.fate);
        let stamps = self.stamps.iter_mut().map(|stamp| &mut stamp.fate);
        let moves = self.moves.iter_mut().map(|moved| &mut moved.fate);
        let sysex = self.sysex.iter_mut().map(|message| &mut message.fate);
        let all = notes.chain(stamps).chain(moves).chain(sysex);
        all.filter(|fate| **fate == from).for_each(|fate| *fate = to);
    }

    /// Forgets what ended before `at`, now and then. What is still down stays.
    pub fn prune(&mut self, at: Tick) {
        if at < self.pruned + PRUNE {
            return;
        }
        self.pruned = at;
        self.notes.retain(|note| note.start >= at || note.end.is_none());
        // Strokes are found by counting from the first one: none goes before one that is down.
        while self.stamps.front().is_some_and(|stamp| stamp.start() < at && stamp.up) {
            self.stamps.pop_front();
        }
        self.pedalled = self.stamps.iter().map(|stamp| stamp.moves.len()).sum();
        self.moves.retain(|moved| moved.at >= at);
        self.sysex.retain(|message| message.at >= at);
    }
}
