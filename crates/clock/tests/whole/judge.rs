//! The judge compares what is on paper after each change with a performance of the changed song.
//!
//! An era is the time between two changes. From its first tick on, the presses on paper must be those
//! of `perform`. Notes from before the change may end at any time. So for a key that was down at the
//! change, only presses are compared until it is up both on paper and in the performance. In the same
//! way a controller is compared only once both have the same value. A key may continue to sound
//! across a change only if it also sounds there in the changed song.

use crate::expected::{bytes, port_of};
use crate::stand::{CLICK, Line, Stand};
use chaconne_engine::{
    ByHand, Entry, KeyChange, Mode, PortIx, Rounds, Route, Status, Transport, View, Walk, is_heard,
    perform,
};
use chaconne_song::{Channel, Control, Lane, Layer, Letter, Pass, PassId, Song, TrackId};
use chaconne_time::{Span, Tick, pulse};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How long before an era its performance starts: longer than any note of a random song, recorded
/// notes excepted.
const LEAD: Tick = Tick(60_000);
/// How long before a seam early notes of the round just recorded may be heard.
const EARLY: Tick = Tick(960);

/// The controller of a channel's volume (MIDI 1.0, table of controllers).
const VOLUME: u8 = 7;

/// How the sentence begins that says that new bars make the section start again.
const RESTARTED: &str = "the bars have changed: section ";

/// A key or a controller: its port, and two numbers that identify it there.
type Place = (PortIx, u8, u8);

/// A message on paper, the tick at which it was sent, and whether it was exactly on that tick.
struct Sent {
    at: Tick,
    exact: bool,
    /// Whether an order or a player sent it at once.
    prompt: bool,
    port: PortIx,
    bytes: Vec<u8>,
}

/// The song and the route between two changes.
struct Era {
    from: Tick,
    song: Arc<Song>,
    entries: Vec<Entry>,
    /// Ticks that are not judged.
    skipped: Vec<Span>,
    /// Ticks that are not judged, and at which keys may continue although the song has them silent.
    covered: Vec<Span>,
    /// Whether it began with a jump, which may move early notes to its first tick.
    jumped: bool,
    /// Whether it began where keys changed: what was in the old ones ends at its first tick.
    turned: bool,
}

/// The keys that are down and the values of controllers, after all messages so far.
#[derive(Default)]
struct Wire {
    down: BTreeSet<Place>,
    values: BTreeMap<Place, Vec<u8>>,
}

impl Wire {
    fn take(&mut self, port: PortIx, bytes: &[u8]) {
        match kind(bytes) {
            Kind::On(key) => {
                self.down.insert((port, key.0, key.1));
            }
            Kind::Off(key) => {
                self.down.remove(&(port, key.0, key.1));
            }
            Kind::Move(knob) => {
                self.values.insert((port, knob.0, knob.1), bytes.to_vec());
            }
            Kind::Other => {}
        }
    }

    /// The value of a controller. A pedal that is up has none, the same as one that was never sent.
    fn value(&self, knob: &Place) -> Option<&[u8]> {
        self.values.get(knob).and_then(|bytes| unless_at_rest(bytes))
    }
}

enum Kind {
    On((u8, u8)),
    Off((u8, u8)),
    Move((u8, u8)),
    Other,
}

fn is_on(port: PortIx, bytes: &[u8], key: Place) -> bool {
    matches!(kind(bytes), Kind::On((channel, number)) if (port, channel, number) == key)
}

/// Whether a message is of a pedal, a wheel or the bend, which have a rest (MMA RP-015).
fn has_rest(bytes: &[u8]) -> bool {
    bytes[0] & 0xF0 == 0xE0 || bytes[0] & 0xF0 == 0xB0 && [1, 64].contains(&bytes[1])
}

/// A controller's message; `None` if it brings a pedal, a wheel or the bend to rest (MMA RP-015).
fn unless_at_rest(bytes: &[u8]) -> Option<&[u8]> {
    let rests = match bytes[0] & 0xF0 {
        0xB0 => [1, 64].contains(&bytes[1]) && bytes[2] == 0,
        0xE0 => bytes[1..] == [0, 64],
        _ => false,
    };
    (!rests).then_some(bytes)
}

