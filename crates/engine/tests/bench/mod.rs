//! A virtual-time bench: one struct owns the player, the engine, the wire and the clock.
//!
//! It carries out orders as a scheduler must, on simulated time: what is due is sent before the next
//! order, and a new epoch drops what is queued under older ones.

#![allow(dead_code)]

use chaconne_engine::{
    Action, Address, Command, Config, Cue, Engine, Hand, Ledger, Message, Order, PortIx, Slot,
};
use chaconne_song::{Channel, Letter, Note, Pass, Section, Song, Track, TrackId, U7};
use chaconne_time::{Metre, MetreMap, Ns, Tempo, Tick, Timeline};
use std::collections::BTreeMap;
use std::sync::Arc;

pub const MS: Ns = 1_000_000;

/// The player, the engine, the wire and the clock.
pub struct Bench {
    pub engine: Engine,
    pub now: Ns,
    line: Option<Timeline>,
    queue: Vec<(Tick, u8, u64, Cue)>,
    count: u64,
    epochs: BTreeMap<Slot, u32>,
    pub ledger: Ledger,
    /// The messages that were sent, each with the tick at which it was due.
    pub wire: Vec<(Tick, Message)>,
    /// The port of each of them.
    pub ports: Vec<PortIx>,
    /// The system-exclusive messages that were sent, likewise.
    pub exclusive: Vec<(Tick, Arc<[u8]>)>,
    /// The time between polls of the engine.
    pub step: Ns,
    /// How far before the present each poll's moment is, so that rounds stay open for late input.
    pub grace: Ns,
}

/// A song of `bars` bars of four quarters, with this many pitched tracks.
pub fn song(bars: u32, tracks: u32) -> Song {
    let metre = MetreMap::new(bars, Metre::common()).unwrap();
    let mut song = Song::new("bench", Section::new(Letter::A, metre, Tempo::DEFAULT));
    for id in 1..=tracks {
        let mut track = Track::pitched(TrackId(id), &format!("Track {id}"));
        track.channel = Channel::from_number(id as u8);
        song.tracks.push(Arc::new(track));
    }
    song
}

impl Bench {
    pub fn new(song: Song) -> Bench {
        Bench::with(song, Config { lead: 0, ..Config::default() })
    }

    /// A bench whose port also gets pulses.
    pub fn leading(song: Song) -> Bench {
        let clock_ports = vec![PortIx(0)];
        Bench::with(song, Config { lead: 0, clock_ports, ..Config::default() })
    }

    pub fn with(song: Song, config: Config) -> Bench {
        let ports = config.ports.len();
        let mut bench = Bench {
            engine: Engine::new(Arc::new(song), config),
            now: 0,
            line: None,
            queue: Vec::new(),
            count: 0,
            epochs: BTreeMap::new(),
            ledger: Ledger::new(ports, 4096),
            wire: Vec::new(),
            ports: Vec::new(),
            exclusive: Vec::new(),
            step: 5 * MS,
            grace: 0,
        };
        bench.command(Command::CountIn(0));
        bench.command(Command::Click(chaconne_engine::Click::CountIn));
        bench.carry_out();
        bench
    }

    pub fn command(&mut self, command: Command) -> bool {
        let done = self.engine.command(self.now, command).is_ok();
        self.carry_out();
        done
    }

    /// A tap that was made at an earlier moment.
    pub fn tap(&mut self, at: Ns) -> bool {
        let done = self.engine.tapped(self.now, at, None).is_ok();
        self.carry_out();
        done
    }

    /// Lets time pass up to a moment.
    pub fn run_to(&mut self, ns: Ns) {
        while self.now < ns {
            self.now = (self.now + self.step).min(ns);
            self.engine.poll(self.now - self.grace);
            self.carry_out();
            self.send_due();
        }
    }

    /// Lets time pass up to a transport tick. A fermata on the way ends at once.
    pub fn to(&mut self, tick: i64) {
        while let Some(at) = self.engine.tick_at(self.now) {
            if at >= Tick(tick) {
                break;
            }
            if self.engine.status(self.now).waits.is_some() {
                self.tap(self.now);
                continue;
            }
            let goal = self.engine.ns_at(Tick(tick)).unwrap_or(self.now);
            self.run_to(goal.min(self.now + self.step).max(self.now + 1));
        }
    }

