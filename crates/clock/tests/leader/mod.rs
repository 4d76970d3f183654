//! A simulated leader, the cable from it, and an engine that follows it on simulated time.

use chaconne_clock::Follower;
use chaconne_engine::{
    Click, Command, Config, Engine, Follow, LeaderClock, Message, OnLoss, Status,
};
use chaconne_song::{Channel, Letter, Section, Song, Track, TrackId};
use chaconne_time::{Metre, MetreMap, Ns, Tempo, pulse};
use std::sync::Arc;

pub const MS: Ns = 1_000_000;
/// How often the engine is polled, unless the test says otherwise.
const TURN: Ns = 5 * MS;

/// The time from one pulse to the next at a tempo in BPM, in nanoseconds (MIDI 1.0: 24 pulses to the
/// quarter note).
fn period(tempo: f64) -> f64 {
    60e9 / tempo / 24.0
}

/// When the leader sends each pulse, in nanoseconds; pulse 0 is beat one.
pub struct Leader {
    pub pulses: Vec<f64>,
}

impl Leader {
    /// A leader with one tempo.
    pub fn steady(tempo: f64, count: i64) -> Leader {
        Leader::with(count, |_| tempo)
    }

    /// A leader with a tempo for each pulse.
    pub fn with(count: i64, tempo: impl Fn(i64) -> f64) -> Leader {
        let mut at = 1e9;
        let pulses = (0..count).map(|k| {
            let here = at;
            at += period(tempo(k));
            here
        });
        Leader { pulses: pulses.collect() }
    }

    fn tempo_at(&self, k: usize) -> f64 {
        let k = k.min(self.pulses.len() - 2);
        60e9 / 24.0 / (self.pulses[k + 1] - self.pulses[k])
    }
}

/// What happens to the pulses on the way.
#[derive(Debug, Clone, Copy)]
pub struct Link {
    pub seed: u64,
    /// Each pulse arrives up to this much early or late, in nanoseconds.
    pub jitter: Ns,
    /// How many pulses in 10,000 are lost.
    pub lost: u64,
    /// How many pulses in 10,000 arrive twice.
    pub doubled: u64,
    /// At how many pulses in 10,000 the machine stalls: that pulse and those after it arrive all at
    /// once when it continues.
    pub stalls: u64,
    /// The longest stall, in nanoseconds.
    pub stall: Ns,
}

impl Link {
    pub const CLEAN: Link = Link { seed: 1, jitter: 0, lost: 0, doubled: 0, stalls: 0, stall: 0 };
}

/// Evenly distributed random numbers, the same in every run.
pub struct Seeded(pub u64);

impl Seeded {
    pub fn below(&mut self, most: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (self.0 >> 33) % most.max(1)
    }
}

/// How well the engine followed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Report {
    /// The root mean square of the timeline's error at each pulse since it was locked, in ms.
    pub rms: f64,
    /// The worst of these errors, in ms.
    pub worst: f64,
    /// The pulse at which it was locked.
    pub locked_at: i64,
    /// The worst error of the tempo since then, in percent.
    pub worst_tempo: f64,
}

/// The follower, the engine and the time.
pub struct World {
    follower: Follower,
    pub engine: Engine,
    pub now: Ns,
    /// The messages on their way, each with the time at which it arrives.
    cable: Vec<(Ns, Message)>,
    /// Every message that the engine showed.
    pub said: Vec<String>,
    said_last: u64,
    turn: Ns,
}

pub fn song(bars: u32) -> Song {
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    // The song's own tempo must make no difference.
    let mut song =
        Song::new("follow", Section::new(Letter::A, metre, Tempo::from_micros(700_000).unwrap()));
    let mut track = Track::pitched(TrackId(1), "Keys");
    track.channel = Channel::from_number(1);
    song.tracks.push(Arc::new(track));
    song
}

impl World {
    pub fn new(on_loss: OnLoss) -> World {
        World::with_turn(on_loss, TURN)
    }

    pub fn with_turn(on_loss: OnLoss, turn: Ns) -> World {
        let follow = Some(Follow { name: "desk".into(), on_loss });
        let config = Config { follow, lookahead: 120 * MS, ..Config::default() };
        let mut engine = Engine::new(Arc::new(song(4)), config);
        engine.command(0, Command::Click(Click::CountIn)).unwrap();
        engine.command(0, Command::CountIn(0)).unwrap();
        let follower = Follower::new();
        World { follower, engine, now: 0, cable: Vec::new(), said: Vec::new(), said_last: 0, turn }
    }