fn kind(bytes: &[u8]) -> Kind {
    match bytes[0] & 0xF0 {
        0x90 => Kind::On((bytes[0] & 15, bytes[1])),
        0x80 => Kind::Off((bytes[0] & 15, bytes[1])),
        // From 120 on they are not controllers (MIDI 1.0, "Channel Mode Messages").
        0xB0 if bytes[1] < 120 => Kind::Move((bytes[0], bytes[1])),
        0xA0 => Kind::Move((bytes[0], bytes[1])),
        0xC0..=0xE0 => Kind::Move((bytes[0], 0)),
        _ => Kind::Other,
    }
}

/// The kind of the last action, which decides what can be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// A change that takes effect at once.
    Plain,
    /// A change that makes a pass from what was played; it is judged from the next seam on.
    FromSeam,
    /// Everything that sounded was released.
    Silence,
}

/// The judge.
pub struct Judge {
    era: Option<Era>,
    revision: u64,
    /// The number of the last message.
    said: u64,
    /// Whether a take was being recorded at the last look.
    recording: bool,
    solo: (BTreeSet<TrackId>, BTreeSet<PassId>),
    by_hand: Option<ByHand>,
    /// The change of key that is still to come.
    coming: Option<KeyChange>,
    wire: Wire,
    sent: Vec<Sent>,
    /// The tick at which the music of this run begins: where the transport started, or where the count-in
    /// leads to.
    pub run_start: Tick,
    last_pulse: Option<Tick>,
    /// The tick until which a new pass may not be heard yet, or the recording may cover other passes.
    unsure: Tick,
    /// The start of the entry in which a take of one pass was recorded. In that entry the pass
    /// continues from its end.
    taken: Option<Tick>,
    /// The controllers that the player moves: since when, and until when the song leaves them alone.
    touched: BTreeMap<Place, Span>,
    /// All controllers that the player has moved. One that no song uses stays where the player left it.
    played: BTreeSet<Place>,
    /// Keys that a jump has struck later than `perform`, which knows every entry from the start.
    late: BTreeSet<Place>,
    /// Where the last live change of section that was counted has come.
    jumped: Tick,
    pub judged: Judged,
}

/// How much was judged.
#[derive(Debug, Default)]
pub struct Judged {
    /// Presses.
    pub presses: u64,
    /// Controller moves.
    pub moves: u64,
    /// Eras.
    pub eras: u64,
    /// Live changes of section that have come.
    pub jumps: u64,
    /// Those after which every controller was checked, and how many controllers.
    pub checked: u64,
    pub controllers: u64,
    /// Eras that began where keys changed.
    pub turns: u64,
    /// Presses in runs whose music begins elsewhere than at the top.
    pub elsewhere: u64,
}

impl Judge {
    pub fn new(stand: &Stand) -> Judge {
        Judge {
            era: None,
            revision: stand.engine.revision(),
            said: 0,
            recording: false,
            solo: Default::default(),
            by_hand: None,
            coming: None,
            wire: Wire::default(),
            sent: Vec::new(),
            run_start: Tick::ZERO,
            last_pulse: None,
            unsure: Tick::MIN,
            taken: None,
            touched: BTreeMap::new(),
            played: BTreeSet::new(),
            late: BTreeSet::new(),
            jumped: Tick::MIN,
            judged: Judged::default(),
        }
    }

    /// Reads the messages sent so far.
    pub fn read(&mut self, stand: &mut Stand) {
        for Line { port, bytes, prompt, tick, .. } in std::mem::take(&mut stand.paper.lines) {
            if bytes == [0xF8] {
                self.pulse(tick);
            } else if port != CLICK && bytes[0] < 0xF8 {
                // Messages after a stop are later than any tick.
                let (at, exact) = tick.unwrap_or((Tick::MAX, false));
                self.sent.push(Sent { at, exact, prompt, port, bytes });
            }
        }
    }

    /// Checks that every fortieth tick has one pulse, on the exact nanosecond.
    fn pulse(&mut self, tick: Option<(Tick, bool)>) {
        let (at, exact) = tick.expect("a pulse while the transport is stopped");
        assert!(exact, "a pulse that is not exactly on its tick {}", at.0);
        if let Some(last) = self.last_pulse {
            assert_eq!(at, last + Tick(pulse::TICKS_PER_PULSE), "a pulse is missing or doubled");
        }
        self.last_pulse = Some(at);
    }