    pub fn input(&mut self, message: Message) {
        self.engine.input(self.now, 0, message.into());
        self.take_in();
    }

    /// Polls the engine after an input.
    fn take_in(&mut self) {
        self.engine.poll(self.now - self.grace);
        self.carry_out();
    }

    /// A bench that leaves rounds open for late input: they are closed `grace` after their seam.
    pub fn with_grace(song: Song, grace: Ns) -> Bench {
        let lookahead = Config::default().lookahead + grace;
        let bench = Bench::with(song, Config { lead: 0, lookahead, ..Config::default() });
        Bench { grace, ..bench }
    }

    /// A note that was played at a tick and arrives only now.
    pub fn late_note(&mut self, tick: i64, length: i64, key: u8) {
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::low_bits(99));
        let on = Message::NoteOn { channel, key, velocity };
        let off = Message::NoteOff { channel, key, velocity };
        for (tick, message) in [(tick, on), (tick + length, off)] {
            let stamp = self.engine.ns_at(Tick(tick)).expect("rolling");
            self.engine.input(stamp, 0, message.into());
        }
        self.take_in();
    }

    /// A message that was played at an earlier moment and arrives now.
    pub fn late_input(&mut self, stamp: Ns, message: Message) {
        self.engine.input(stamp, 0, message.into());
        self.take_in();
    }

    pub fn press(&mut self, tick: i64, key: u8) {
        self.to(tick);
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::low_bits(99));
        self.input(Message::NoteOn { channel, key, velocity });
    }

    pub fn lift(&mut self, tick: i64, key: u8) {
        self.to(tick);
        let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::low_bits(50));
        self.input(Message::NoteOff { channel, key, velocity });
    }

    pub fn change(&mut self, tick: i64, controller: u8, value: u8) {
        self.to(tick);
        let (controller, value) = (U7::low_bits(controller), U7::low_bits(value));
        self.input(Message::Change { channel: Channel::default(), controller, value });
    }

    /// Polls the engine now, and sends what is due.
    pub fn turn(&mut self) {
        self.take_in();
        self.send_due();
    }

    /// A controller that the player moves: `played` is what arrives, and `sent` what goes through to a
    /// port at once.
    pub fn touch(&mut self, played: Message, port: PortIx, sent: Message) {
        let sent = self.ledger.resolve(port, sent, Hand::Live);
        self.write(self.here(), sent.into_iter().map(|sent| (port, sent)).collect());
        self.input(played);
    }

    fn carry_out(&mut self) {
        let orders: Vec<Order> = self.engine.take_orders().collect();
        for order in orders {
            self.send_due();
            let here = self.here();
            let mut sent = Vec::new();
            let mut emit = |port: PortIx, message: Message| sent.push((port, message));
            match order {
                Order::Roll { at, ns, tempo, .. } => self.line = Some(Timeline::new(at, ns, tempo)),
                Order::Tempo { at, tempo } => {
                    self.line.as_mut().expect("rolling").push(at, tempo);
                }
                Order::Hold { at } => self.line.as_mut().expect("rolling").hold(at),
                Order::Go { at, ns, tempo } => {
                    self.line.as_mut().expect("rolling").go(at, ns, tempo);
                }
                Order::Play(cue) => {
                    self.count += 1;
                    self.queue.push((cue.at, cue.rank(), self.count, cue));
                }
                Order::Revise { slot, epoch } => {
                    self.epochs.insert(slot, epoch);
                    self.queue.retain(|(.., cue)| cue.slot != slot);
                    self.ledger.revise(slot);
                }
                Order::Keep { slot, voice, address } => {
                    self.ledger.keep(slot, voice, address);
                }
                Order::Settle { slot } => self.ledger.settle(slot, &mut emit),
                Order::Now { port, message } => emit(port, message),
                Order::Halt => {
                    self.queue.clear();
                    self.ledger.halt(&mut emit);
                    self.line = None;
                }
                Order::Silence => self.ledger.silence(&mut emit),
            }
            self.write(here, sent);
        }
    }

    fn write(&mut self, at: Tick, sent: Vec<(PortIx, Message)>) {
        self.ports.extend(sent.iter().map(|(port, _)| *port));
        self.wire.extend(sent.into_iter().map(|(_, message)| (at, message)));
    }

    fn here(&self) -> Tick {
        self.line.as_ref().map_or(Tick(-1), |line| line.tick_at(self.now))
    }

    fn send_due(&mut self) {
        // While stopped, everything is due at once.
        let here = self.line.as_ref().map_or(Tick::MAX, |line| line.tick_at(self.now));
        self.queue.sort_by_key(|(at, rank, count, _)| (*at, *rank, *count));
        let due = self.queue.partition_point(|(at, ..)| *at <= here);
        let cues: Vec<Cue> = self.queue.drain(..due).map(|(.., cue)| cue).collect();
        for cue in cues {
            let wanted = self.epochs.get(&cue.slot).copied().unwrap_or(0);
            assert_eq!(cue.epoch, wanted, "a cue of an old epoch was ordered after the new one");
            let mut sent = Vec::new();
            let mut emit = |port: PortIx, message: Message| sent.push((port, message));
            let (port, slot) = (cue.port, cue.slot);
            match cue.action {
                Action::Press { channel, key, velocity, voice } => {
                    let address = Address { port, channel, key };
                    self.ledger.press(address, velocity, slot, voice, &mut emit);
                }
                Action::Lift { channel, key, velocity, voice } => {
                    let address = Address { port, channel, key };
                    self.ledger.lift(address, velocity, slot, voice, &mut emit);
                }
                Action::Send(message) => {
                    if let Some(message) = self.ledger.resolve(port, message, Hand::Song) {
                        emit(port, message);
                    }
                }
                Action::SysEx(bytes) => self.exclusive.push((cue.at, bytes)),
            }
            self.write(cue.at, sent);
        }
    }

    /// What was sent from one tick up to another: + note-on, - note-off, c controller.
    pub fn heard(&self, from: i64, to: i64) -> String {
        let inside = self.wire.iter().filter(|(at, _)| Tick(from) <= *at && *at < Tick(to));
        let words = inside.map(|(at, message)| match message {
            Message::NoteOn { key, .. } => format!("{}+{key}", at.0),
            Message::NoteOff { key, .. } => format!("{}-{key}", at.0),
            Message::Change { controller, value, .. } => format!("{}c{controller}={value}", at.0),
            other => format!("{}{other:?}", at.0),
        });
        words.collect::<Vec<_>>().join(" ")
    }

    /// The passes of the first section as start, length and key of each note.
    pub fn passes(&self) -> Vec<Vec<(i64, i64, u8)>> {
        let spell =
            |note: &Note| (note.played.start.0, note.played.length.0, note.played.key.get());
        let pass = |pass: &&Arc<Pass>| pass.notes().iter().map(spell).collect();
        self.engine.song().passes_in(&self.engine.song().sections[0]).iter().map(pass).collect()
    }

    /// Checks that every key that was struck was released once, and none was struck while it was down.
    pub fn check_wire(&self) {
        let mut down: BTreeMap<(PortIx, Channel, U7), bool> = BTreeMap::new();
        for ((at, message), port) in self.wire.iter().zip(&self.ports) {
            match *message {
                Message::NoteOn { channel, key, .. } => {
                    let was = down.insert((*port, channel, key), true).unwrap_or(false);
                    assert!(!was, "key {key} struck while down at {}", at.0);
                }
                Message::NoteOff { channel, key, .. } => {
                    let was = down.insert((*port, channel, key), false).unwrap_or(false);
                    assert!(was, "key {key} released while up at {}", at.0);
                }
                _ => {}
            }
        }
        assert!(self.ledger.is_empty(), "the ledger is not empty");
        assert!(down.values().all(|down| !down), "a key hangs");
    }
}
