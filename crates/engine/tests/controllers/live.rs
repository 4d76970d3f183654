//! The controllers while the engine plays and a player takes part.

use crate::bench::{Bench, MS};
use crate::model::{Knob, Model, Solos, change, changes, controls, knobs, moved, rest};
use crate::player::{Deed, command, deed};
use crate::songs::{OTHER, song};
use chaconne_engine::{Command, Config, Entry, PortIx, moves};
use chaconne_song::{Channel, Control, Song, U14};
use chaconne_time::{Ns, Span, Tick};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What stays the same between two deeds of the player.
struct Era {
    /// The first tick that is judged.
    from: Tick,
    song: Arc<Song>,
    entries: Vec<Entry>,
    solos: Solos,
}

/// The bench, the player's hands and feet, and what the rules say of both.
struct Session {
    bench: Bench,
    knobs: Vec<Knob>,
    /// How many messages of the wire are read.
    read: usize,
    /// The values on the wire.
    shown: BTreeMap<Knob, U14>,
    /// Where the player's foot on each channel of the keyboard is heard, until it is up.
    pedals: BTreeMap<Channel, (PortIx, Channel)>,
    /// How far down the player holds each sustain pedal.
    feet: BTreeMap<Knob, U14>,
    /// Where the player has moved a controller in this run last, and when.
    hands: BTreeMap<Knob, (Tick, U14)>,
    /// The value at which the player has left a controller, as long as the song does not use it.
    left: BTreeMap<Knob, U14>,
    /// The controllers that the song has used.
    used: BTreeSet<Knob>,
    era: Option<Era>,
    judged: Judged,
}

/// How many values were judged.
#[derive(Debug, Default)]
struct Judged {
    all: usize,
    /// Of a sustain pedal that song and player both hold, not equally far down.
    both_feet: usize,
    /// Of a controller that the player has elsewhere than the song.
    hands: usize,
    /// Of a controller that the song has away from rest, while the player moves others.
    song: usize,
}

/// Whether an end or a panic brings a controller to rest (docs/time.md, "Controllers").
fn ends(control: Control) -> bool {
    control != change(7) && control != change(11)
}

fn is_sustain(knob: &Knob) -> bool {
    knob.2 == change(64)
}

impl Session {
    fn new(song: Song, step: Ns) -> Session {
        let ports = vec![String::new(), OTHER.into()];
        let mut bench = Bench::with(song, Config { lead: 0, ports, ..Config::default() });
        bench.step = step;
        let (read, judged, era) = (0, Judged::default(), None);
        let (shown, pedals, feet, hands, left, used) = Default::default();
        let knobs = knobs();
        let mut session =
            Session { bench, knobs, read, shown, pedals, feet, hands, left, used, era, judged };
        session.read_up_to(Tick::MAX);
        session
    }

    fn here(&self) -> Option<Tick> {
        self.bench.engine.tick_at(self.bench.now)
    }

    /// Lets time pass; judges it if the song ends meanwhile.
    fn wait(&mut self, ticks: i64) {
        match self.here() {
            Some(at) => self.bench.to(at.0 + ticks),
            None => self.bench.run_to(self.bench.now + ticks * MS / 2),
        }
        if let Some(era) = self.era.as_ref().filter(|_| self.here().is_none()) {
            let end = era.entries.last().unwrap().until;
            self.judge(end - Tick(1));
            self.stopped();
        }
    }

    fn act(&mut self, deed: &Deed) {
        let before = self.here();
        if let Some(at) = before {
            self.judge(at);
        }
        match *deed {
            Deed::Touch(which, channel, value) => self.touch(controls()[which], channel, value),
            _ => {
                if let Some(command) = command(&self.bench.engine, deed) {
                    self.bench.command(command);
                    self.bench.turn();
                }
            }
        }
        match (before, self.here()) {
            (None, None) => self.read_up_to(Tick::MAX),
            (Some(_), None) => self.stopped(),
            (None, Some(start)) => {
                // The song uses a controller in this run once it moves it. What an end has not brought
                // to rest is still the song's.
                self.used.retain(|knob| !ends(knob.2));
                self.hands.clear();
                self.begin(start);
            }
            (Some(at), Some(_)) => self.begin(at + Tick(1)),
        }
        if matches!(deed, Deed::Panic) {
            self.panicked();
        }
    }

