//! The capture: everything that is played is kept, recording or not, so that nothing is missed
//! when a foot comes late, and so that what was played without recording can still be kept.
//!
//! In: messages with the transport tick they were played at. Out: notes with the id they will have
//! in the song, the gestures of controllers, system-exclusive messages.
//!
//! A gesture is what a controller does from its first move until it is back at rest or has stood
//! still for a bar. A pedal that is down (64 and up: MIDI 1.0, "Controller Numbers") is held, and
//! does not stand still.

use crate::Message;
use crate::gestures::at_rest;
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

/// One gesture of a controller, as it was caught.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Gesture {
    /// Names it among the gestures of this run; they count up as they begin.
    pub number: u64,
    pub channel: Channel,
    pub control: Control,
    /// In order of time, not empty. Of several at one tick the last one counts.
    pub moves: Vec<(Tick, U14)>,
    /// Where it was over; `None` while it may go on.
    pub over: Option<Tick>,
    pub fate: Fate,
}

impl Gesture {
    pub fn start(&self) -> Tick {
        self.moves.first().map_or(Tick::ZERO, |&(at, _)| at)
    }

    fn last(&self) -> (Tick, U14) {
        self.moves.last().copied().unwrap_or_default()
    }

    /// Whether it is nothing but a controller at rest that is told to rest.
    pub fn only_rests(&self) -> bool {
        let rest = at_rest(self.control);
        self.moves.iter().all(|&(_, value)| Some(value) == rest)
    }

    /// The value in force at a tick; `None` before it begins and once it has ended. One that stands
    /// still away from rest has not.
    pub fn value_at(&self, at: Tick) -> Option<U14> {
        let after = self.moves.partition_point(|&(from, _)| from <= at);
        let &(_, value) = self.moves.get(after.checked_sub(1)?)?;
        let last = self.last();
        let stands = self.over == Some(last.0 + Tick(1)) && Some(last.1) != at_rest(self.control);
        (stands || self.over.is_none_or(|over| at < over)).then_some(value)
    }

    /// Whether it is a pedal that is down, which may be held for any time.
    pub fn is_held(&self) -> bool {
        self.over.is_none() && is_pedal(self.control) && self.last().1.get() >= DOWN
    }

    /// Forgets the moves before a tick, all but the last of them: a pass has them, or nobody will.
    fn forget(&mut self, at: Tick) {
        let before = self.moves.partition_point(|&(moved, _)| moved < at);
        if before > 1 && !matches!(self.fate, Fate::Discarded(_)) {
            self.moves.drain(..before - 1);
        }
    }

    /// Whether it has stood still for a bar by then.
    fn stood_still(&self, at: Tick, bar: Tick) -> bool {
        self.over.is_none() && !self.is_held() && self.last().0 + bar <= at
    }

    /// It is over with its last move.
    fn end(&mut self) {
        self.over = Some(self.last().0 + Tick(1));
    }
}

/// From here up a pedal is down.
const DOWN: u16 = 64;

/// Sustain, portamento, sostenuto and soft.
fn is_pedal(control: Control) -> bool {
    matches!(control, Control::Change(number) if (64..=67).contains(&number.get()))
}

/// Everything that was played lately.
#[derive(Debug, Clone, Default)]
pub(crate) struct Capture {
    pub notes: VecDeque<Caught>,
    /// By number.
    pub gestures: BTreeMap<u64, Gesture>,
    pub sysex: VecDeque<Exclusive>,
    /// The keys that are down, by input.
    down: BTreeMap<(u8, Channel, U7), NoteId>,
    /// Where the player has left the controllers that are away from rest.
    stances: BTreeMap<(Channel, Control), U14>,
    /// The newest gesture of each controller.
    newest: BTreeMap<(Channel, Control), u64>,
    parameters: Parameters,
    /// Counts the notes, which names them.
    struck: u32,
    /// Counts the gestures.
    begun: u64,
    /// What the round being recorded holds; `None` while nothing is recorded.
    round: Option<Load>,
    /// How many moves the gestures have together.
    moves: usize,
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
    /// A key went down, a gesture began.
    Played,
    /// A key that was down went down again, which ends this note.
    Again(NoteId),
    /// A key came up.
    Released(NoteId),
    /// A gesture went on, or ended.
    Moved(u64),
}

/// The most notes a round holds: more than five hours of sixteenths at 120.
pub(crate) const MOST_NOTES: usize = 50_000;
/// The most controller moves a round holds.
pub(crate) const MOST_MOVES: usize = 100_000;
/// The most bytes of system-exclusive messages a round holds.
pub(crate) const MOST_BYTES: usize = 1 << 20;
/// How many such rounds are kept at a time.
const ROUNDS: usize = 4;
/// How often the past is forgotten, in ticks.
const PRUNE: Tick = Tick(960);

impl Capture {
    /// Forgets everything; keys still down will be ignored when they come up. What pedals and wheels
    /// are doing goes on from a tick.
    pub fn start_anew(&mut self, at: Tick) {
        let Capture { struck, begun, lost, work, .. } = *self;
        let stances = std::mem::take(&mut self.stances);
        *self = Capture { struck, begun, lost, work, stances, ..Capture::default() };
        for (which, value) in self.stances.clone() {
            self.begin((which, None), at, value);
        }
    }