    /// The player moves a controller. Until the end of the span, the song may not move it.
    pub fn touch(&mut self, port: PortIx, bytes: &[u8], span: Span) {
        if let Kind::Move(knob) = kind(bytes) {
            self.played.insert((port, knob.0, knob.1));
            let held = self.touched.entry((port, knob.0, knob.1)).or_insert(span);
            let goes_on = span.from < held.to;
            *held = if goes_on { Span::new(held.from, span.to) } else { span };
        }
    }

    /// Moves of a level are taken back: it goes back at the tick after this one, and is the song's again.
    pub fn release_levels(&mut self, at: Tick) {
        let levels = self.touched.iter_mut().filter(|((_, _, number), _)| *number == VOLUME);
        levels.for_each(|(_, held)| held.to = held.to.min(at + Tick(1)));
    }

    /// Looks at the engine after an action or a poll. `tick` is the transport's tick at the action.
    pub fn look(&mut self, stand: &mut Stand, tick: Option<Tick>, cause: Cause) {
        self.read(stand);
        let status = stand.engine.status(stand.now);
        if status.transport == Transport::Stopped {
            let end = |at| self.judged_until(at + Tick(1), self.recording, cause);
            self.finish(tick.map_or(Tick::MAX, end));
            self.last_pulse = None;
            self.jumped = Tick::MIN;
            self.revision = status.revision;
            return;
        }
        let here = tick.unwrap_or(status.at) + Tick(1);
        self.count_jumps(stand, status.at);
        let goes_elsewhere = self.goes_elsewhere(stand, &status);
        if goes_elsewhere {
            self.move_seam(stand, &status, here - Tick(1));
        }
        let said = std::mem::replace(&mut self.said, status.said.0);
        if said != self.said && status.said.1.starts_with(RESTARTED) && here <= self.run_start {
            // In the count-in the route may look the same as before, but the loop is entered again.
            let entered = self.run_start;
            self.touched.values_mut().for_each(|held| held.to = held.to.min(entered));
        }
        self.turn_keys(stand, &status);
        let solo = (status.solo_tracks.clone(), status.solo_passes.clone());
        let changed = status.revision != self.revision
            || self.solo != solo
            || self.by_hand != status.by_hand
            || self.coming != status.key_change
            || self.recording != status.recording;
        match &self.era {
            None => {
                // What was sent while stopped comes before everything in this run.
                let earlier = self.sent.extract_if(.., |line| line.at == Tick::MAX);
                earlier.for_each(|line| self.wire.take(line.port, &line.bytes));
                let counts = status.transport == Transport::CountingIn;
                // Both are counted from the top of the section.
                let left = status.begins - status.in_section;
                self.run_start = if counts { status.at + left } else { status.at };
                self.touched.clear();
                // `perform` has no count-in: what sounds in it begins with the music there.
                self.unsure = if counts { self.run_start + Tick(1) } else { Tick::MIN };
                self.taken = None;
                self.begin(stand, &status, status.at, Cause::Plain, true);
            }
            Some(era) if changed || goes_elsewhere || cause != Cause::Plain => {
                let recording = status.recording || self.recording;
                let end = self.judged_until(here, recording, cause);
                // Two changes at one tick are judged as one.
                let jumped = goes_elsewhere || self.is_near(here, &status);
                let jumped = jumped || era.jumped && era.from == here;
                // Where the command let the time go, something of the next era is sent already.
                self.finish_before(here, end);
                self.begin(stand, &status, here, cause, jumped);
            }
            Some(_) => {}
        }
        self.solo = solo;
        self.by_hand = status.by_hand;
        self.coming = status.key_change.clone();
        self.revision = status.revision;
        self.recording = status.recording;
        self.skip_recording(&status);
        self.check_tempo(&status);
    }

    /// Counts the live changes of section that have come since the last look.
    fn count_jumps(&mut self, stand: &Stand, at: Tick) {
        let came = stand.engine.entries().windows(2).rev();
        let came = came.filter(|pair| pair[0].cut && pair[1].at <= at).map(|pair| pair[1].at);
        let came: Vec<Tick> = came.take_while(|&came| came > self.jumped).collect();
        self.judged.jumps += came.len() as u64;
        self.jumped = came.first().map_or(self.jumped, |&last| last);
    }

