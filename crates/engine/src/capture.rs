//! The capture stores everything that is played, recording or not. So nothing is missing when record is
//! pressed late, and what was played without recording can still be made a pass.
//!
//! In: messages with the transport tick at which they were played. Out: notes with the id they will
//! have in the song, the gestures of controllers, system-exclusive messages.
//!
//! A gesture is what a controller does from its first move until it is back at rest or has stood still
//! for a bar. A pedal that is down (64 and up: MIDI 1.0, "Controller Numbers") counts as in use,
//! however long it stays down.

use crate::Message;
use crate::gestures::at_rest;
use chaconne_midi::{Gathered, Parameters};
use chaconne_song::{Channel, Control, NoteId, SysEx, U7, U14};
use chaconne_time::Tick;
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// A captured note, in transport ticks.
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

/// Whether a pass has taken something that was captured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Fate {
    /// It is in no pass yet.
    #[default]
    Free,
    /// It is in a pass.
    Owned,
    /// Undo discarded it with the unfinished round of this number.
    Discarded(u32),
}

impl Fate {
    /// Whether a pass may take it. `with_discarded` says whether it may take discarded input too.
    pub fn is_free(self, with_discarded: bool) -> bool {
        match self {
            Fate::Free => true,
            Fate::Owned => false,
            Fate::Discarded(_) => with_discarded,
        }
    }
}

/// A captured system-exclusive message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Exclusive {
    pub at: Tick,
    pub bytes: Vec<u8>,
    pub fate: Fate,
}

/// A captured gesture of a controller.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Gesture {
    /// Identifies it; later gestures have higher numbers.
    pub number: u64,
    pub channel: Channel,
    pub control: Control,
    /// In order of time, not empty. The last of several at one tick counts.
    pub moves: Vec<(Tick, U14)>,
    /// The tick at which it ended; `None` while it may go on.
    pub over: Option<Tick>,
    /// Where the next gesture of its controller began.
    pub next: Option<Tick>,
    pub fate: Fate,
}

impl Gesture {
    pub fn start(&self) -> Tick {
        self.moves.first().map_or(Tick::ZERO, |&(at, _)| at)
    }

    fn last(&self) -> (Tick, U14) {
        self.moves.last().copied().unwrap_or_default()
    }

    /// Whether all its moves are to rest, so that it does nothing.
    pub fn only_rests(&self) -> bool {
        let rest = at_rest(self.control);
        self.moves.iter().all(|&(_, value)| Some(value) == rest)
    }

    /// The value in force at a tick; `None` before it begins and after it has ended. A gesture that
    /// ended because it stood still away from rest leaves its value in force until the next begins.
    pub fn value_at(&self, at: Tick) -> Option<U14> {
        let after = self.moves.partition_point(|&(from, _)| from <= at);
        let &(_, value) = self.moves.get(after.checked_sub(1)?)?;
        let last = self.last();
        let stands = self.over == Some(last.0 + Tick(1)) && Some(last.1) != at_rest(self.control);
        let until = if stands { self.next } else { self.over };
        until.is_none_or(|until| at < until).then_some(value)
    }

    /// Whether it is a pedal that is down.
    pub fn is_held(&self) -> bool {
        self.over.is_none() && is_pedal(self.control) && self.last().1.get() >= DOWN
    }

    /// Drops the moves before a tick, except the last of them. No pass will need them.
    fn forget(&mut self, at: Tick) {
        let before = self.moves.partition_point(|&(moved, _)| moved < at);
        if !matches!(self.fate, Fate::Discarded(_)) {
            self.moves.drain(..before.saturating_sub(1));
        }
    }

    /// Whether it has stood still for a bar by tick `at`.
    fn stood_still(&self, at: Tick, bar: Tick) -> bool {
        self.over.is_none() && !self.is_held() && self.last().0 + bar <= at
    }

    /// Ends it just after its last move.
    fn end(&mut self) {
        self.over = Some(self.last().0 + Tick(1));
    }
}

/// The lowest value at which a pedal is down.
const DOWN: u16 = 64;

/// Sustain, portamento, sostenuto and soft.
fn is_pedal(control: Control) -> bool {
    matches!(control, Control::Change(number) if (64..=67).contains(&number.get()))
}