    /// Takes a message while nothing runs: pedals and wheels stay where they are put.
    pub fn message_at_rest(&mut self, message: Message) {
        if let (Some(channel), Some((control, value))) = (message.channel(), message.control()) {
            self.stand((channel, control), value);
        }
    }

    /// Notes where a controller is, if it is away from rest.
    fn stand(&mut self, which: (Channel, Control), value: U14) {
        match at_rest(which.1) {
            Some(rest) if rest != value => self.stances.insert(which, value),
            _ => self.stances.remove(&which),
        };
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
        self.notes.len() + self.moves + self.sysex.len()
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

    /// Takes a message from an input. `bar` is how long a bar is there.
    pub fn message(&mut self, at: Tick, source: u8, message: Message, bar: Tick) -> News {
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
                    Gathered::Moved(control, value) => {
                        self.moved(at, (channel, control), value, bar)
                    }
                    Gathered::Plain => self.other(at, message, bar),
                }
            }
            other => self.other(at, other, bar),
        }
    }

    fn other(&mut self, at: Tick, message: Message, bar: Tick) -> News {
        match (message.channel(), message.control()) {
            (Some(channel), Some((control, value))) => {
                self.moved(at, (channel, control), value, bar)
            }
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

    /// A gesture by its number.
    pub fn gesture(&self, number: u64) -> Option<&Gesture> {
        self.gestures.get(&number)
    }

    /// Ends every gesture; a pedal that is down comes up. Says which gestures that ends.
    pub fn let_go(&mut self, at: Tick) -> Vec<u64> {
        let mut ended = Vec::new();
        for gesture in self.gestures.values_mut().filter(|gesture| gesture.over.is_none()) {
            let (last, value) = gesture.last();
            let at = at.max(last + Tick(1));
            if is_pedal(gesture.control) && value != U14::default() {
                gesture.moves.push((at, U14::default()));
                self.moves += 1;
            }
            gesture.over = Some(at + Tick(1));
            ended.push(gesture.number);
        }
        ended
    }

    /// Ends the gestures that have stood still for a bar by `at`; says which.
    pub fn stand_still(&mut self, at: Tick, bar: Tick) -> Vec<u64> {
        let mut ended = Vec::new();
        for gesture in self.gestures.values_mut().filter(|gesture| gesture.over.is_none()) {
            if gesture.stood_still(at, bar) {
                gesture.end();
                ended.push(gesture.number);
            }
        }
        ended
    }

    fn end(&mut self, id: NoteId, at: Tick, velocity: U7) -> News {
        let Some(note) = self.note_mut(id) else { return News::Nothing };
        note.end = Some(at.max(note.start + Tick(1)));
        note.release = velocity;
        News::Released(id)
    }

    fn moved(&mut self, at: Tick, which: (Channel, Control), value: U14, bar: Tick) -> News {
        let rests = at_rest(which.1) == Some(value);
        self.stand(which, value);
        // What brings something to rest is never lost.
        if !self.has_room([0, self.moves, 0], Load { moves: 1, ..Load::default() }) && !rests {
            return News::Nothing;
        }
        self.moves += 1;
        let over = rests.then_some(at + Tick(1));
        let newest = self.newest.get(&which).and_then(|number| self.gestures.get_mut(number));
        if let Some(gesture) = newest {
            // Late input comes out of order.
            let at = at.max(gesture.last().0);
            if gesture.stood_still(at, bar) {
                gesture.end();
            }
            // One that ended at this very tick goes on.
            if gesture.over.is_none_or(|over| at < over) {
                gesture.moves.push((at, value));
                gesture.over = over;
                return News::Moved(gesture.number);
            }
        }
        self.begin((which, over), at, value);
        News::Played
    }

    fn begin(&mut self, (which, over): ((Channel, Control), Option<Tick>), at: Tick, value: U14) {
        self.begun += 1;
        let (number, (channel, control), moves) = (self.begun, which, vec![(at, value)]);
        let gesture = Gesture { number, channel, control, moves, over, fate: Fate::Free };
        self.gestures.insert(number, gesture);
        self.newest.insert(which, number);
    }

    /// Gives another fate to all that has one.
    pub fn change_fate(&mut self, from: Fate, to: Fate) {
        let notes = self.notes.iter_mut().map(|note| &mut note.fate);
        let gestures = self.gestures.values_mut().map(|gesture| &mut gesture.fate);
        let sysex = self.sysex.iter_mut().map(|message| &mut message.fate);
        let all = notes.chain(gestures).chain(sysex);
        all.filter(|fate| **fate == from).for_each(|fate| *fate = to);
    }

    /// Forgets what ended before `at`, now and then; whether this was such a time. What is still down
    /// stays.
    pub fn prune(&mut self, at: Tick) -> bool {
        if at < self.pruned + PRUNE {
            return false;
        }
        self.pruned = at;
        self.notes.retain(|note| note.start >= at || note.end.is_none());
        let newest = &self.newest;
        self.gestures.retain(|number, gesture| {
            let away = || Some(gesture.last().1) != at_rest(gesture.control);
            let is_newest = || newest.get(&(gesture.channel, gesture.control)) == Some(number);
            gesture.over.is_none_or(|over| over >= at) || away() && is_newest()
        });
        for gesture in self.gestures.values_mut() {
            gesture.forget(at);
        }
        self.newest.retain(|_, number| self.gestures.contains_key(number));
        self.moves = self.gestures.values().map(|gesture| gesture.moves.len()).sum();
        self.sysex.retain(|message| message.at >= at);
        true
    }
}
