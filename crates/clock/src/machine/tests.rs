//! The machine on a simulated clock.

use super::*;
use chaconne_midi::{Channel, U14};
use chaconne_song::NoteId;
use chaconne_time::{TICKS_PER_QUARTER, pulse};
use std::collections::BTreeMap;

mod offsets;
mod orders;
mod ports;
mod properties;
mod serial;
mod time_codes;

const MS: Ns = 1_000_000;

/// A sink that records every message with the bench's time, and answers as the test tells it to.
#[derive(Debug)]
pub(super) struct Paper {
    pub now: Ns,
    pub log: Vec<Line>,
    pub answers: [Sent; 4],
    /// How many more messages each port takes before it is full.
    pub room: [usize; 4],
}

/// A recorded message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    pub port: u8,
    pub due: Ns,
    pub at: Ns,
    pub bytes: Vec<u8>,
}

impl Sink for Paper {
    fn send(&mut self, port: PortIx, due: Ns, bytes: &[u8]) -> Sent {
        let index = usize::from(port.0);
        if self.answers[index] != Sent::Done {
            return self.answers[index];
        }
        if self.room[index] == 0 {
            return Sent::Full;
        }
        self.room[index] -= 1;
        self.log.push(Line { port: port.0, due, at: self.now, bytes: bytes.to_vec() });
        Sent::Done
    }
}

/// A machine, its paper, and the time.
pub(super) struct Bench {
    pub machine: Machine,
    pub paper: Paper,
    pub now: Ns,
    /// How late the machine is woken at most.
    pub jitter: Ns,
    /// The deadline for which it will be woken, and when it will be woken.
    wake: Option<(Ns, Ns)>,
    seed: u64,
}

impl Bench {
    pub fn new(limits: Limits) -> Bench {
        Bench::with(limits, &[])
    }

    /// A bench with these services for its ports.
    pub fn with(limits: Limits, services: &[Service]) -> Bench {
        let meter = Arc::new(Meter::new((0..4).map(|port| format!("port {port}"))));
        Bench {
            machine: Machine::new(meter, limits, services),
            paper: Paper {
                now: 0,
                log: Vec::new(),
                answers: [Sent::Done; 4],
                room: [usize::MAX; 4],
            },
            now: 0,
            jitter: 0,
            wake: None,
            seed: 1,
        }
    }

    /// A bench that rolls from tick 0 at time 0, at 120 BPM.
    pub fn rolling() -> Bench {
        let mut bench = Bench::new(Limits { cues: 1024, voices: 256 });
        bench.order(Order::Roll { at: Tick(0), ns: 0, tempo: Tempo::DEFAULT, song: 0 });
        bench
    }

    pub fn order(&mut self, order: Order) {
        self.paper.now = self.now;
        self.machine.handle(self.now, order, &mut self.paper);
    }

    pub fn touch(&mut self, touch: Touch) {
        self.paper.now = self.now;
        self.machine.thru(self.now, ThruEvent { stamp: self.now, touch }, &mut self.paper);
    }

    /// Lets time pass until `to`, waking the machine at its deadlines, or up to `jitter` later.
    pub fn run(&mut self, to: Ns) {
        while let Some(deadline) = self.machine.next_deadline() {
            let at = self.wake_for(deadline);
            if at > to {
                break;
            }
            self.now = at;
            self.poll();
        }
        self.now = to;
    }

    /// When the machine will be woken for a deadline; always the same answer for one deadline.
    fn wake_for(&mut self, deadline: Ns) -> Ns {
        if let Some((asked, at)) = self.wake
            && asked == deadline
        {
            return at.max(self.now);
        }
        self.seed = self.seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        let late = (self.seed >> 33) as i64 % (self.jitter + 1);
        let at = deadline.max(self.now) + late;
        self.wake = Some((deadline, at));
        at
    }

    pub fn poll(&mut self) {
        self.paper.now = self.now;
        loop {
            self.machine.poll(self.now, &mut self.paper);
            // One poll may leave some of a long burst.
            if self.machine.next_deadline().is_none_or(|due| due > self.now) {
                break;
            }
        }
    }

    /// The messages sent since the last call, as hexadecimal words.
    pub fn words(&mut self) -> String {
        let hex =
            |line: &Line| line.bytes.iter().map(|byte| format!("{byte:02X}")).collect::<String>();
        let words: Vec<String> = self.paper.log.drain(..).map(|line| hex(&line)).collect();
        words.join(" ")
    }

    pub fn stats(&self) -> crate::Stats {
        self.machine.meter.stats()
    }

    /// Checks that nothing is sounding, in the key book or at a port.
    pub fn assert_silent(&self) {
        assert!(self.machine.wires.book.is_empty(), "voices in the key book");
        assert!(self.machine.is_silent(), "keys down at a port");
        assert_eq!(self.stats().sounding, 0);
        let left = (0..4).flat_map(|port| self.machine.sounding().releases(port)).count();
        assert_eq!(left, 0, "keys or pedals left to the last resort");
    }
}

pub(super) fn voice(note: u32) -> Voice {
    Voice { pass: Voice::NO_PASS, note: NoteId(note), cycle: Tick(0) }
}

pub(super) fn cue(at: i64, slot: u16, action: Action) -> Cue {
    Cue { at: Tick(at), slot: Slot(slot), epoch: 0, port: PortIx(0), action }
}

pub(super) fn press(at: i64, slot: u16, key: u8, note: u32) -> Cue {
    let (channel, key) = (Channel::default(), U7::low_bits(key));
    let action = Action::Press { channel, key, velocity: U7::low_bits(100), voice: voice(note) };
    cue(at, slot, action)
}

pub(super) fn lift(at: i64, slot: u16, key: u8, note: u32) -> Cue {
    let (channel, key) = (Channel::default(), U7::low_bits(key));
    cue(at, slot, Action::Lift { channel, key, velocity: U7::CENTRE, voice: voice(note) })
}

/// The order that keeps a voice in the new epoch.
pub(super) fn keep(slot: u16, key: u8, note: u32) -> Order {
    let (port, channel, key) = (PortIx(0), Channel::default(), U7::low_bits(key));
    let address = Address { port, channel, key };
    Order::Keep { slot: Slot(slot), voice: voice(note), address }
}

pub(super) fn change(at: i64, slot: u16, controller: u8, value: u8) -> Cue {
    let (controller, value) = (U7::low_bits(controller), U7::low_bits(value));
    let message = Message::Change { channel: Channel::default(), controller, value };
    cue(at, slot, Action::Send(message))
}

pub(super) fn clock(at: i64) -> Cue {
    cue(at, Slot::CLOCK.0, Action::Send(Message::Clock))
}

/// Checks that every key of each port is struck and released alternately, and released at the end.
pub(super) fn audit(log: &[Line]) -> Result<(), String> {
    let mut down: BTreeMap<(u8, u8, u8), bool> = BTreeMap::new();
    for (index, line) in log.iter().enumerate() {
        let (status, on) = match line.bytes[0] & 0xF0 {
            0x90 => (line.bytes[0] & 15, true),
            0x80 => (line.bytes[0] & 15, false),
            _ => continue,
        };
        let was = down.insert((line.port, status, line.bytes[1]), on).unwrap_or(false);
        if was == on {
            let state = if on { "down" } else { "up" };
            return Err(format!("message {index}: {line:02X?}, but the key is already {state}"));
        }
    }
    match down.iter().find(|(_, on)| **on) {
        Some((key, _)) => Err(format!("{key:?} is left sounding")),
        None => Ok(()),
    }
}