/// Everything that was played recently.
#[derive(Debug, Clone, Default)]
pub(crate) struct Capture {
    pub notes: VecDeque<Caught>,
    /// By number.
    pub gestures: BTreeMap<u64, Gesture>,
    pub sysex: VecDeque<Exclusive>,
    /// The keys that are down, by input.
    down: BTreeMap<(u8, Channel, U7), NoteId>,
    /// The values of the controllers that the player has left away from rest.
    away: BTreeMap<(Channel, Control), U14>,
    /// The newest gesture of each controller.
    newest: BTreeMap<(Channel, Control), u64>,
    parameters: Parameters,
    /// The id of the last note.
    struck: u32,
    /// The number of the last gesture.
    begun: u64,
    /// How much the round being recorded has; `None` while nothing is recorded.
    round: Option<Load>,
    /// How many moves the gestures have together.
    moves: usize,
    /// The tick before which everything was dropped last.
    pruned: Tick,
    lost: u64,
    work: u64,
}

/// How much a round has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Load {
    notes: usize,
    moves: usize,
    bytes: usize,
}

/// What a captured message did.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum News {
    Nothing,
    /// It began a note or a gesture, or was a system-exclusive message.
    Played,
    /// It struck a key that was down, which ended this note.
    Again(NoteId),
    /// It ended this note.
    Released(NoteId),
    /// It belongs to a gesture that had begun before, of this number.
    Moved(u64),
}

/// The most notes a round holds: more than an hour and a half of sixteenths at 120.
pub(crate) const MOST_NOTES: usize = 50_000;
/// The most controller moves a round holds.
pub(crate) const MOST_MOVES: usize = 100_000;
/// The most bytes of system-exclusive messages a round holds.
pub(crate) const MOST_BYTES: usize = 1 << 20;
/// How many such rounds are stored at a time.
const ROUNDS: usize = 4;
/// How often old input is dropped, in ticks.
const PRUNE: Tick = Tick(960);

impl Capture {
    /// Drops everything; releases of keys that are still down will be ignored. Pedals and wheels that
    /// are away from rest begin a new gesture at a tick.
    pub fn restart(&mut self, at: Tick) {
        let Capture { struck, begun, lost, work, .. } = *self;
        let away = std::mem::take(&mut self.away);
        *self = Capture { struck, begun, lost, work, away, ..Capture::default() };
        for (which, value) in self.away.clone() {
            self.begin((which, None), at, value);
        }
    }

    /// Takes a message while the transport is stopped: only the positions of pedals and wheels matter.
    pub fn message_while_stopped(&mut self, message: Message) {
        if let (Some(channel), Some((control, value))) = (message.channel(), message.control()) {
            self.set_away((channel, control), value);
        }
    }

    /// Remembers the value of a controller if it is away from rest.
    fn set_away(&mut self, which: (Channel, Control), value: U14) {
        match at_rest(which.1) {
            Some(rest) if rest != value => self.away.insert(which, value),
            _ => self.away.remove(&which),
        };
    }

    /// Starts to count what a new round has, or stops if nothing is recorded any more.
    pub fn count_round(&mut self, records: bool) {
        self.round = records.then(Load::default);
    }

    /// How many notes, moves and messages recording has looked at so far.
    pub fn work(&self) -> u64 {
        self.work
    }

    /// The number of notes, moves and messages.
    pub fn len(&self) -> usize {
        self.notes.len() + self.moves + self.sysex.len()
    }

    /// Adds to [`work`](Self::work).
    pub fn worked(&mut self, more: usize) {
        self.work += more as u64;
    }

    /// Whether there is room for more, given how much is stored. If not, the message counts as lost.
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

    /// How many messages were not stored: there was no room, or they were incomplete.
    pub fn lost(&self) -> u64 {
        self.lost
    }

    /// Takes a message from the input `source`. `bar` is the length of the bar at that tick.
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

    /// Takes a system-exclusive message, unless it is incomplete.
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

    /// Ends the notes that an input held, because the input is gone. Returns them.
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