    /// Ends the era where keys have changed since the last look, and begins another there.
    fn turn_keys(&mut self, stand: &Stand, status: &Status) {
        let is_due = |coming: &KeyChange| {
            coming.at <= status.at
                && status.key_change.as_ref() != Some(coming)
                && status.revision != self.revision
        };
        let Some(at) = self.coming.as_ref().filter(|coming| is_due(coming)).map(|coming| coming.at)
        else {
            return;
        };
        let Some(era) = self.era.as_ref().filter(|era| era.from <= at) else { return };
        let jumped = era.jumped && era.from == at;
        let recording = status.recording || self.recording;
        let end = self.judged_until(at, recording, Cause::Plain);
        self.finish_before(at, end);
        self.begin(stand, status, at, Cause::Plain, jumped);
        if let Some(era) = &mut self.era {
            era.turned = true;
            if recording {
                // The round that was closed meanwhile may be heard only from now on.
                add(&mut era.covered, Span::new(at, status.at + Tick(1)));
            }
        }
        self.judged.turns += 1;
        self.revision = status.revision;
        self.coming = status.key_change.clone();
    }

    /// Whether notes that are early for a change of key, which was asked for or taken back, may sound at a tick.
    fn is_near(&self, here: Tick, status: &Status) -> bool {
        let both = [&self.coming, &status.key_change];
        let differs = self.coming != status.key_change;
        differs && both.iter().any(|keys| keys.as_ref().is_some_and(|keys| keys.at - here < EARLY))
    }

    /// Judges the era up to `end`. What was sent from `here` on belongs to the next one.
    fn finish_before(&mut self, here: Tick, end: Tick) {
        let ahead = self.sent.extract_if(.., |line| line.at >= here && line.at < Tick::MAX);
        let ahead: Vec<Sent> = ahead.collect();
        self.finish(end);
        self.sent = ahead;
    }

    /// The tick up to which an era that ends at `here` is judged. A round that ended by itself has been
    /// heard since its seam, and its early notes a little before that; the round after it may already
    /// cover others. The bars in which it ended may have changed since.
    fn judged_until(&self, here: Tick, recording: bool, cause: Cause) -> Tick {
        let Some(era) = self.era.as_ref().filter(|_| recording) else { return here };
        let (entered, _) = round(&era.song, &era.entries, here - Tick(1));
        // The same may be true of a round that an action just after its seam closed and undid.
        let late = cause == Cause::Plain || here - entered < EARLY;
        if late { here.min(entered - EARLY) } else { here }
    }

    /// The next seam after a tick may be another one now. The player has controllers until then.
    fn move_seam(&mut self, stand: &Stand, status: &Status, at: Tick) {
        let (_, seam) = round(&status.song, stand.engine.entries(), at);
        let held = self.touched.values_mut().filter(|held| held.to > at);
        held.for_each(|held| *held = Span::new(held.from, seam));
    }

    /// Checks that the tempo is the walker's.
    fn check_tempo(&self, status: &Status) {
        let (Some(era), Transport::Rolling) = (&self.era, status.transport) else { return };
        let end = era.entries.last().map_or(Tick::MAX, |entry| entry.until);
        if era.from < status.at && status.at < end && status.by_hand.is_none() {
            let tempo = Walk::new(&era.song, &era.entries).tempo_at(status.at);
            assert_eq!(Some(status.tempo), tempo, "the tempo at tick {}", status.at.0);
        }
    }

    fn begin(&mut self, stand: &Stand, status: &Status, from: Tick, cause: Cause, jumped: bool) {
        let entries = entries(stand, status);
        let song = Arc::new(heard(status));
        let mut era = Era {
            from,
            song,
            entries,
            skipped: Vec::new(),
            covered: Vec::new(),
            jumped,
            turned: false,
        };
        if cause == Cause::FromSeam {
            // Feel may move its last notes past the seam, where they are heard a round later.
            self.unsure = self.unsure.max(next_seam(status) + EARLY);
        }
        era.skipped.push(Span::new(from, self.unsure));
        // Early notes of what begins there are in the new key.
        let early = status.key_change.as_ref().map(|keys| Span::new(keys.at - EARLY, keys.at));
        era.covered.extend(early);
        if from <= self.run_start {
            era.covered.push(Span::new(from, self.run_start + Tick(1)));
        }
        self.era = Some(era);
        self.judged.eras += 1;
    }