    /// Sends Start and all of the leader's pulses.
    pub fn start(&mut self, leader: &Leader, link: Link) {
        self.send(leader.pulses[0] as Ns - 3 * MS, Message::Start);
        self.pulses(leader, link, 0..leader.pulses.len());
    }

    /// Sends some of the leader's pulses.
    pub fn pulses(&mut self, leader: &Leader, link: Link, which: std::ops::Range<usize>) {
        let mut seeded = Seeded(link.seed);
        let mut awake = Ns::MIN;
        for k in which {
            let mut jitter = || seeded.below(2 * link.jitter as u64 + 1) as Ns - link.jitter;
            let at = leader.pulses[k] as Ns;
            let (one, other) = (at + jitter(), at + jitter());
            if seeded.below(10_000) < link.stalls {
                awake = awake.max(one + seeded.below(link.stall as u64) as Ns);
            }
            let (one, other) = (one.max(awake), other.max(awake));
            // Pulse 0 is never lost, because the first pulse to arrive after Start is beat one.
            if k > 0 && seeded.below(10_000) < link.lost {
                continue;
            }
            self.send(one, Message::Clock);
            if seeded.below(10_000) < link.doubled {
                self.send(one.max(other), Message::Clock);
            }
        }
    }

    pub fn send(&mut self, at: Ns, message: Message) {
        self.cable.push((at, message));
        self.cable.sort_by_key(|(at, _)| *at);
    }

    pub fn status(&self) -> Status {
        self.engine.status(self.now)
    }

    pub fn clock(&self) -> LeaderClock {
        self.status().followed.unwrap().clock
    }

    /// Lets time pass; messages that arrive meanwhile are handed over at the end of a turn.
    pub fn to(&mut self, ns: Ns) {
        while self.now < ns {
            self.now = (self.now + self.turn).min(ns);
            let due = self.cable.partition_point(|(at, _)| *at <= self.now);
            for (at, message) in self.cable.drain(..due) {
                self.follower.handle(at, message);
                while let Some(lead) = self.follower.next_event() {
                    self.engine.lead(self.now, lead);
                }
            }
            self.follower.poll(self.now);
            while let Some(lead) = self.follower.next_event() {
                self.engine.lead(self.now, lead);
            }
            self.engine.poll(self.now);
            self.engine.take_orders().for_each(drop);
            let said = self.status().said;
            if said.0 != self.said_last {
                (self.said_last, _) = (said.0, self.said.push(said.1));
            }
        }
    }

    pub fn command(&mut self, command: Command) -> bool {
        self.engine.command(self.now, command).is_ok()
    }

    /// The error of the timeline at a pulse that was sent at `due`, in ms; negative if it is early.
    pub fn error(&self, pulse: i64, due: f64) -> f64 {
        let ns = self.engine.ns_at(pulse::tick_of(pulse)).expect("it rolls");
        (ns as f64 - due) / 1e6
    }

    /// Lets the leader play to its end, and measures the error at each pulse.
    pub fn play(&mut self, leader: &Leader) -> Report {
        self.play_from(leader, 0)
    }

    pub fn play_from(&mut self, leader: &Leader, from: usize) -> Report {
        let (mut squares, mut count) = (0.0, 0.0);
        let mut report = Report { locked_at: i64::MAX, ..Report::default() };
        for (k, &due) in leader.pulses.iter().enumerate().skip(from) {
            self.to(due as Ns + 8 * MS);
            let followed = self.status().followed.unwrap();
            if followed.clock == LeaderClock::Locked && report.locked_at == i64::MAX {
                report.locked_at = k as i64 - from as i64;
            }
            if report.locked_at < i64::MAX {
                let error = self.error(k as i64, due);
                squares += error * error;
                count += 1.0;
                report.worst = report.worst.max(error.abs());
                let tempo = 60e6 / f64::from(followed.tempo.unwrap().micros());
                let off = (tempo / leader.tempo_at(k) - 1.0).abs() * 100.0;
                report.worst_tempo = report.worst_tempo.max(off);
            }
        }
        report.rms = f64::sqrt(squares / f64::max(count, 1.0));
        report
    }
}