    fn begin(&mut self, from: Tick) {
        let status = self.bench.engine.status(self.bench.now);
        let entries = self.bench.engine.entries().to_vec();
        let solos = Solos { tracks: status.solo_tracks, passes: status.solo_passes };
        self.era = Some(Era { from, song: status.song, entries, solos });
    }

    /// The player moves a controller on the armed track. A pedal that is down stays where it went down.
    fn touch(&mut self, control: Control, channel: u8, value: u16) {
        let channel = Channel::from_number(channel).unwrap();
        let value = U14::new(value.min(control.highest())).unwrap();
        let target = self.bench.engine.live_target().expect("a track is armed");
        let mut place = (target.port, target.channel.unwrap_or(channel));
        if control == change(64) {
            place = self.pedals.get(&channel).copied().unwrap_or(place);
            match value.get() {
                0 => self.pedals.remove(&channel),
                _ => self.pedals.insert(channel, place),
            };
        }
        let message = |channel| moves(channel, control, value).next().unwrap();
        self.bench.touch(message(channel), place.0, message(place.1));
        self.bench.turn();
        let knob = (place.0, place.1, control);
        if control == change(64) {
            self.feet.insert(knob, value);
        } else {
            self.left.insert(knob, value);
            match self.here() {
                Some(at) => _ = self.hands.insert(knob, (at, value)),
                None => _ = self.used.remove(&knob),
            }
        }
    }

    /// Everything was brought to rest, the player's feet too.
    fn panicked(&mut self) {
        self.feet.clear();
        self.left.retain(|knob, _| !ends(knob.2));
        let at_rest = |(knob, (_, value)): (&Knob, &mut (Tick, U14))| {
            if ends(knob.2) {
                *value = rest(knob.2).unwrap();
            }
        };
        self.hands.iter_mut().for_each(at_rest);
    }

    /// The run is over: only a foot of the player may still hold anything.
    fn stopped(&mut self) {
        self.era = None;
        let before = self.shown.clone();
        self.read_up_to(Tick::MAX);
        assert_eq!(self.bench.ledger.held(), 0, "a key is down after the end");
        for knob in &self.knobs {
            let shown = self.shown.get(knob).copied();
            match knob.2 {
                control if !ends(control) => assert_eq!(shown, before.get(knob).copied()),
                control => {
                    let foot = self.feet.get(knob).copied();
                    let held = foot.or(rest(control));
                    assert!(shown.is_none() || shown == held, "{knob:?} {shown:?} after the end");
                }
            }
        }
        self.left.retain(|knob, _| !ends(knob.2));
    }

    /// Reads the messages on the wire up to a tick.
    fn read_up_to(&mut self, to: Tick) {
        let wire = self.bench.wire.iter().zip(&self.bench.ports).skip(self.read);
        for ((at, message), port) in wire {
            if *at > to {
                break;
            }
            self.read += 1;
            self.shown.extend(moved(*port, message));
        }
    }

    /// Compares the wire with the rules, from the start of the era up to a tick.
    fn judge(&mut self, to: Tick) {
        let Some(era) = self.era.take() else { return };
        let Era { song, entries, solos, .. } = &era;
        let model = Model { song, entries, solos };
        let span = Span::new(era.from, to + Tick(1));
        let mut ticks = vec![era.from, to];
        ticks.extend(self.bench.wire[self.read..].iter().map(|(at, _)| *at));
        ticks.extend(changes(song, entries, span));
        ticks.extend(self.hands.values().map(|(at, _)| seam(song, entries, *at)));
        ticks.extend(ticks.clone().into_iter().map(|at| at - Tick(1)));
        ticks.retain(|&at| span.contains(at));
        ticks.sort_unstable();
        ticks.dedup();
        let mut entered = None;
        for at in ticks {
            self.read_up_to(at);
            let entry = model.entry(at);
            if let Some(section) = entry.filter(|_| entered != entry).map(|entry| entry.section) {
                entered = entry;
                let section = song.section(section).unwrap();
                let uses = |knob: &&Knob| model.owns(section, **knob);
                self.used.extend(self.knobs.iter().filter(uses));
            }
            let moment = model.moment(at);
            for knob in self.knobs.clone() {
                let shown = self.shown.get(&knob).copied();
                let song = moment.as_ref().and_then(|moment| moment.value(knob));
                let right = self.right(&model, knob, at, song);
                let unmoved = shown.is_none() && right == rest(knob.2);
                let is_right = right.is_none() || shown == right || unmoved;
                let sent = || self.sent(knob);
                assert!(
                    is_right,
                    "{knob:?} at {}: by the rules {right:?}; sent {:?}",
                    at.0,
                    sent()
                );
                self.count(knob, song, right);
            }
        }
    }