    /// Whether the transport's route differs from the era's.
    fn goes_elsewhere(&self, stand: &Stand, status: &Status) -> bool {
        let Some(era) = &self.era else { return true };
        let now = entries(stand, status);
        let same = era.entries.iter().rev().zip(now.iter().rev()).all(|(one, two)| one == two);
        !same || now.len() > era.entries.len()
    }

    /// Skips what cannot be judged while recording. Early notes of the new round may be heard shortly
    /// before its seam. A pass that covers others is judged from the next seam on. A take of one pass
    /// continues from its end until its section is left, while `perform` counts it from the entry.
    fn skip_recording(&mut self, status: &Status) {
        let Some(era) = &mut self.era else { return };
        let here = era.entries[here(&era.entries, status.at)];
        let seam = next_seam(status);
        if status.recording {
            // An era that begins while the time waits for the seam begins there.
            add(&mut era.covered, Span::new(seam - EARLY, seam + Tick(1)));
            if status.mode != Mode::Layer {
                self.unsure = seam;
                add(&mut era.covered, Span::new(status.at - EARLY, seam));
            }
            if status.rounds == Rounds::One {
                self.taken = Some(here.at);
            }
        }
        if self.taken == Some(here.at) {
            add(&mut era.covered, Span::new(here.at, here.until));
        }
    }

    /// Judges the era up to a tick.
    pub fn finish(&mut self, to: Tick) {
        let sent = std::mem::take(&mut self.sent);
        let Some(era) = self.era.take() else {
            sent.iter().for_each(|line| self.wire.take(line.port, &line.bytes));
            return;
        };
        let (before, rest): (Vec<Sent>, Vec<Sent>) =
            sent.into_iter().partition(|line| line.at < era.from);
        let (inside, after): (Vec<Sent>, Vec<Sent>) =
            rest.into_iter().partition(|line| line.at < to);
        before.iter().for_each(|line| self.wire.take(line.port, &line.bytes));
        self.follow_late(&before, None);
        self.judge(&era, Span::new(era.from, to.max(era.from)), &inside);
        // Messages between the two eras are taken into account, but not judged.
        after.iter().for_each(|line| self.wire.take(line.port, &line.bytes));
        let jump = era.jumped.then_some(era.from);
        self.follow_late(&inside, jump);
        self.follow_late(&after, jump);
    }

    /// Early notes of a section that a jump enters sound from the jump on, and end that much later. A key that
    /// is struck again meanwhile may still be held by such a note.
    fn follow_late(&mut self, lines: &[Sent], jump: Option<Tick>) {
        for (index, line) in lines.iter().enumerate() {
            match kind(&line.bytes) {
                Kind::On((channel, key)) if jump == Some(line.at) => {
                    self.late.insert((line.port, channel, key));
                }
                Kind::Off((channel, key)) => {
                    let place = (line.port, channel, key);
                    let mut same = lines[index..].iter().take_while(|other| other.at == line.at);
                    if !same.any(|other| is_on(other.port, &other.bytes, place)) {
                        self.late.remove(&place);
                    }
                }
                _ => {}
            }
        }
    }