    /// Ends all held notes, of every input, and returns them.
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
            // A key struck again while it is down ends the note before.
            Some(before) => {
                self.end(before, at, U7::CENTRE);
                News::Again(before)
            }
            None => News::Played,
        }
    }

    /// A note by its id.
    pub fn note(&self, id: NoteId) -> Option<&Caught> {
        let index = self.notes.binary_search_by_key(&id, |note| note.id).ok()?;
        self.notes.get(index)
    }

    pub fn note_mut(&mut self, id: NoteId) -> Option<&mut Caught> {
        // Ids increase, so the notes are in order.
        let index = self.notes.binary_search_by_key(&id, |note| note.id).ok()?;
        self.notes.get_mut(index)
    }

    /// A gesture by its number.
    pub fn gesture(&self, number: u64) -> Option<&Gesture> {
        self.gestures.get(&number)
    }

    /// Ends every gesture, lifts the pedals that have not stood still for a bar, and returns the
    /// gestures that this ended.
    pub fn end_gestures(&mut self, at: Tick, bar: Tick) -> Vec<u64> {
        let mut ended = self.end_still_gestures(at, bar);
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

    /// Ends the gestures that have stood still for a bar by `at`, and returns them.
    pub fn end_still_gestures(&mut self, at: Tick, bar: Tick) -> Vec<u64> {
        let mut ended = Vec::new();
        for gesture in self.gestures.values_mut().filter(|gesture| gesture.over.is_none()) {
            if gesture.stood_still(at, bar) {
                gesture.end();
                ended.push(gesture.number);
            }
        }
        ended
    }

    /// Ends the newest gesture of a controller if it is in progress and began before a tick. Returns its
    /// number if this ended it.
    pub fn end_gesture_before(&mut self, which: (Channel, Control), at: Tick) -> Option<u64> {
        let number = *self.newest.get(&which)?;
        let gesture = self.gestures.get_mut(&number)?;
        let ends = gesture.over.is_none() && gesture.start() < at;
        ends.then(|| {
            gesture.end();
            number
        })
    }

    fn end(&mut self, id: NoteId, at: Tick, velocity: U7) -> News {
        let Some(note) = self.note_mut(id) else { return News::Nothing };
        note.end = Some(at.max(note.start + Tick(1)));
        note.release = velocity;
        News::Released(id)
    }

    fn moved(&mut self, at: Tick, which: (Channel, Control), value: U14, bar: Tick) -> News {
        let rests = at_rest(which.1) == Some(value);
        self.set_away(which, value);
        // A move to rest is always stored, so that no gesture stays away from rest.
        if !self.has_room([0, self.moves, 0], Load { moves: 1, ..Load::default() }) && !rests {
            return News::Nothing;
        }
        self.moves += 1;
        let over = rests.then_some(at + Tick(1));
        let newest = self.newest.get(&which).and_then(|number| self.gestures.get_mut(number));
        if let Some(gesture) = newest {
            // Late input may arrive out of order.
            let at = at.max(gesture.last().0);
            if gesture.stood_still(at, bar) {
                gesture.end();
            }
            // A gesture that ended at this very tick goes on.
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
        let (next, fate) = (None, Fate::Free);
        let gesture = Gesture { number, channel, control, moves, over, next, fate };
        self.gestures.insert(number, gesture);
        let before = self.newest.insert(which, number);
        if let Some(before) = before.and_then(|number| self.gestures.get_mut(&number)) {
            before.next = Some(at);
        }
    }

    /// Replaces one fate with another, for all input that has it.
    pub fn change_fate(&mut self, from: Fate, to: Fate) {
        let notes = self.notes.iter_mut().map(|note| &mut note.fate);
        let gestures = self.gestures.values_mut().map(|gesture| &mut gesture.fate);
        let sysex = self.sysex.iter_mut().map(|message| &mut message.fate);
        let all = notes.chain(gestures).chain(sysex);
        all.filter(|fate| **fate == from).for_each(|fate| *fate = to);
    }

    /// Drops what ended before `at`, at most once in [`PRUNE`] ticks; returns whether it did. Held keys
    /// and the newest gesture of a controller that is away from rest stay.
    pub fn prune(&mut self, at: Tick) -> bool {
        if at < self.pruned + PRUNE {
            return false;
        }
        self.pruned = at;
        self.notes.retain(|note| note.start >= at || note.end.is_none());
        self.gestures.retain(|_, gesture| {
            let away = || Some(gesture.last().1) != at_rest(gesture.control);
            // What was left away from rest is in force until the next gesture begins.
            let in_force = || gesture.next.is_none_or(|next| next >= at);
            gesture.over.is_none_or(|over| over >= at) || away() && in_force()
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

#[cfg(test)]
mod tests;