    fn count(&mut self, knob: Knob, song: Option<U14>, right: Option<U14>) {
        self.judged.all += usize::from(right.is_some());
        if is_sustain(&knob) {
            let feet = [song, self.feet.get(&knob).copied()].map(Option::unwrap_or_default);
            let zero = U14::default();
            self.judged.both_feet += usize::from(feet[0] != feet[1] && feet[0].min(feet[1]) > zero);
        } else {
            self.judged.hands += usize::from(song != right);
            self.judged.song += usize::from(song == right && song != rest(knob.2));
        }
    }

    /// The last values sent for a controller, with their ticks.
    fn sent(&self, knob: Knob) -> Vec<(i64, u16)> {
        let wire = self.bench.wire.iter().zip(&self.bench.ports);
        let values = wire.filter_map(|((at, message), port)| {
            let (place, value) = moved(*port, message)?;
            (place == knob).then_some((at.0, value.get()))
        });
        let values: Vec<_> = values.collect();
        values[values.len().saturating_sub(8)..].to_vec()
    }

    /// The value that a controller must have at a tick; `None` if any is right. `song` is where the song
    /// has it.
    fn right(&self, model: &Model, knob: Knob, at: Tick, song: Option<U14>) -> Option<U14> {
        if is_sustain(&knob) {
            // Two feet share the pedal.
            return song.max(self.feet.get(&knob).copied());
        }
        // A controller that the player moves is the player's until the seam.
        if let Some((touched, value)) = self.hands.get(&knob)
            && at < seam(model.song, model.entries, *touched)
        {
            return Some(*value);
        }
        match self.used.contains(&knob) {
            true => song,
            false => self.left.get(&knob).copied().or(rest(knob.2)),
        }
    }
}

/// The next seam after a tick: the end of its round, or of its visit if that is sooner.
fn seam(song: &Song, entries: &[Entry], at: Tick) -> Tick {
    let entry = entries.iter().find(|entry| entry.at <= at && at < entry.until).unwrap();
    let length = song.section(entry.section).unwrap().length();
    let round = (at - entry.at).0.div_euclid(length.0);
    (entry.at + length * (round + 1)).min(entry.until)
}

/// A song, what the player does in it and how long each thing takes, and how often the engine is
/// polled.
fn session() -> impl Strategy<Value = (Song, Vec<(i64, Deed)>, Ns)> {
    let script = prop::collection::vec((0i64..2500, deed()), 1..24);
    (song(), script, (3i64..40).prop_map(|step| step * MS))
}

fn play((song, script, step): (Song, Vec<(i64, Deed)>, Ns)) -> Judged {
    let mut session = Session::new(song, step);
    session.act(&Deed::Play);
    for (wait, deed) in &script {
        session.wait(*wait);
        session.act(deed);
    }
    session.wait(2000);
    session.act(&Deed::Stop);
    session.bench.command(Command::Panic);
    session.bench.check_wire();
    session.judged
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn song_and_player_move_controllers_as_the_rules_say(session in session()) {
        play(session);
    }
}

#[test]
fn song_and_player_meet_in_random_sessions() {
    let mut runner = TestRunner::deterministic();
    let mut total = Judged::default();
    for _ in 0..60 {
        let judged = play(session().new_tree(&mut runner).unwrap().current());
        total.all += judged.all;
        total.both_feet += judged.both_feet;
        total.hands += judged.hands;
        total.song += judged.song;
    }
    let Judged { all, both_feet, hands, song } = total;
    assert!(all > 100_000 && both_feet > 100 && hands > 1000 && song > 5000, "{total:?}");
}