    fn judge(&mut self, era: &Era, span: Span, lines: &[Sent]) {
        let last = lines.last().map_or(span.from, |line| line.at + Tick(1));
        let to = if span.to == Tick::MAX { last } else { span.to };
        let first = era.entries[0].at;
        // Early notes before the first entry are heard if the transport started before it.
        let first = if first <= Tick::ZERO { self.run_start } else { first.max(self.run_start) };
        let notes = era.song.passes.values().flat_map(|pass| pass.notes());
        let longest = notes.map(|note| note.stroke().length).max().unwrap_or(Tick::ZERO);
        let base = first.max(span.from - LEAD.max(longest * 2));
        let route = Route { entries: era.entries.clone() };
        let said = perform(&era.song, &route, Span::new(base, to.max(base)), View::Corrected);
        let mut ours = Wire::default();
        let mut ticks: BTreeMap<Tick, Moment> = BTreeMap::new();
        for event in said.events.iter().filter(|event| event.at < to) {
            let (port, bytes) = (port_of(&said.ports, event.port), bytes(event));
            if event.at < span.from {
                ours.take(port, &bytes);
            } else {
                ticks.entry(event.at).or_default().said.push((port, bytes));
            }
        }
        for line in lines {
            let moment = ticks.entry(line.at).or_default();
            if line.prompt {
                moment.prompt.push((line.port, line.bytes.clone()));
            } else {
                moment.heard.push((line.port, line.bytes.clone()));
                moment.exact.push(line.exact);
            }
        }
        if era.turned {
            ticks.entry(span.from).or_default().drop_retaken();
        }
        let held = self.wire.down.clone();
        let covered = |at: Tick| era.covered.iter().any(|span| span.contains(at));
        let cuts = era.jumped || era.turned;
        // An era that ended at once has not sent what it cuts.
        let cuts_now = cuts && span.from < to;
        if cuts_now {
            // Notes that it cuts end at the first tick.
            ticks.entry(span.from).or_default();
        } else if !cuts && !covered(span.from) {
            self.check_held(era, &held, &ours, span.from);
        }
        let mut doubt: BTreeSet<Place> = self.wire.down.union(&ours.down).copied().collect();
        for (at, moment) in ticks {
            let skips =
                era.skipped.iter().any(|span| span.contains(at)) || (era.jumped && at == era.from);
            let skips = skips || covered(at);
            self.judge_tick(at, &moment, &mut ours, &mut doubt, skips);
            if cuts_now && at == span.from && !covered(at) {
                let struck = |key: &&Place| {
                    moment.heard.iter().any(|(port, bytes)| is_on(*port, bytes, **key))
                };
                let still = held.intersection(&self.wire.down).filter(|key| !struck(key));
                self.check_held(era, &still.copied().collect(), &ours, at);
            }
        }
        let skips = |at: Tick| era.skipped.iter().any(|span| span.contains(at)) || covered(at);
        if span.from < to && !skips(to - Tick(1)) {
            // What a command has sent at once belongs to the song after it.
            let prompt =
                lines.iter().filter(|line| line.prompt).map(|line| (line.port, &line.bytes));
            let set = prompt.filter_map(|(port, bytes)| match kind(bytes) {
                Kind::Move(knob) => Some((port, knob.0, knob.1)),
                _ => None,
            });
            self.check_controllers(era, to, &set.collect());
        }
    }

    /// Checks every controller after the last live change of section in the era: it is where a performance that
    /// begins there has it, and at rest if nothing there moves or sets it. `set` are those set by a command.
    fn check_controllers(&mut self, era: &Era, to: Tick, set: &BTreeSet<Place>) {
        let entered = era.entries.windows(2).rposition(|pair| {
            pair[0].cut && era.from <= pair[1].at && pair[1].at < to && self.run_start < pair[1].at
        });
        let Some(entered) = entered else { return };
        let (at, model) = (era.entries[entered + 1].at, since(era, entered + 1, to));
        let by_others = |knob: &Place| self.played.contains(knob) || set.contains(knob);
        let knobs = self.wire.values.keys().chain(model.values.keys());
        let knobs: BTreeSet<Place> = knobs.filter(|knob| !by_others(knob)).copied().collect();
        for knob in knobs {
            // Where nothing moves or sets it, what has no rest stays where it is.
            let rests = self.wire.values.get(&knob).is_some_and(|bytes| has_rest(bytes));
            if rests || model.values.contains_key(&knob) {
                let is = self.wire.value(&knob);
                assert_eq!(is, model.value(&knob), "{knob:?} after a jump to {}", at.0);
                self.judged.controllers += 1;
            }
        }
        self.judged.checked += 1;
    }

    /// Checks that each key that continues to sound also sounds in the song.
    fn check_held(&self, era: &Era, held: &BTreeSet<Place>, ours: &Wire, at: Tick) {
        let hangs: BTreeSet<Place> =
            held.difference(&ours.down).filter(|key| !self.late.contains(key)).copied().collect();
        if hangs.is_empty() {
            return;
        }
        // A note that an edit has made an early one of the section sounds from the jump on, too.
        let place = here(&era.entries, at - Tick(1));
        let entered = place > 0 && era.entries[place - 1].cut;
        let model = if entered { since(era, place, at) } else { Wire::default() };
        let hangs = hangs.difference(&model.down).next();
        assert_eq!(hangs, None, "a key is still down at {}, where the song has it silent", at.0);
    }

    fn judge_tick(
        &mut self,
        at: Tick,
        moment: &Moment,
        ours: &mut Wire,
        doubt: &mut BTreeSet<Place>,
        skips: bool,
    ) {
        let sets_up = at == self.run_start;
        let touched = &self.touched;
        let wire = &self.wire;
        let counts = |(port, bytes): &&(PortIx, Vec<u8>)| match kind(bytes) {
            Kind::On(_) => !skips,
            Kind::Off(key) => !skips && !doubt.contains(&(*port, key.0, key.1)),
            Kind::Move(knob) => {
                let knob = (*port, knob.0, knob.1);
                let free = touched.get(&knob).is_none_or(|held| at > held.to);
                // A value that is sent again changes nothing.
                let is_new = wire.value(&knob) != unless_at_rest(bytes);
                let agrees = wire.value(&knob) == ours.value(&knob);
                !skips && !sets_up && free && is_new && agrees
            }
            Kind::Other => !skips && !sets_up,
        };
        let sort = |lines: &[(PortIx, Vec<u8>)]| {
            let mut lines: Vec<_> = lines.iter().filter(counts).cloned().collect();
            lines.sort();
            lines
        };
        for (port, bytes) in &moment.heard {
            if let Kind::Move(knob) = kind(bytes)
                && let Some(held) = touched.get(&(*port, knob.0, knob.1))
            {
                let is_held = held.from < at && at < held.to;
                assert!(!is_held, "the song sends {bytes:?} at tick {}; held {held:?}", at.0);
            }
        }
        let (heard, said) = (sort(&moment.heard), sort(&moment.said));
        assert_eq!(heard, said, "paper and performance differ at tick {}", at.0);
        let exact = std::iter::zip(&moment.heard, &moment.exact);
        for (line, exact) in exact.filter(|(line, _)| counts(line)) {
            assert!(exact, "{line:?} is not exactly on its tick {}", at.0);
            match kind(&line.1) {
                Kind::On(_) => {
                    self.judged.presses += 1;
                    self.judged.elsewhere += u64::from(self.run_start != Tick::ZERO);
                }
                Kind::Move(_) => self.judged.moves += 1,
                _ => {}
            }
        }
        let mut met: BTreeSet<Place> = BTreeSet::new();
        for (port, bytes) in moment.heard.iter().chain(&moment.prompt) {
            self.wire.take(*port, bytes);
            if let Kind::On(key) = kind(bytes) {
                met.insert((*port, key.0, key.1));
            }
        }
        moment.said.iter().for_each(|(port, bytes)| ours.take(*port, bytes));
        if skips {
            doubt.extend(met);
            doubt.extend(ours.down.iter().copied());
        }
        let (wire, ours) = (&self.wire, &*ours);
        doubt.retain(|key| wire.down.contains(key) || ours.down.contains(key));
    }
}

/// The messages on paper and in the performance at one tick.
#[derive(Default)]
struct Moment {
    heard: Vec<(PortIx, Vec<u8>)>,
    exact: Vec<bool>,
    /// Messages that an order or a player sent at once; they are taken into account, but not judged.
    prompt: Vec<(PortIx, Vec<u8>)>,
    said: Vec<(PortIx, Vec<u8>)>,
}

impl Moment {
    /// Drops where a sustain pedal goes up to go down again at once.
    fn drop_retaken(&mut self) {
        let is_pedal = |line: &(PortIx, Vec<u8>)| line.1[0] & 0xF0 == 0xB0 && line.1[1] == 64;
        let goes_up = |line: &(PortIx, Vec<u8>)| is_pedal(line) && line.1[2] == 0;
        for index in (0..self.heard.len()).rev() {
            let line = self.heard[index].clone();
            let again = |later: &(PortIx, Vec<u8>)| {
                is_pedal(later) && later.0 == line.0 && later.1[0] == line.1[0]
            };
            if goes_up(&line) && self.heard[index + 1..].iter().any(again) {
                self.heard.remove(index);
                self.exact.remove(index);
            }
        }
    }
}

/// The song as it is heard: while some tracks are soloed, the others are muted; while some layers of a
/// track in a section are, its others there. While a track is recorded, its settings are in force in
/// every section.
fn heard(status: &Status) -> Song {
    let mut song = Song::clone(&status.song);
    if let Some(track) = status.armed.filter(|_| status.recording) {
        set_everywhere(&mut song, track);
    }
    let solo: Vec<(PassId, TrackId)> = status
        .solo_passes
        .iter()
        .filter_map(|&id| status.song.pass(id).map(|pass| (id, pass.track)))
        .collect();
    for section in song.sections.iter_mut().filter(|_| !solo.is_empty()) {
        let soloed = |layer: &Layer, track: TrackId| solo.contains(&(layer.pass, track));
        let tracks: BTreeSet<TrackId> = solo
            .iter()
            .filter(|(id, _)| section.layer(*id).is_some())
            .map(|(_, track)| *track)
            .collect();
        for layer in &mut Arc::make_mut(section).layers {
            let track = song.passes.get(&layer.pass).map(|pass| pass.track);
            if let Some(track) = track.filter(|track| tracks.contains(track)) {
                layer.mute |= !soloed(layer, track);
            }
        }
    }
    for track in &mut song.tracks {
        if !is_heard(track.id, track.mute, &status.solo_tracks) {
            Arc::make_mut(track).mute = true;
        }
    }
    song
}

/// Gives a track a pass in every section that plays nothing, so that its settings are sent there.
fn set_everywhere(song: &mut Song, track: TrackId) {
    for letter in song.sections.iter().map(|section| section.letter).collect::<Vec<_>>() {
        let mut pass = Pass::empty(song.ids().pass(), track, length(song, letter));
        let (channel, control) = (Channel::default(), Control::SUSTAIN);
        let span = Span::new(Tick::ZERO, pass.length);
        pass.notes_mut().lanes.push(Lane { channel, control, span, points: Vec::new() });
        song.lay(letter, pass);
    }
}

fn length(song: &Song, letter: Letter) -> Tick {
    song.section(letter).map_or(Tick(1), |section| section.length())
}

/// What a performance that begins with an entry of the era has sent before a tick.
fn since(era: &Era, entered: usize, to: Tick) -> Wire {
    let route = Route { entries: era.entries[entered..].to_vec() };
    let span = Span::new(route.span().from, to);
    let said = perform(&era.song, &route, span, View::Corrected);
    let mut wire = Wire::default();
    for event in said.events.iter().filter(|event| event.at < to) {
        wire.take(port_of(&said.ports, event.port), &bytes(event));
    }
    wire
}

/// The next seam of the section that is playing.
fn next_seam(status: &Status) -> Tick {
    status.at - status.in_section + length(&status.song, status.section)
}

/// The start and the end of the round that contains a tick.
fn round(song: &Song, entries: &[Entry], at: Tick) -> (Tick, Tick) {
    let entry = entries[here(entries, at)];
    let length = length(song, entry.section);
    let start = at - (at - entry.at).cycle(length).1;
    (start, (start + length).min(entry.until))
}

/// Adds a span, unless it is already the last one.
fn add(spans: &mut Vec<Span>, span: Span) {
    if spans.last() != Some(&span) {
        spans.push(span);
    }
}

/// The current entry and those after it, and those before it since the last jump: notes of earlier
/// entries may still ring, and feel may move notes to the end of an entry.
fn entries(stand: &Stand, status: &Status) -> Vec<Entry> {
    let all = stand.engine.entries();
    let now = here(all, status.at);
    let jump = all[..now].iter().rposition(|entry| entry.cut);
    all[jump.unwrap_or(0)..].to_vec()
}

/// The index of the entry that contains a tick.
fn here(entries: &[Entry], at: Tick) -> usize {
    let past = entries.partition_point(|entry| entry.until <= at);
    past.min(entries.len().saturating_sub(1))
}
